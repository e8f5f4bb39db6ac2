"""Readings as rows of one linear system, with the unknowns of the sweeps taken out.

Takes a stage's readings, gives for each group of sweeps that hang together: readings = rows · coefficients +
unknowns of the sweeps + noise; then, by one QR, y = R c + noise of unit covariance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import qr

from framevis.deviations import Known, Layout
from framevis.frame import Flags, Floats, Indices, SweepReadings
from framevis.observe import Part, corrected, unknowns, view

SET_ASIDE = 1e3  # factor on u of a suspect reading: it no longer counts


@dataclass(frozen=True, eq=False)
class Rows:
    """All readings of some sweeps that hang together. N readings, q unknowns of sweeps, n coefficients.

    `values`, `u` (N,) in µm or mrad; `design` (N, n) for unit coefficients; `free` (N, q) of full rank, its columns
    divided by `free_scale` (q,);
    `columns` (n,) the places of the n coefficients in the layout.
    """

    sweeps: tuple[SweepReadings, ...]
    values: Floats
    u: Floats
    design: Floats
    free: Floats
    free_names: tuple[tuple[str, ...], ...]
    free_scale: Floats
    columns: Indices


@dataclass(frozen=True, eq=False)
class Reduced:
    """Rows, whitened, with the sweeps' unknowns taken out by QR: y = R c + noise of unit covariance.

    `q_free` (N, q) and `q_rest` (N, m) orthonormal; `r` (m, n) for unit coefficients; `y` (m,);
    `r_free` (q, q), `r_cross` (q, n), `y_free` (q,) give the unknowns back.
    """

    rows: Rows
    u: Floats
    q_free: Floats
    q_rest: Floats
    r_free: Floats
    r_cross: Floats
    r: Floats
    y_free: Floats
    y: Floats


def part_design(layout: Layout, part: Part, derivative: int = 0) -> Floats:
    """(N, size) rows of a part for unit coefficients of the whole layout; known functions have none."""
    design = np.zeros((part.station_mm.size, layout.size))
    for key, weight in part.weights.items():
        if key in layout.strips:
            design[:, layout.places[key]] += weight * layout.strips[key].shapes(part.station_mm, derivative)
    return design


def known_part(known: Known, part: Part, derivative: int = 0) -> Floats:
    """What the known functions (shims under rails) contribute to a part at its stations (N,)."""
    total = np.zeros(part.station_mm.size)
    for key, weight in part.weights.items():
        if key in known:
            total = total + weight * known[key](part.station_mm, derivative)
    return total


def assemble(layout: Layout, known: Known, sweeps: tuple[SweepReadings, ...]) -> Rows:
    """Stack the rows of sweeps that hang together."""
    seen = [view(readings.sweep, readings.station_mm).parts for readings in sweeps]
    functions, columns = layout.only(key for parts in seen for part in parts for key in part.weights)
    designs = [np.asarray(sum(part_design(functions, part) for part in parts)) for parts in seen]
    shims = [np.asarray(sum(known_part(known, part) for part in parts)) for parts in seen]
    values = [corrected(readings) - shim for readings, shim in zip(sweeps, shims, strict=True)]
    design = np.concatenate(designs)
    names, free, scale = _free_columns(sweeps)
    u = np.concatenate([readings.u for readings in sweeps])
    return Rows(sweeps, np.concatenate(values), u, design, free, names, scale, columns)


def _free_columns(sweeps: tuple[SweepReadings, ...]) -> tuple[tuple[tuple[str, ...], ...], Floats, Floats]:
    """Columns of the sweeps' unknowns, those of one name added up, without those that depend on the others."""
    count = sum(readings.values.size for readings in sweeps)
    columns: dict[tuple[str, ...], Floats] = {}
    start = 0
    for readings in sweeps:
        stop = start + readings.values.size
        for name, column in unknowns(readings, sweeps):
            columns.setdefault(name, np.zeros(count))[start:stop] += column
        start = stop
    if not columns:
        return (), np.zeros((count, 0)), np.zeros(0)
    stacked = np.column_stack(list(columns.values()))
    scale = np.maximum(np.abs(stacked).max(axis=0), 1e-300)
    stacked = stacked / scale
    _, r, order = qr(stacked, mode="economic", pivoting=True)
    size = np.abs(np.diag(r))
    kept = np.sort(order[: int(np.count_nonzero(size > 1e-9 * size[0]))])
    names = list(columns)
    return tuple(names[i] for i in kept), stacked[:, kept], scale[kept]


def hang_together(sweeps: tuple[SweepReadings, ...]) -> list[tuple[SweepReadings, ...]]:
    """Sweeps in groups that share functions or unknowns: each group is an estimate of its own."""
    groups: list[tuple[set[object], list[SweepReadings]]] = []
    for readings in sweeps:
        seen: set[object] = {key for part in view(readings.sweep, readings.station_mm).parts for key in part.weights}
        seen |= {name for name, _ in unknowns(readings, sweeps)}
        members = [readings]
        for group in [group for group in groups if group[0] & seen]:
            groups.remove(group)
            seen |= group[0]
            members = group[1] + members
        groups.append((seen, members))
    return [tuple(members) for _, members in groups]


def reduce(rows: Rows, aside: Flags) -> Reduced:
    """Whiten, and take the sweeps' unknowns out. `aside` (N,) bool: readings that don't count."""
    u = rows.u * np.where(aside, SET_ASIDE, 1.0)
    stacked = np.column_stack([rows.free, rows.design]) / u[:, None]
    q_all, r_all = (np.asarray(part, dtype=np.float64) for part in qr(stacked, mode="economic"))
    q = rows.free.shape[1]
    y = q_all.T @ (rows.values / u)
    return Reduced(rows, u, q_all[:, :q], q_all[:, q:], r_all[:q, :q], r_all[:q, q:], r_all[q:, q:], y[:q], y[q:])
