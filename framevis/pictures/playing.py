"""The carriage that travels by itself: to and fro over its whole travel at an even pace."""

from __future__ import annotations

from framevis.pictures.travel import Group

THERE_S = 9.0  # from one end to the other
MOST_STEP_S = 0.25  # after a slow frame the carriage doesn't jump


class Play:
    """Where the travelling group goes next."""

    def __init__(self) -> None:
        self.way = 1.0

    def next(self, group: Group, leader_mm: float, seconds: float) -> float:
        """The leader's position after some time; it turns round at the ends."""
        low, high = group.range_mm
        step = (high - low) / THERE_S * min(seconds, MOST_STEP_S)
        to = leader_mm + self.way * step
        if to >= high or to <= low:
            self.way = -1.0 if to >= high else 1.0
        return min(max(to, low), high)
