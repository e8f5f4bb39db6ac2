"""Readings not taken yet: how they hang together with those that were taken.

Takes a study and sweeps as they would be taken, gives what these see, what is known of the zeros, offsets and slopes
that they share with readings already taken, and what they leave open on their own.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from framevis.deviations import Layout
from framevis.estimate import Posterior
from framevis.frame import Floats, Sweep, SweepReadings
from framevis.observe import Column, unknowns, view
from framevis.rows import Name, part_design
from framevis.solved import Solved
from framevis.study import Study

STEP_MM = 100.0  # between the stations of a sweep that was never taken


@dataclass(frozen=True, eq=False)
class Further:
    """N readings to come: design · coefficients + `level` + errors of covariance `noise` + `own` · q open unknowns.

    `design` (N, size), `level` (N,), `noise` (N, N), that of the readings themselves left out, `own` (N, q).
    """

    design: Floats
    level: Floats
    noise: Floats
    own: Floats


def further(posterior: Posterior, design: Floats, columns: Iterable[Column]) -> Further:
    """Put in what the readings taken say of the unknowns (columns (N,)) that enter the readings to come."""
    count = len(design)
    own: dict[Name, Floats] = {}
    settled: dict[int, Floats] = {}
    names = posterior.groups[0].reduced.rows.zero_names if posterior.groups else ()
    zeros = np.zeros((count, len(names)))
    for name, column in columns:
        home = next((i for i, s in enumerate(posterior.groups) if name in s.reduced.rows.free_names), None)
        if name in names:
            zeros[:, names.index(name)] += column
        elif home is None:
            own[name] = own.get(name, np.zeros(count)) + column
        else:
            rows = posterior.groups[home].reduced.rows
            place = rows.free_names.index(name)
            free = settled.setdefault(home, np.zeros((count, len(rows.free_names))))
            free[:, place] += column / rows.free_scale[place]
    design, level, noise = design.copy(), np.zeros(count), np.zeros((count, count))
    for home, free in settled.items():
        reduced = posterior.groups[home].reduced
        by = through(posterior.groups[home], free)
        design[:, reduced.rows.columns] -= by @ reduced.r_cross
        zeros -= by @ reduced.a_free
        level += by @ reduced.y_free
        noise += by @ by.T
    if names:
        _put_in_zeros(posterior, zeros, design, level, noise)
    return Further(design, level, noise, np.column_stack([*own.values(), np.zeros((count, 0))]))


def _put_in_zeros(posterior: Posterior, zeros: Floats, design: Floats, level: Floats, noise: Floats) -> None:
    """What all groups say of the unknowns that they share, z = (ΣAᵀA)⁻¹ ΣAᵀ(y − R c − noise): rows `zeros` (N, c)."""
    reduced = [solved.reduced for solved in posterior.groups]
    by = zeros @ np.linalg.inv(np.sum([each.a.T @ each.a for each in reduced], axis=0))
    for each in reduced:
        design[:, each.rows.columns] -= by @ (each.a.T @ each.r)
        level += by @ (each.a.T @ each.y)
    noise += by @ zeros.T


def through(solved: Solved, free: Floats) -> Floats:
    """Rows (K, q) of the sweeps' unknowns, as combinations of what the readings say of these unknowns."""
    if not solved.reduced.r_free.size:
        return np.zeros((len(free), 0))
    return np.asarray(np.linalg.solve(solved.reduced.r_free.T, free.T).T)


def own_columns(readings: SweepReadings, taken: Iterable[SweepReadings], stations: Floats) -> list[Column]:
    """How a sweep's unknowns enter further readings at stations (K,): interpolated from its own rows, (K,) each."""
    order = np.argsort(readings.station_mm, kind="stable")
    at = readings.station_mm[order]
    return [(name, np.interp(stations, at, column[order])) for name, column in unknowns(readings, taken)]


def design_of(layout: Layout, sweep: Sweep, stations: Floats) -> Floats:
    """What a sweep sees at stations (K,), as functionals (K, size) of all coefficients."""
    return np.asarray(sum(part_design(layout, part) for part in view(sweep, stations).parts))


def planned(study: Study, sweep: Sweep) -> SweepReadings:
    """A sweep as it would be taken, its readings still unknown (zero)."""
    return blank(sweep, _possible(study, sweep))


def blank(sweep: Sweep, stations: Floats, u: Floats | None = None) -> SweepReadings:
    """Readings of zero at stations (K,), in this order."""
    order, lines = np.arange(stations.size, dtype=np.float64), tuple(range(stations.size))
    spread = np.full(stations.size, sweep.u) if u is None else u
    return SweepReadings(sweep, stations, np.zeros(stations.size), spread, order, lines)


def _possible(study: Study, sweep: Sweep) -> Floats:
    """Stations (K,) at which a sweep could be taken: all that it looks at lies on its beams."""
    margin = (sweep.base_mm or 0.0) / 2.0
    stations = np.arange(margin, sweep.station_beam.length_mm - margin + 1e-6, STEP_MM)
    strips, on = study.posterior.layout.strips, np.full(stations.size, True)
    for part in view(sweep, stations).parts:
        length = min((strips[key].length_mm for key in part.weights if key in strips), default=np.inf)
        on &= (part.station_mm >= 0.0) & (part.station_mm <= length)
    return np.asarray(stations[on])
