"""The estimate: from all readings of a stage to every function of s, with covariance, draws and suspects.

One joint linear-Gaussian model: readings = rows · coefficients + unknowns of the sweep + noise, coefficients
~ N(0, spread²), unknowns of a sweep (offset, slope, drift) free. Everything comes from one QR of the rows, which
takes the unknowns out, and one Cholesky factor of C = 1 + RSRᵀ, the covariance of what is left. The scales of the
curved parts maximise the marginal likelihood times a weak prior (Newton; gradient and Hessian are traces).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.linalg import cho_factor, cho_solve, qr, solve_triangular

from framevis import priors
from framevis.deviations import Key, Known, Layout, Weights
from framevis.frame import Floats, Frame, Stage, SweepReadings
from framevis.observe import Part, corrected, unknowns, view

SUSPECT = 3.5  # standardised residual from which a reading is named
SET_ASIDE = 1e3  # factor on u of a suspect reading: it no longer counts
MOST_SUSPECTS = 0.1  # share of the readings beyond which nothing more is set aside
NEWTON_STEPS = 60


@dataclass(frozen=True, eq=False)
class Rows:
    """All readings of some sweeps that hang together. N readings, q unknowns of sweeps, n coefficients.

    `values`, `u` (N,) in µm or mrad; `design` (N, n) for unit coefficients; `free` (N, q) of full rank;
    `columns` (n,) the places of the n coefficients in the layout.
    """

    sweeps: tuple[SweepReadings, ...]
    values: Floats
    u: Floats
    design: Floats
    free: Floats
    free_names: tuple[tuple[str, ...], ...]
    columns: Floats


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


def assemble(frame: Frame, layout: Layout, known: Known, sweeps: tuple[SweepReadings, ...]) -> Rows:
    """Stack the rows of sweeps that hang together."""
    seen = [view(readings.sweep, readings.station_mm).parts for readings in sweeps]
    designs = [np.asarray(sum(part_design(layout, part) for part in parts)) for parts in seen]
    shims = [np.asarray(sum(known_part(known, part) for part in parts)) for parts in seen]
    values = [corrected(readings) - shim for readings, shim in zip(sweeps, shims, strict=True)]
    design = np.concatenate(designs)
    keys = {key for parts in seen for part in parts for key in part.weights if key in layout.strips}
    columns = np.concatenate([np.arange(layout.size)[place] for key, place in layout.places.items() if key in keys])
    names, free = _free_columns(frame, sweeps)
    u = np.concatenate([readings.u for readings in sweeps])
    return Rows(sweeps, np.concatenate(values), u, design[:, columns], free, names, columns)


def _free_columns(frame: Frame, sweeps: tuple[SweepReadings, ...]) -> tuple[tuple[tuple[str, ...], ...], Floats]:
    """Columns of the sweeps' unknowns, those of one name added up, without those that depend on the others."""
    count = sum(readings.values.size for readings in sweeps)
    columns: dict[tuple[str, ...], Floats] = {}
    start = 0
    for readings in sweeps:
        stop = start + readings.values.size
        for name, column in unknowns(readings, frame.sweeps):
            columns.setdefault(name, np.zeros(count))[start:stop] += column
        start = stop
    if not columns:
        return (), np.zeros((count, 0))
    stacked = np.column_stack([column / max(np.abs(column).max(), 1e-300) for column in columns.values()])
    _, r, order = qr(stacked, mode="economic", pivoting=True)
    size = np.abs(np.diag(r))
    kept = np.sort(order[: int(np.count_nonzero(size > 1e-9 * size[0]))])
    names = list(columns)
    return tuple(names[i] for i in kept), stacked[:, kept]


def hang_together(layout: Layout, frame: Frame, sweeps: tuple[SweepReadings, ...]) -> list[tuple[SweepReadings, ...]]:
    """Sweeps in groups that share functions or unknowns: each group is an estimate of its own."""
    groups: list[tuple[set[object], list[SweepReadings]]] = []
    for readings in sweeps:
        seen: set[object] = {key for part in view(readings.sweep, readings.station_mm).parts for key in part.weights}
        seen |= {name for name, _ in unknowns(readings, frame.sweeps)}
        members = [readings]
        for group in [group for group in groups if group[0] & seen]:
            groups.remove(group)
            seen |= group[0]
            members = group[1] + members
        groups.append((seen, members))
    return [tuple(members) for _, members in groups]


def reduce(rows: Rows, aside: Floats) -> Reduced:
    """Whiten, and take the sweeps' unknowns out. `aside` (N,) bool: readings that don't count."""
    u = rows.u * np.where(aside, SET_ASIDE, 1.0)
    stacked = np.column_stack([rows.free, rows.design]) / u[:, None]
    q_all, r_all = qr(stacked, mode="economic")
    q = rows.free.shape[1]
    y = q_all.T @ (rows.values / u)
    return Reduced(rows, u, q_all[:, :q], q_all[:, q:], r_all[:q, :q], r_all[:q, q:], r_all[q:, q:], y[:q], y[q:])


@dataclass(frozen=True, eq=False)
class Solved:
    """One group, solved for given scales. `spread` (n,) prior sd of its coefficients, scales included."""

    reduced: Reduced
    spread: Floats

    @cached_property
    def scaled(self) -> Floats:
        return np.asarray(self.reduced.r * self.spread)

    @cached_property
    def lower(self) -> Floats:
        """Cholesky factor L of C = 1 + R S² Rᵀ (m, m)."""
        c = self.scaled @ self.scaled.T
        c[np.diag_indices_from(c)] += 1.0
        return np.linalg.cholesky(c)

    def _solve(self, right: Floats) -> Floats:
        return np.asarray(cho_solve((self.lower, True), right))

    @cached_property
    def mean(self) -> Floats:
        """Posterior mean of the coefficients (n,)."""
        return np.asarray(self.spread * (self.scaled.T @ self._solve(self.reduced.y)))

    def draws(self, count: int, random: np.random.Generator) -> Floats:
        """Posterior draws (n, count): prior draws, corrected by what the readings say of them (Matheron)."""
        prior = random.standard_normal((self.spread.size, count))
        noise = random.standard_normal((self.reduced.y.size, count))
        wrong = self.reduced.y[:, None] - self.scaled @ prior - noise
        return np.asarray(self.spread[:, None] * (prior + self.scaled.T @ self._solve(wrong)))

    def variance(self, functionals: Floats) -> Floats:
        """Posterior variance (K,) of linear functionals (K, n) of the coefficients."""
        whitened = functionals * self.spread
        known = solve_triangular(self.lower, self.scaled @ whitened.T, lower=True)
        return np.maximum(np.sum(whitened**2, axis=1) - np.sum(known**2, axis=0), 0.0)

    def covariance(self, one: Floats, other: Floats) -> Floats:
        """Posterior covariance (K, L) of two sets of linear functionals (K, n), (L, n)."""
        a, b = one * self.spread, other * self.spread
        return np.asarray(a @ b.T - (self.scaled @ a.T).T @ self._solve(self.scaled @ b.T))

    @cached_property
    def standardised(self) -> Floats:
        """Residual of each reading from what all the others say, over its standard deviation (N,).

        Deletion residuals: (Py)ᵢ / Pᵢᵢ with variance 1/Pᵢᵢ, where P = M − Q(1 − C⁻¹)Qᵀ and M takes the unknowns out.
        """
        reduced = self.reduced
        inner = solve_triangular(self.lower, reduced.q_rest.T, lower=True)
        leverage = 1.0 - np.sum(reduced.q_free**2, axis=1) - np.sum(reduced.q_rest**2, axis=1)
        p = leverage + np.sum(inner**2, axis=0)
        white = reduced.rows.values / reduced.u
        fitted = reduced.q_free @ reduced.y_free + reduced.q_rest @ (reduced.y - self._solve(reduced.y))
        deletion = (white - fitted) / np.maximum(p, 1e-14) * reduced.u
        spread = np.maximum(1.0 / np.maximum(p, 1e-14) - 1.0, 0.0) * reduced.u**2 + reduced.rows.u**2
        return np.where(p > 1e-9, deletion / np.sqrt(spread), 0.0)


def find_scales(groups: list[Reduced], spreads: list[Floats], kinds: list[Floats]) -> Floats:
    """Log of the scale of each kind (kinds,) that maximises marginal likelihood times weak prior.

    Newton with the exact Hessian where it is positive definite, Fisher's information where it is not.
    """
    pieces = [_kernels(reduced, spread, kind) for reduced, spread, kind in zip(groups, spreads, kinds, strict=True)]
    log_scale = np.zeros(len(priors.SCALED))
    value, gradient, hessian, fisher = _evidence(log_scale, pieces)
    for _ in range(NEWTON_STEPS):
        if np.abs(gradient).max() < 1e-11:
            break
        step = _downhill(gradient, hessian, fisher)
        for _ in range(40):
            trial = _evidence(log_scale + step, pieces)
            if trial[0] <= value + 1e-12 * abs(value):
                break
            step = step / 2.0
        log_scale = log_scale + step
        value, gradient, hessian, fisher = trial
        if np.abs(step).max() < 1e-13:
            break
    return log_scale


def _downhill(gradient: Floats, hessian: Floats, fisher: Floats) -> Floats:
    try:
        step = -cho_solve(cho_factor(hessian), gradient)
    except np.linalg.LinAlgError:
        step = -np.linalg.solve(fisher, gradient)
    return np.asarray(step / max(1.0, np.abs(step).max() / 1.5))


def _kernels(reduced: Reduced, spread: Floats, kind: Floats) -> tuple[Floats, dict[int, Floats], Floats]:
    """C at scale 0 and the kernel R S² Rᵀ of each kind, (m, m); y (m,)."""
    scaled = reduced.r * spread
    fixed = np.eye(len(scaled)) + scaled[:, kind < 0] @ scaled[:, kind < 0].T
    kernels = {int(k): scaled[:, kind == k] @ scaled[:, kind == k].T for k in np.unique(kind[kind >= 0])}
    return fixed, kernels, reduced.y


def _evidence(
    log_scale: Floats, pieces: list[tuple[Floats, dict[int, Floats], Floats]]
) -> tuple[float, Floats, Floats, Floats]:
    """−log(likelihood · prior) up to a constant, its gradient, Hessian, and Fisher's information."""
    weak = 1.0 / priors.LOG_SCALE_SD**2
    count = log_scale.size
    value = 0.5 * weak * float(log_scale @ log_scale)
    gradient, hessian, fisher = weak * log_scale, weak * np.eye(count), weak * np.eye(count)
    for fixed, kernels, y in pieces:
        scaled = {k: np.exp(2.0 * log_scale[k]) * kernel for k, kernel in kernels.items()}
        factor = cho_factor(fixed + sum(scaled.values()), lower=True)
        alpha = cho_solve(factor, y)
        value += float(np.sum(np.log(np.diag(factor[0]))) + 0.5 * y @ alpha)
        inverse = {k: cho_solve(factor, kernel) for k, kernel in scaled.items()}  # C⁻¹Kₖ
        pulled = {k: kernel @ alpha for k, kernel in scaled.items()}
        for k in kernels:
            balance = float(np.trace(inverse[k]) - alpha @ pulled[k])
            gradient[k] += balance
            hessian[k, k] += 2.0 * balance
            for j in kernels:
                trace = float(np.sum(inverse[k] * inverse[j].T))
                fisher[k, j] += 2.0 * trace
                hessian[k, j] += 4.0 * float(pulled[k] @ cho_solve(factor, pulled[j])) - 2.0 * trace
    return value, gradient, hessian, fisher


@dataclass(frozen=True, eq=False)
class Posterior:
    """What the readings of a stage say of all functions of a frame.

    `scales` (kinds,) of the curved parts; `groups` the sweeps that hang together, solved; `aside` for each of
    them the readings (N,) set aside as suspect.
    """

    layout: Layout
    groups: tuple[Solved, ...]
    aside: tuple[Floats, ...]
    scales: Floats
    prior: Floats  # (size,) sd of every coefficient, scales included

    @cached_property
    def mean(self) -> Floats:
        """Posterior mean of all coefficients (size,)."""
        mean = np.zeros(self.layout.size)
        for solved in self.groups:
            mean[solved.reduced.rows.columns] = solved.mean
        return mean

    def draws(self, count: int, seed: int) -> Floats:
        """Posterior draws of all coefficients (size, count). What no reading sees is drawn from its prior."""
        random = np.random.default_rng(seed)
        draws = self.prior[:, None] * random.standard_normal((self.layout.size, count))
        for solved in self.groups:
            draws[solved.reduced.rows.columns] = solved.draws(count, random)
        return draws

    def sd(self, functionals: Floats) -> Floats:
        """Posterior standard deviation (K,) of linear functionals (K, size)."""
        seen = np.zeros(self.layout.size, dtype=bool)
        variance = np.zeros(len(functionals))
        for solved in self.groups:
            columns = solved.reduced.rows.columns
            seen[columns] = True
            variance += solved.variance(functionals[:, columns])
        unseen = functionals[:, ~seen] * self.prior[~seen]
        return np.sqrt(variance + np.sum(unseen**2, axis=1))

    def prior_sd(self, functionals: Floats) -> Floats:
        """Prior standard deviation (K,) of linear functionals (K, size)."""
        return np.asarray(np.sqrt(np.sum((functionals * self.prior) ** 2, axis=1)))

    def is_seen(self, key: Key) -> bool:
        """Whether any reading looks at a function at all."""
        place = self.layout.places[key].start
        return any(place in solved.reduced.rows.columns for solved in self.groups)


def estimate(frame: Frame, layout: Layout, known: Known, stage: Stage) -> Posterior:
    """Estimate all functions of a frame from a stage's readings, suspects set aside.

    A reading whose deletion residual exceeds `SUSPECT` is set aside, the worst first, until none is left.
    """
    spread, kind = priors.spread(layout), priors.scale_group(layout)
    rows = [assemble(frame, layout, known, sweeps) for sweeps in hang_together(layout, frame, stage.sweeps)]
    spreads, kinds = [spread[part.columns] for part in rows], [kind[part.columns] for part in rows]
    aside = [np.zeros(part.values.size, dtype=bool) for part in rows]
    for _ in range(3):
        reduced = [reduce(part, out) for part, out in zip(rows, aside, strict=True)]
        scales = find_scales(reduced, spreads, kinds)
        factor = np.where(kind >= 0, np.exp(scales[kind]), 1.0)
        groups = [Solved(part, (spread * factor)[part.rows.columns]) for part in reduced]
        found = [_suspects(solved, out) for solved, out in zip(groups, aside, strict=True)]
        if all(np.array_equal(new, old) for new, old in zip(found, aside, strict=True)):
            break
        aside = found
    return Posterior(layout, tuple(groups), tuple(aside), scales, spread * factor)


def _suspects(solved: Solved, aside: Floats) -> Floats:
    """Set aside what doesn't fit, the worst first: one bad reading makes its neighbours look bad."""
    out = aside.copy()
    while True:
        size = np.where(out, 0.0, np.abs(solved.standardised))
        worst = int(np.argmax(size))
        if size[worst] <= SUSPECT or np.count_nonzero(out) >= max(1, MOST_SUSPECTS * out.size):
            return out
        out[worst] = True
        solved = replace(solved, reduced=reduce(solved.reduced.rows, out))


def joint_design(layout: Layout, parts: Iterable[tuple[Weights, Floats, int]]) -> Floats:
    """Rows (ΣN, size) for weights at stations (N,) with a derivative each: linear functionals for `Posterior.sd`."""
    return np.concatenate([part_design(layout, Part(weights, s), derivative) for weights, s, derivative in parts])
