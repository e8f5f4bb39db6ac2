"""The order of the work: which sweep comes when, and under which heading.

Takes a frame; gives its sweeps as they are best taken: each beam before what it carries; twist, heights, spacing.
"""

from __future__ import annotations

from framevis.frame import Beam, Frame, PullSweep
from framevis.sheets.stations import AnySweep

STEPS = ("Twist", "Opening", "Heights", "Sideways", "Block tops", "Pull")
HEIGHTS = 2
RANK = {"level_across": 0, "mouth": 1, "level_along": 2, "gap": 4}


def in_order(frame: Frame) -> tuple[AnySweep, ...]:
    """All sweeps of a frame in the order of the work."""
    listed: list[AnySweep] = [*frame.sweeps, *frame.pulls]

    def place(item: tuple[int, AnySweep]) -> tuple[int, int, int, int]:
        number, sweep = item
        return _level(frame, beam_of(sweep)), rank(sweep), _after_the_master(frame, sweep), number

    return tuple(sweep for _, sweep in sorted(enumerate(listed), key=place))


def beam_of(sweep: AnySweep) -> Beam:
    """The beam along which stations count."""
    return sweep.carriage.beam if isinstance(sweep, PullSweep) else sweep.station_beam


def rank(sweep: AnySweep) -> int:
    """The place of its step in `STEPS`."""
    if isinstance(sweep, PullSweep):
        return 5
    return RANK.get(sweep.kind, 2 if sweep.direction == "height" else 3)


def _after_the_master(frame: Frame, sweep: AnySweep) -> int:
    """0 for a master rail by itself, 1 for other rails, 2 for what goes from one rail to another."""
    if isinstance(sweep, PullSweep) or rank(sweep) < HEIGHTS:
        return 0
    if len(sweep.rails) > 1:
        return 2
    return 0 if any(rail.name in frame.masters for rail in sweep.rails) else 1


def _level(frame: Frame, beam: Beam) -> int:
    """How many carriages carry a beam, one above the other."""
    under = (frame.carriage(name).beam for name in beam.carried_by)
    return max((1 + _level(frame, each) for each in under), default=0)
