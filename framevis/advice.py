"""The next reading worth taking, where a verdict is left unsure.

Takes a study and a block, gives the sweep (not taken yet) or the single further reading (of a sweep already taken)
that would narrow most what the readings leave open: from the joint covariance, the variance of a functional w falls
by cov(w, h) V⁻¹ cov(h, w) for new readings h of covariance V.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import qr

from framevis.estimate import Solved
from framevis.explain import doubt
from framevis.frame import Floats, Sweep, SweepReadings
from framevis.observe import unknowns, view
from framevis.rows import part_design
from framevis.study import Study
from framevis.verdicts import BlockAssessment, CarriageAssessment

STEP_MM = 100.0  # between the stations of a sweep that is proposed
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
    """Sweeps and stations that could be taken, with the drop of the target's variance."""
    offers: list[tuple[tuple[Sweep, ...], float | None, float]] = []
    for solved in study.posterior.groups:
        for readings in solved.reduced.rows.sweeps:
            stations = np.unique(readings.station_mm)
            drop = _drop_by_one(study, solved, readings, stations, target)
            offers.append(((readings.sweep,), float(stations[np.argmax(drop)]), float(drop.max())))
    return offers + [(sweeps, None, _drop_by_all(study, sweeps, target)) for sweeps in _not_taken(study)]


def _not_taken(study: Study) -> list[tuple[Sweep, ...]]:
    """Sweeps that were not taken yet; those that share an instrument's zero together, since one alone says little."""
    taken = {readings.sweep.name for readings in study.readings.sweeps}
    sets: dict[str, tuple[Sweep, ...]] = {}
    for sweep in study.frame.sweeps:
        if sweep.name not in taken and not sweep.reversed:
            key = f"{sweep.kind} by {sweep.instrument}" if sweep.instrument else sweep.name
            sets[key] = (*sets.get(key, ()), sweep)
    return list(sets.values())


def _drop_by_one(study: Study, solved: Solved, readings: SweepReadings, stations: Floats, target: Floats) -> Floats:
    """The drop (K,) by one further reading of a sweep already taken, at each of stations (K,)."""
    rows = solved.reduced.rows
    design = _design(study, readings.sweep, stations)[:, rows.columns]
    through = _through(solved, _own_rows(study, solved, readings, stations))
    seen = design - through @ solved.reduced.r_cross
    noise = np.sum(through**2, axis=1) + readings.sweep.u**2
    shared = solved.covariance(seen, target[None, rows.columns])[:, 0]
    return np.asarray(shared**2 / (solved.variance(seen) + noise))


def _drop_by_all(study: Study, sweeps: tuple[Sweep, ...], target: Floats) -> float:
    """The drop by whole sweeps that were not taken yet, their own unknowns left open."""
    planned = tuple(_planned(study, sweep) for sweep in sweeps)
    design = np.concatenate([_design(study, plan.sweep, plan.station_mm) for plan in planned])
    noise = np.diag(np.concatenate([plan.u for plan in planned]) ** 2)
    columns: dict[tuple[str, ...], Floats] = {}
    start = 0
    for plan in planned:
        stop = start + plan.u.size
        for name, column in unknowns(plan, (*study.readings.sweeps, *planned)):
            columns.setdefault(name, np.zeros(len(design)))[start:stop] += column
        start = stop
    own = []
    for name, column in columns.items():
        home = next((s for s in study.posterior.groups if name in s.reduced.rows.free_names), None)
        if home is None:
            own.append(column)
            continue
        rows = home.reduced.rows
        place = rows.free_names.index(name)
        shared = np.zeros((len(design), len(rows.free_names)))
        shared[:, place] = column / rows.free_scale[place]
        through = _through(home, shared)
        design[:, rows.columns] -= through @ home.reduced.r_cross
        noise = noise + through @ through.T
    covariance = study.posterior.covariance(design, design) + noise
    with_target = study.posterior.covariance(design, target[None, :])[:, 0]
    if own:
        kept = qr(np.column_stack(own))[0][:, len(own) :]
        covariance, with_target = kept.T @ covariance @ kept, kept.T @ with_target
    return float(with_target @ np.linalg.solve(covariance, with_target)) if with_target.size else 0.0


def _planned(study: Study, sweep: Sweep) -> SweepReadings:
    """A sweep as it would be taken, its readings still unknown (zero)."""
    stations = _possible(study, sweep)
    order, lines = np.arange(stations.size, dtype=np.float64), tuple(range(stations.size))
    return SweepReadings(sweep, stations, np.zeros(stations.size), np.full(stations.size, sweep.u), order, lines)


def _possible(study: Study, sweep: Sweep) -> Floats:
    """Stations (K,) at which a sweep could be taken: all that it looks at lies on its beams."""
    margin = (sweep.base_mm or 0.0) / 2.0
    stations = np.arange(margin, sweep.station_beam.length_mm - margin + 1e-6, STEP_MM)
    strips, on = study.posterior.layout.strips, np.full(stations.size, True)
    for part in view(sweep, stations).parts:
        length = min((strips[key].length_mm for key in part.weights if key in strips), default=np.inf)
        on &= (part.station_mm >= 0.0) & (part.station_mm <= length)
    return np.asarray(stations[on])


def _design(study: Study, sweep: Sweep, stations: Floats) -> Floats:
    """What a sweep sees at stations (K,), as functionals (K, size) of all coefficients."""
    return np.asarray(sum(part_design(study.posterior.layout, part) for part in view(sweep, stations).parts))


def _through(solved: Solved, free: Floats) -> Floats:
    """Rows (K, q) of the sweeps' unknowns, as combinations of what the readings say of these unknowns."""
    if not solved.reduced.r_free.size:
        return np.zeros((len(free), 0))
    return np.asarray(np.linalg.solve(solved.reduced.r_free.T, free.T).T)


def _own_rows(study: Study, solved: Solved, readings: SweepReadings, stations: Floats) -> Floats:
    """How a sweep's unknowns enter a further reading at stations (K,): interpolated from its own rows, (K, q)."""
    names = solved.reduced.rows.free_names
    columns = dict(unknowns(readings, study.readings.sweeps))
    order = np.argsort(readings.station_mm, kind="stable")
    rows = np.zeros((stations.size, len(names)))
    for q, name in enumerate(names):
        if name in columns:
            scale = solved.reduced.rows.free_scale[q]
            rows[:, q] = np.interp(stations, readings.station_mm[order], columns[name][order] / scale)
    return rows
