"""The next reading worth taking, where a verdict is left unsure.

Takes a study and a block, gives the sweep and station whose one further reading would narrow the block's worst
misfit most: from the joint covariance, u² falls by cov(misfit, reading)² / (var(reading) + u²).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from framevis.carriage import COMPONENTS
from framevis.estimate import Solved
from framevis.explain import Reason, reason
from framevis.frame import Floats, Sweep, SweepReadings
from framevis.observe import unknowns, view
from framevis.ride import ride_rows
from framevis.rows import part_design
from framevis.study import Study
from framevis.verdicts import BlockAssessment, CarriageAssessment


@dataclass(frozen=True)
class NextReading:
    """`gain`: by which share the standard uncertainty of the misfit falls."""

    sweep: Sweep
    station_mm: float
    gain: float


def next_reading(study: Study, carriage: CarriageAssessment, block: BlockAssessment) -> NextReading | None:
    """The best further reading in one of the sweeps already taken; None where none would help noticeably."""
    why = reason(study, carriage, block)
    target = _misfit_row(study, carriage, block, why)
    total = float(study.posterior.sd(target[None, :])[0] ** 2)
    best: NextReading | None = None
    for solved in study.posterior.groups:
        for readings in solved.reduced.rows.sweeps:
            stations = np.unique(readings.station_mm)
            drop = _variance_drop(study, solved, readings, stations, target)
            at = int(np.argmax(drop))
            gain = 1.0 - float(np.sqrt(max(1.0 - drop[at] / max(total, 1e-300), 0.0)))
            if gain > 0.02 and (best is None or gain > best.gain):
                best = NextReading(readings.sweep, float(stations[at]), gain)
    return best


def _misfit_row(study: Study, carriage: CarriageAssessment, block: BlockAssessment, why: Reason) -> Floats:
    """The misfit of the linear carriage as one functional (size,) of all coefficients."""
    mechanism = study.mechanisms[carriage.name]
    rides = ride_rows(study.posterior.layout, study.deviations.known, carriage.carriage, np.array([why.position_mm]))
    blocks = len(carriage.blocks)
    felt = rides.design[:, :, 0].reshape(blocks * 5, -1)
    index, component = [other.name for other in carriage.blocks].index(block.name), COMPONENTS.index(why.component)
    fitted = mechanism.leverage[index][component] @ mechanism.rigid_fit
    row = np.zeros(study.posterior.layout.size)
    row[rides.columns] = fitted @ felt - felt[5 * index + component]
    return row


def _variance_drop(study: Study, solved: Solved, readings: SweepReadings, stations: Floats, target: Floats) -> Floats:
    """By how much (K,) the variance of a functional falls with one further reading of a sweep at stations (K,)."""
    reduced, rows = solved.reduced, solved.reduced.rows
    parts = view(readings.sweep, stations).parts
    design = np.asarray(sum(part_design(study.posterior.layout, part) for part in parts))[:, rows.columns]
    free = _free_rows(readings, stations, rows.free_names, study)
    through = np.linalg.solve(reduced.r_free.T, free.T).T if reduced.r_free.size else np.zeros((stations.size, 0))
    seen = design - through @ reduced.r_cross
    noise = np.sum(through**2, axis=1) + readings.sweep.u**2
    shared = solved.covariance(seen, target[None, rows.columns])[:, 0]
    return np.asarray(shared**2 / (solved.variance(seen) + noise))


def _free_rows(readings: SweepReadings, stations: Floats, names: tuple[tuple[str, ...], ...], study: Study) -> Floats:
    """How the sweep's unknowns enter a reading at stations (K,): interpolated from its own rows, (K, q)."""
    columns = dict(unknowns(readings, study.readings.sweeps))
    order = np.argsort(readings.station_mm, kind="stable")
    where = readings.station_mm[order]
    rows = np.zeros((stations.size, len(names)))
    for q, name in enumerate(names):
        if name in columns:
            scale = max(np.abs(columns[name]).max(), 1e-300)
            rows[:, q] = np.interp(stations, where, columns[name][order] / scale)
    return rows
