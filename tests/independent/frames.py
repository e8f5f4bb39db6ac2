"""Random frames with all their readings, as stages in memory."""

from __future__ import annotations

import numpy as np

from framevis.deviations import Layout
from framevis.estimate import Posterior, estimate
from framevis.frame import Frame, Stage, SweepReadings
from framevis.rail_shims import known_functions
from machines import Readings, measure, rough


def stage_of(frame: Frame, readings: Readings) -> Stage:
    """The sweeps that were read, in the frame's order, with the uncertainties that it states."""
    taken = []
    for sweep in frame.sweeps:
        if sweep.name in readings:
            s, values = readings[sweep.name]
            order, lines = np.arange(s.size, dtype=float), tuple(range(2, s.size + 2))
            taken.append(SweepReadings(sweep, s, values, np.full(s.size, sweep.u), order, lines))
    return Stage("now", tuple(taken))


def fit(frame: Frame, readings: Readings) -> Posterior:
    known = known_functions(frame.rails, frame.shims_at("now"))
    return estimate(Layout.of(frame), known, stage_of(frame, readings))


def random_readings(frame: Frame, seed: int, step_mm: float | None = None) -> Readings:
    """Of a random frame; without gaps, which are read only where there are any: their noise isn't normal."""
    random = np.random.default_rng(seed)
    true = rough(frame, seed, random.uniform(0.5, 2.0))
    readings = measure(frame, true, step_mm or float(random.choice([60.0, 80.0, 100.0])), seed=seed)
    readings.pop("ab_tops")
    return readings
