"""Readings as rows of one linear system, with the unknowns of the sweeps taken out.

Takes a stage's readings, gives for each group of sweeps that see the same functions: readings = rows · coefficients +
unknowns of the sweeps + noise; then, by one QR, y = R c + A z + noise of unit covariance. z are the few unknowns that
several groups share: the zero of a level that was used on several beams.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from scipy.linalg import qr

from framevis.deviations import Key, Known, Layout
from framevis.frame import Flags, Floats, Indices, SweepReadings
from framevis.observe import Part, corrected, unknowns, view

Name = tuple[str, ...]
SET_ASIDE = 1e3  # factor on u of a suspect reading: it no longer counts


@dataclass(frozen=True, eq=False)
class Rows:
    """All readings of some sweeps that hang together. N readings, q unknowns of sweeps, n coefficients.

    `values`, `u` (N,) in µm or mrad; `design` (N, n) for unit coefficients; `free` (N, q) of full rank, its columns
    divided by `free_scale` (q,); `columns` (n,) the places of the n coefficients in the layout; `zeros` (N, c) what the
    unknowns shared with other groups do, `zero_names` the same in every group.
    """

    sweeps: tuple[SweepReadings, ...]
    values: Floats
    u: Floats
    design: Floats
    free: Floats
    free_names: tuple[Name, ...]
    free_scale: Floats
    columns: Indices
    zeros: Floats
    zero_names: tuple[Name, ...] = ()


@dataclass(frozen=True, eq=False)
class Reduced:
    """Rows, whitened, with the sweeps' own unknowns taken out by QR: y = R c + A z + noise of unit covariance.

    `q_free` (N, q) and `q_rest` (N, m) orthonormal; `r` (m, n) for unit coefficients; `a` (m, c); `y` (m,);
    `r_free` (q, q), `r_cross` (q, n), `a_free` (q, c), `y_free` (q,) give the unknowns back.
    """

    rows: Rows
    u: Floats
    q_free: Floats
    q_rest: Floats
    r_free: Floats
    r_cross: Floats
    r: Floats
    a_free: Floats
    a: Floats
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


def placed(sweeps: Iterable[SweepReadings]) -> Iterator[tuple[SweepReadings, slice]]:
    """Every sweep with the place of its readings where those of all are stacked."""
    start = 0
    for readings in sweeps:
        yield readings, slice(start, start + readings.values.size)
        start += readings.values.size


def rows_of(layout: Layout, known: Known, sweeps: tuple[SweepReadings, ...]) -> list[Rows]:
    """The rows of all sweeps of a stage, group by group."""
    groups = hang_together(sweeps)
    opened = [{name for readings in group for name, _ in unknowns(readings, sweeps)} for group in groups]
    times = Counter(name for names in opened for name in names)
    shared = tuple(sorted(name for name, count in times.items() if count > 1))
    return [assemble(layout, known, group, shared) for group in groups]


def assemble(layout: Layout, known: Known, sweeps: tuple[SweepReadings, ...], shared: tuple[Name, ...] = ()) -> Rows:
    """Stack the rows of sweeps that hang together. `shared`: unknowns that other groups have too."""
    seen = [view(readings.sweep, readings.station_mm).parts for readings in sweeps]
    functions, columns = layout.only(key for parts in seen for part in parts for key in part.weights)
    designs = [np.asarray(sum(part_design(functions, part) for part in parts)) for parts in seen]
    shims = [np.asarray(sum(known_part(known, part) for part in parts)) for parts in seen]
    values = [corrected(readings) - shim for readings, shim in zip(sweeps, shims, strict=True)]
    opened = _opened(sweeps)
    u, design = np.concatenate([readings.u for readings in sweeps]), np.concatenate(designs)
    zeros = _side_by_side([opened.pop(name, np.zeros(u.size)) for name in shared], u.size)
    names, free, scale = _independent(opened, u.size)
    return Rows(sweeps, np.concatenate(values), u, design, free, names, scale, columns, zeros, shared)


def _opened(sweeps: tuple[SweepReadings, ...]) -> dict[Name, Floats]:
    """Columns (N,) of the sweeps' unknowns, those of one name added up."""
    count = sum(readings.values.size for readings in sweeps)
    columns: dict[Name, Floats] = {}
    for readings, place in placed(sweeps):
        for name, column in unknowns(readings, sweeps):
            columns.setdefault(name, np.zeros(count))[place] += column
    return columns


def _side_by_side(columns: Iterable[Floats], count: int) -> Floats:
    return np.column_stack([np.zeros((count, 0)), *columns])


def _independent(columns: dict[Name, Floats], count: int) -> tuple[tuple[Name, ...], Floats, Floats]:
    """Names, columns (N, q) and scale (q,) of the unknowns, without those that depend on the others."""
    if not columns:
        return (), np.zeros((count, 0)), np.zeros(0)
    stacked = _side_by_side(columns.values(), count)
    scale = np.maximum(np.abs(stacked).max(axis=0), 1e-300)
    stacked = stacked / scale
    _, r, order = qr(stacked, mode="economic", pivoting=True)
    size = np.abs(np.diag(r))
    kept = np.sort(order[: int(np.count_nonzero(size > 1e-9 * size[0]))])
    names = list(columns)
    return tuple(names[i] for i in kept), stacked[:, kept], scale[kept]


def hang_together(sweeps: tuple[SweepReadings, ...]) -> list[tuple[SweepReadings, ...]]:
    """Sweeps in groups that see the same functions: each group is an estimate of its own, but for shared unknowns."""
    groups: list[tuple[set[Key], list[SweepReadings]]] = []
    for readings in sweeps:
        seen = {key for part in view(readings.sweep, readings.station_mm).parts for key in part.weights}
        members = [readings]
        for group in [group for group in groups if group[0] & seen]:
            groups.remove(group)
            seen |= group[0]
            members = group[1] + members
        groups.append((seen, members))
    return [tuple(members) for _, members in groups]


def reduce(rows: Rows, aside: Flags) -> Reduced:
    """Whiten, and take the sweeps' own unknowns out. `aside` (N,) bool: readings that don't count."""
    u = rows.u * np.where(aside, SET_ASIDE, 1.0)
    stacked = np.column_stack([rows.free, rows.zeros, rows.design]) / u[:, None]
    q_all, r_all = (np.asarray(part, dtype=np.float64) for part in qr(stacked, mode="economic"))
    q = rows.free.shape[1]
    y = q_all.T @ (rows.values / u)
    zeros, functions = slice(q, q + rows.zeros.shape[1]), slice(q + rows.zeros.shape[1], None)
    return Reduced(
        rows=rows,
        u=u,
        q_free=q_all[:, :q],
        q_rest=q_all[:, q:],
        r_free=r_all[:q, :q],
        r_cross=r_all[:q, functions],
        r=r_all[q:, functions],
        a_free=r_all[:q, zeros],
        a=r_all[q:, zeros],
        y_free=y[:q],
        y=y[q:],
    )
