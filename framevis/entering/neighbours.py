"""Whether a reading fits those before it, so that a slip is asked about while the stylus still stands there.

Takes what was read so far on this way (and on the way out), the instrument's u; gives what was to be expected.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt
from statistics import median

WIDE = 3.5  # standard deviations, as for the readings that are set aside later
NORMAL_MEDIAN = 0.6745  # of the absolute value of a standard normal
LEAST_BEFORE = 3
MOST_TRIPLES = 5
RETURN_FLOOR_UM = 10.0  # common practice: a return may differ by 10 µm and is still a good run


@dataclass(frozen=True)
class Point:
    station: float
    value: float


@dataclass(frozen=True)
class Expected:
    """What a reading should be, and by how much it may differ without a question."""

    value: float
    within: float

    def fits(self, value: float) -> bool:
        return abs(value - self.value) <= self.within


def expected(
    station: float, u: float, here: Sequence[Point], out: Sequence[Point] = (), floor: float = 0.0
) -> tuple[Expected, ...]:
    """What neighbours say of a station: a reading that agrees with none of these is worth a question.

    `here`: the readings of this way in the order in which they were taken; `out`: those of the way out, on the way
    back; `floor`: the least difference worth a question there. Empty: too little is known.
    """
    returned = _from_return(station, u, here, out, floor)
    if returned is not None:
        return (returned,)
    if len(here) < LEAST_BEFORE:
        return ()
    curves = _curvatures(here)
    last = here[-3:]
    pairs = ((last[1], last[2]), (last[0], last[2]), (last[0], last[1]))  # one bad neighbour spoils two of them
    return tuple(_carried_on(station, u, a, b, curves) for a, b in pairs if a.station != b.station)


def _from_return(
    station: float, u: float, here: Sequence[Point], out: Sequence[Point], floor: float
) -> Expected | None:
    """The way back should say what the way out said, plus what has drifted since."""
    before = {point.station: point.value for point in out}
    if station not in before:
        return None
    drifts = [point.value - before[point.station] for point in here[-3:] if point.station in before]
    drift = median(drifts) if drifts else 0.0
    return Expected(before[station] + drift, max(WIDE * sqrt(3.0) * u, floor))


def _carried_on(station: float, u: float, a: Point, b: Point, curves: Sequence[float]) -> Expected:
    """Two readings carried on with the curvature so far; its uncertainty by GUM 5.1.2 from those of the readings."""
    ratio = (station - b.station) / (b.station - a.station)
    area = (station - b.station) * (station - a.station)
    curve = median(curves) if curves else 0.0
    spread = median(abs(each - curve) for each in curves) / NORMAL_MEDIAN if curves else 0.0
    noise = u * sqrt((1.0 + (1.0 + ratio) ** 2 + ratio**2) * (1.0 + 1.0 / max(len(curves), 1)))
    value = b.value + ratio * (b.value - a.value) + curve * area
    return Expected(value, WIDE * hypot(noise, spread * area))


def _curvatures(points: Sequence[Point]) -> list[float]:
    """Second divided differences over the last triples of neighbours: the rail's own bend, and its unevenness."""
    found = []
    for a, b, c in zip(points, points[1:], points[2:], strict=False):
        if len({a.station, b.station, c.station}) == 3:
            slope = (b.value - a.value) / (b.station - a.station)
            miss = c.value - b.value - slope * (c.station - b.station)
            found.append(miss / ((c.station - b.station) * (c.station - a.station)))
    return found[-MOST_TRIPLES:]
