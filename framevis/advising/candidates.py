"""Readings that could be taken next: one further reading, a whole sweep again, a sweep not taken yet, a new sweep.

Takes a study, gives for each of them what its readings would see, with their noise and what they leave open.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from framevis.advice import not_taken, taken_whole
from framevis.advising.new_sweeps import new_sweeps
from framevis.frame import Floats, Sweep, SweepReadings
from framevis.further import Further, design_of, further, own_columns
from framevis.study import Study

How = Literal["one more", "again", "not taken", "new"]


@dataclass(frozen=True, eq=False)
class Candidate:
    """Readings that could be taken: `sweeps` together, all their stations or one at `station_mm`.

    `how`: one more reading of a sweep that was taken, all of it again, one that frame.toml names and that was not
    taken, one that frame.toml doesn't name. `seen` with the noise of the readings themselves.
    """

    sweeps: tuple[Sweep, ...]
    how: How
    station_mm: float | None
    seen: Further

    @property
    def readings(self) -> int:
        return len(self.seen.level)


def candidates(study: Study, wanted: Floats) -> list[Candidate]:
    """All readings that could be taken. `wanted` (K, size): what is in doubt, each to be known as well as may be by
    single readings."""
    found: list[Candidate] = []
    for solved in study.posterior.groups:
        for readings in solved.reduced.rows.sweeps:
            found += _once_more(study, readings, wanted)
            found.append(_again(study, readings))
    found += [Candidate(sweeps, "not taken", None, taken_whole(study, sweeps)) for sweeps in not_taken(study)]
    return found + [Candidate(sweeps, "new", None, taken_whole(study, sweeps)) for sweeps in new_sweeps(study.frame)]


def _once_more(study: Study, readings: SweepReadings, wanted: Floats) -> Iterator[Candidate]:
    """One more reading of a sweep, at each station where that tells most of something wanted."""
    stations = np.unique(readings.station_mm)
    design = design_of(study.posterior.layout, readings.sweep, stations)
    more = further(study.posterior, design, own_columns(readings, study.readings.sweeps, stations))
    noise = more.noise + readings.sweep.u**2 * np.eye(stations.size)
    shared = study.posterior.covariance(more.design, wanted)
    drop = shared**2 / (study.posterior.variance(more.design) + np.diag(noise))[:, None]
    for i in np.unique(np.argmax(drop, axis=0)):
        one = slice(i, i + 1)
        seen = Further(more.design[one], more.level[one], noise[one, one], np.zeros((1, 0)))
        yield Candidate((readings.sweep,), "one more", float(stations[i]), seen)


def _again(study: Study, readings: SweepReadings) -> Candidate:
    """A sweep read again at all its stations, the instrument left as it was set."""
    stations = np.unique(readings.station_mm)
    design = design_of(study.posterior.layout, readings.sweep, stations)
    more = further(study.posterior, design, own_columns(readings, study.readings.sweeps, stations))
    noise = more.noise + readings.sweep.u**2 * np.eye(stations.size)
    return Candidate((readings.sweep,), "again", None, Further(more.design, more.level, noise, more.own))
