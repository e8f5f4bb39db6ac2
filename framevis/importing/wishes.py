"""What the user says about a file to import; what isn't said is found out."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from framevis.errors import BadInput, problem

MOST_COLUMNS = 20


@dataclass(frozen=True)
class Wishes:
    """Columns by heading or number (from 1), units as words; `start`, `step` in the station's unit, for a file that
    has readings only; `reverse`: stations count from the beam's end."""

    station: str | None = None
    readings: tuple[str, ...] = ()
    unit: str | None = None
    station_unit: str | None = None
    decimal: str | None = None
    reverse: bool = False
    start: float | None = None
    step: float | None = None

    def check(self) -> None:
        """Raise where what is said can't be meant."""
        if self.step is not None and self.start is None:
            raise BadInput(problem("--step", "goes with --start", "give the first station too"))
        if self.start is not None and self.station is not None:
            raise BadInput(problem("--start", "goes not with --station", "give the one or the other"))
        if self.step == 0.0 or not all(isfinite(each) for each in (self.start or 0.0, self.step or 0.0)):
            raise BadInput(problem("--step", "is no step from station to station", "give first station and step"))
        if len(self.readings) > MOST_COLUMNS:
            raise BadInput(problem("--reading", "is given too often", f"name at most {MOST_COLUMNS} columns"))
