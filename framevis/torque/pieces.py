"""Which pieces lie in the machine: every fitted shim laid out of the stock's thicknesses, the fewest pieces in all.

Takes the thickness fitted at each spot and the stock, gives the pieces of each thickness, or what can't be laid.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from framevis.frame import ShimStock

MOST_WAYS = 2000  # of laying one thickness that are looked at, those with the fewest pieces first
Way = tuple[int, ...]  # pieces of each thickness of the stock


@dataclass(frozen=True)
class Laid:
    """`unreachable`: thicknesses (µm) that the stock can't lay in its layers; `used`: pieces of each thickness of the
    stock, None where the counts don't reach for all spots together."""

    unreachable: tuple[float, ...]
    used: tuple[int, ...] | None


def lay(fitted_um: Iterable[float], stock: ShimStock) -> Laid:
    """Lay every spot's thickness out of the stock (whose counts include what is already fitted)."""
    spots = Counter(round(thickness, 1) for thickness in fitted_um)
    ways = {thickness: ways_to_lay(thickness, stock) for thickness in sorted(spots)}
    missing = tuple(thickness for thickness, found in ways.items() if not found)
    if missing:
        return Laid(missing, None)
    if not spots:
        return Laid((), (0,) * len(stock.thickness_um))
    return Laid((), _fewest([(ways[thickness], spots[thickness]) for thickness in ways], stock))


def ways_to_lay(thickness_um: float, stock: ShimStock) -> list[Way]:
    """Every way of laying a thickness in at most `max_layers` pieces, the fewest pieces first, to 0.1 µm."""
    sizes = [round(10 * size) for size in stock.thickness_um]
    found: list[Way] = []
    for layers in range(1, stock.max_layers + 1):
        for way in _ways(round(10 * thickness_um), layers, sizes):
            found.append(way)
            if len(found) == MOST_WAYS:
                return found
    return found


def _ways(rest: int, layers: int, sizes: list[int]) -> Iterator[Way]:
    """Ways of laying `rest` with exactly so many pieces of these sizes (tenths of a µm)."""
    size, *others = sizes
    if not others:
        if rest == layers * size:
            yield (layers,)
        return
    low, high = min(others), max(others)
    for count in range(min(layers, rest // size), -1, -1):
        left, pieces = rest - count * size, layers - count
        if pieces * low <= left <= pieces * high:
            yield from ((count, *way) for way in _ways(left, pieces, others))


def _fewest(groups: list[tuple[list[Way], int]], stock: ShimStock) -> tuple[int, ...] | None:
    """Pieces of each thickness in the arrangement of all spots with the fewest; None where none keeps to the counts.

    An integer programme (HiGHS): how many spots of a group are laid in each of its ways.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    columns = np.array([way for ways, _ in groups for way in ways], dtype=np.float64).T
    owner = np.repeat(np.arange(len(groups)), [len(ways) for ways, _ in groups])
    spots = np.array([number for _, number in groups], dtype=np.float64)
    rules = [LinearConstraint((owner == np.arange(len(groups))[:, None]).astype(np.float64), spots, spots)]
    if stock.count is not None:
        rules.append(LinearConstraint(columns, -np.inf, np.array(stock.count, dtype=np.float64)))
    answer = milp(
        columns.sum(axis=0),
        integrality=np.ones(owner.size, dtype=np.int64),
        bounds=Bounds(0.0, np.inf),
        constraints=rules,
    )
    if answer.x is None:
        return None
    return tuple(int(number) for number in np.rint(columns @ np.rint(answer.x)))
