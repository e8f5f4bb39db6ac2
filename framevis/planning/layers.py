"""The box of shims as arithmetic: which piece sizes there are, how many, and how heights are layered from them.

Thickness in µm. Layers are whole pieces; those that already lie in the machine came out of the same box. At one site
(a rail's screw, a block) pieces lie under the whole width (`full`) or under one edge (`left`, `right`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import combinations_with_replacement, product

from framevis.frame import Part, ShimStock

Layers = tuple[float, ...]  # thickest first
WAYS = 4  # of layering one pair of heights that are looked at, where the box has few pieces of a size
MOST_FITTED = 20  # layers that are looked for in a thickness that was fitted


@dataclass(frozen=True)
class Laid:
    """The pieces at one site."""

    full: Layers = ()
    left: Layers = ()
    right: Layers = ()

    @cached_property
    def heights(self) -> tuple[float, float]:
        """Height under the left and under the right edge, µm."""
        return _um(sum(self.full) + sum(self.left)), _um(sum(self.full) + sum(self.right))

    @cached_property
    def pieces(self) -> Layers:
        return (*self.full, *self.left, *self.right)

    @property
    def effort(self) -> tuple[int, int]:
        """Pieces, then spots."""
        return len(self.pieces), sum(map(bool, (self.full, self.left, self.right)))

    @property
    def parts(self) -> tuple[tuple[Part, Layers], ...]:
        return ("full", self.full), ("left", self.left), ("right", self.right)


NOTHING = Laid()


@dataclass(frozen=True)
class Box:
    """Piece sizes, thickest first, and how many there are of each, the fitted ones included (None: no limit)."""

    sizes_um: tuple[float, ...]
    count: tuple[int | None, ...]
    max_layers: int
    max_step_um: float

    @staticmethod
    def of(stock: ShimStock, fitted_um: Iterable[float] = ()) -> Box:
        """The box of a frame. A fitted thickness that can't be layered from it is a piece of its own size."""
        counts: Iterable[int | None] = stock.count or [None] * len(stock.thickness_um)
        pieces: dict[float, int | None] = dict(zip(stock.thickness_um, counts, strict=True))
        for total in fitted_um:
            if not layered(total, stock.thickness_um):
                pieces[total] = (pieces.get(total) or 0) + 1
        sizes = sorted(pieces, reverse=True)
        return Box(tuple(sizes), tuple(pieces[size] for size in sizes), stock.max_layers, stock.max_step_um)

    @cached_property
    def decompositions(self) -> dict[float, tuple[Layers, ...]]:
        """Every thickness that can be layered, 0 included, with all its layers, the fewest pieces first."""
        found: dict[float, list[Layers]] = {}
        for number in range(self.max_layers + 1):
            for layers in combinations_with_replacement(self.sizes_um, number):
                found.setdefault(_um(sum(layers)), []).append(layers)
        return {total: tuple(ways) for total, ways in sorted(found.items())}

    @cached_property
    def levels_um(self) -> tuple[float, ...]:
        """All thicknesses that can be layered, 0 first."""
        return tuple(self.decompositions)

    def laid(self, left_um: float, right_um: float) -> tuple[Laid, ...]:
        """The ways to have these heights under both edges, the least effort first; none where it can't be."""
        return _ways(self, _um(left_um), _um(right_um))


@lru_cache(maxsize=100_000)
def _ways(box: Box, left_um: float, right_um: float) -> tuple[Laid, ...]:
    found: dict[tuple[float, ...], Laid] = {}
    for under, fulls in box.decompositions.items():
        rest = (_um(left_um - under), _um(right_um - under))
        for full, left, right in product(fulls, *(box.decompositions.get(height, ()) for height in rest)):
            if len(full) + max(len(left), len(right)) <= box.max_layers:
                way = Laid(full, left, right)
                used = tuple(sorted(way.pieces))
                if used not in found or way.effort < found[used].effort:
                    found[used] = way
    ways = sorted(found.values(), key=lambda way: way.effort)
    return tuple(ways[: 1 if all(count is None for count in box.count) else WAYS])


def layered(total_um: float, sizes_um: Iterable[float]) -> Layers:
    """A thickness as the fewest pieces, thickest first; empty where it can't be had from these sizes."""
    reached: dict[float, Layers] = {0.0: ()}
    for _ in range(MOST_FITTED):
        if total_um in reached:
            break
        longer = {
            _um(below + size): tuple(sorted((*layers, size), reverse=True))
            for below, layers in reached.items()
            for size in sizes_um
            if below + size <= total_um + 1e-6
        }
        reached = longer | reached
    return reached.get(_um(total_um), ())


def _um(value: float) -> float:
    """Without what adding decimal fractions leaves behind."""
    return round(value, 6)
