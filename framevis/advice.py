"""The next reading worth taking, where a verdict is left unsure.

Takes a study and a block, gives the sweep (not taken yet) or the single further reading (of a sweep already taken)
that would narrow most what the readings leave open: from the joint covariance, the variance of a functional w falls
by cov(w, h) V⁻¹ cov(h, w) for new readings h of covariance V.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import qr

from framevis.explain import doubt
from framevis.frame import Floats, Sweep, SweepReadings
from framevis.further import Further, design_of, further, own_columns, planned
from framevis.observe import Column, unknowns
from framevis.rows import placed
from framevis.study import Study
from framevis.verdicts import BlockAssessment, CarriageAssessment

WORTH = 0.02  # share of the standard uncertainty below which nothing is proposed


@dataclass(frozen=True)
class NextReading:
    """`gain`: by which share the standard uncertainty falls. `station_mm` None: whole sweeps are to be taken."""

    sweeps: tuple[Sweep, ...]
    station_mm: float | None
    gain: float


def next_reading(study: Study, carriage: CarriageAssessment, block: BlockAssessment) -> NextReading | None:
    """What narrows most what is open about a block; None where nothing would help noticeably."""
    target = doubt(study, carriage, block).row
    total = max(float(study.posterior.sd(target[None, :])[0] ** 2), 1e-300)
    found = [NextReading(sweeps, station, _gain(drop / total)) for sweeps, station, drop in _offers(study, target)]
    best = max(found, key=lambda offer: offer.gain, default=None)
    return best if best is not None and best.gain > WORTH else None


def _gain(share: float) -> float:
    return 1.0 - float(np.sqrt(max(1.0 - share, 0.0)))


def _offers(study: Study, target: Floats) -> list[tuple[tuple[Sweep, ...], float | None, float]]:
    """Sweeps and stations that could be taken, with the drop of the target's variance. A sweep that sees none of its
    functions would tell of the zero of a level at most, and isn't looked at once more."""
    offers: list[tuple[tuple[Sweep, ...], float | None, float]] = []
    for solved in study.posterior.groups:
        rows = solved.reduced.rows
        for readings in rows.sweeps if np.any(target[rows.columns]) else ():
            stations = np.unique(readings.station_mm)
            drop = _drop_by_one(study, readings, stations, target)
            offers.append(((readings.sweep,), float(stations[np.argmax(drop)]), float(drop.max())))
    return offers + [(sweeps, None, _drop_by_all(study, sweeps, target)) for sweeps in not_taken(study)]


def not_taken(study: Study) -> list[tuple[Sweep, ...]]:
    """Sweeps that were not taken yet; those that share an instrument's zero together, since one alone says little."""
    taken = {readings.sweep.name for readings in study.readings.sweeps}
    sets: dict[str, tuple[Sweep, ...]] = {}
    for sweep in study.frame.sweeps:
        if sweep.name not in taken and not sweep.reversed:
            key = f"{sweep.kind} by {sweep.instrument}" if sweep.instrument else sweep.name
            sets[key] = (*sets.get(key, ()), sweep)
    return list(sets.values())


def _drop_by_one(study: Study, readings: SweepReadings, stations: Floats, target: Floats) -> Floats:
    """The drop (K,) by one further reading of a sweep already taken, at each of stations (K,)."""
    design = design_of(study.posterior.layout, readings.sweep, stations)
    more = further(study.posterior, design, own_columns(readings, study.readings.sweeps, stations))
    noise = np.diag(more.noise) + readings.sweep.u**2
    shared = study.posterior.covariance(more.design, target[None, :])[:, 0]
    return np.asarray(shared**2 / (study.posterior.variance(more.design) + noise))


def _drop_by_all(study: Study, sweeps: tuple[Sweep, ...], target: Floats) -> float:
    """The drop by whole sweeps that were not taken yet, their own unknowns left open."""
    more = taken_whole(study, sweeps)
    covariance = study.posterior.covariance(more.design, more.design) + more.noise
    with_target = study.posterior.covariance(more.design, target[None, :])[:, 0]
    if more.own.size:
        kept = qr(more.own)[0][:, more.own.shape[1] :]
        covariance, with_target = kept.T @ covariance @ kept, kept.T @ with_target
    return float(with_target @ np.linalg.solve(covariance, with_target)) if with_target.size else 0.0


def taken_whole(study: Study, sweeps: tuple[Sweep, ...]) -> Further:
    """What whole sweeps would see, taken together; in `noise` that of the readings themselves too."""
    plans = tuple(planned(study, sweep) for sweep in sweeps)
    design = np.concatenate([design_of(study.posterior.layout, plan.sweep, plan.station_mm) for plan in plans])
    columns: list[Column] = []
    for plan, place in placed(plans):
        for name, column in unknowns(plan, (*study.readings.sweeps, *plans)):
            whole = np.zeros(len(design))
            whole[place] = column
            columns.append((name, whole))
    more = further(study.posterior, design, columns)
    return replace(more, noise=more.noise + np.diag(np.concatenate([plan.u for plan in plans]) ** 2))
