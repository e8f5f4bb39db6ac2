"""A plan in runs: neighbouring screws at which the same is done, as one line in the order of work; and its pieces.

Takes a plan, gives records and words for pictures and page.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from framevis.frame import BlockSpot, Frame, Part, RailSpot
from framevis.plan import Fitting, Plan, RailPush
from framevis.say import printable, small, thickness
from framevis.units import UM_PER_UNIT

EDGES: dict[Part, str] = {"full": "full width", "left": "left edge", "right": "right edge"}
Pieces = tuple[tuple[float, int], ...]  # thickness (µm) and how many


@dataclass(frozen=True)
class Run:
    """Fittings with equal layers at neighbouring screws of one rail's edge, or one at a block."""

    fittings: tuple[Fitting, ...]

    @property
    def first(self) -> Fitting:
        return self.fittings[0]

    @property
    def screws(self) -> tuple[int, int]:
        """Lowest and highest screw; of a block (0, 0)."""
        all_of_them = [f.spot.screw for f in self.fittings if isinstance(f.spot, RailSpot)] or [0]
        return min(all_of_them), max(all_of_them)

    @property
    def is_thinner(self) -> bool:
        """Whether less lies there afterwards than now."""
        return thinner(self.first)


@dataclass(frozen=True)
class PushRun:
    """Neighbouring screws at which a rail is pushed the same way."""

    pushes: tuple[RailPush, ...]

    @property
    def rail(self) -> str:
        return self.pushes[0].rail

    @property
    def screws(self) -> tuple[int, int]:
        return min(p.screw for p in self.pushes), max(p.screw for p in self.pushes)

    @property
    def largest_um(self) -> float:
        """With its sign: plus is left."""
        return max((p.push_um for p in self.pushes), key=abs)


def thinner(fitting: Fitting) -> bool:
    return fitting.total_um < sum(fitting.now_um)


def runs(fittings: Iterable[Fitting]) -> list[Run]:
    """In the order of work; edges done in turn (left, right, left, …) are still a run each."""
    made: list[list[Fitting]] = []
    latest: dict[tuple[str, Part], list[Fitting]] = {}
    for fitting in fittings:
        spot = fitting.spot
        if isinstance(spot, BlockSpot):
            made.append([fitting])
            continue
        before = latest.get((spot.rail, spot.part))
        if before is not None and _follows(before[-1], fitting):
            before.append(fitting)
        else:
            made.append([fitting])
            latest[spot.rail, spot.part] = made[-1]
    return [Run(tuple(members)) for members in made]


def _follows(last: Fitting, fitting: Fitting) -> bool:
    same = last.layers_um == fitting.layers_um and last.now_um == fitting.now_um
    neighbours = isinstance(last.spot, RailSpot) and isinstance(fitting.spot, RailSpot)
    return same and neighbours and abs(last.spot.screw - fitting.spot.screw) == 1  # type: ignore[union-attr]


def push_runs(pushes: Iterable[RailPush]) -> list[PushRun]:
    made: list[list[RailPush]] = []
    for push in pushes:
        last = made[-1][-1] if made else None
        same = last is not None and last.rail == push.rail and last.push_um * push.push_um > 0.0
        if last is not None and same and abs(last.screw - push.screw) == 1:
            made[-1].append(push)
        else:
            made.append([push])
    return [PushRun(tuple(members)) for members in made]


def layers_said(frame: Frame, layers_um: Sequence[float]) -> str:
    """40 + 20 µm; "none" where nothing lies."""
    *others, last = layers_um or (0.0,)
    if not layers_um:
        return "none"
    return " + ".join([*(thickness(frame, um).split(" ")[0] for um in others), thickness(frame, last)])


def screws_said(screws: tuple[int, int]) -> str:
    low, high = screws
    return f"{low}" if low == high else f"{low}–{high}"


def where(run: Run) -> tuple[str, str, str]:
    """What it lies under, at which screws (nothing for a block), and at which edge."""
    spot = run.first.spot
    if isinstance(spot, BlockSpot):
        return f"{printable(spot.carriage)}/{printable(spot.block)}", "", EDGES[spot.part]
    return printable(spot.rail), screws_said(run.screws), EDGES[spot.part]


def todo(frame: Frame, run: Run) -> str:
    """What is done at each spot of a run, in words."""
    fitting = run.first
    if not fitting.now_um:
        return layers_said(frame, fitting.layers_um)
    if not fitting.layers_um:
        return f"take out {layers_said(frame, fitting.now_um)}"
    return f"{layers_said(frame, fitting.layers_um)} in place of {layers_said(frame, fitting.now_um)}"


def push_said(frame: Frame, push_um: float) -> str:
    return f"{small(frame, abs(push_um))} {'left' if push_um > 0.0 else 'right'}"


def pieces(fittings: Iterable[Fitting]) -> tuple[Pieces, Pieces]:
    """Pieces to put in and pieces to take out, thickest last."""
    put, out = Counter[float](), Counter[float]()
    for fitting in fittings:
        then, now = Counter(fitting.layers_um), Counter(fitting.now_um)
        put += then - now
        out += now - then
    return tuple(sorted(put.items())), tuple(sorted(out.items()))


def pieces_said(frame: Frame, counted: Pieces) -> str:
    """36 pieces (16 × 10 µm, 20 × 20 µm)."""
    total = sum(many for _, many in counted)
    each = ", ".join(f"{many} × {thickness(frame, um)}" for um, many in counted)
    return f"{total} {'piece' if total == 1 else 'pieces'} ({each})"


def legend_lines(frame: Frame, plan: Plan) -> list[str]:
    """Shims to fit, shims to take out, screws at which rails are pushed: a line each where there are any."""
    put, out = pieces(plan.fittings)
    said = [f"Shims to fit: {pieces_said(frame, put)}"] if put else []
    if out:
        said.append(f"Shims to take out: {pieces_said(frame, out)}")
    for rail in dict.fromkeys(push.rail for push in plan.pushes):
        those = [push for push in plan.pushes if push.rail == rail]
        largest = max(those, key=lambda push: abs(push.push_um)).push_um
        at = f"{len(those)} screws" if len(those) > 1 else f"screw {those[0].screw}"
        said.append(f"Rail {printable(rail)} to be pushed at {at}, at most {push_said(frame, largest)}")
    return said or ["Nothing to shim or push"]


def proof(frame: Frame, plan: Plan) -> str:
    """How good the plan is: the worst block before and after, and what no plan can better."""
    before, after = (_fine(frame, um) for um in plan.worst_um)
    line = f"Balls of the worst block pressed in {before} off (root mean square) before, {after} after"
    if plan.optimal:
        return f"{line}: proven the best that these shims can do, in the fewest pieces."
    return f"{line}; proven: no plan comes below {_fine(frame, plan.bound_um)}; the gap is not closed."


def _fine(frame: Frame, um: float) -> str:
    return f"{um:.1f} µm" if frame.length_unit == "mm" else f"{um / UM_PER_UNIT['thou']:.2f} thou"
