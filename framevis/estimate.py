"""The estimate: from all readings of a stage to every function of s, with covariance, draws and suspects.

One joint linear-Gaussian model: coefficients ~ N(0, spread²), unknowns of a sweep (offset, slope, drift) free.
Everything comes from the QR of the rows and one Cholesky factor of C = 1 + R S² Rᵀ, the covariance of what is left.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.linalg import cho_solve, solve_triangular

from framevis import priors
from framevis.deviations import Key, Known, Layout
from framevis.evidence import find_scales
from framevis.frame import Flags, Floats, Stage, SweepReadings
from framevis.rows import Reduced, assemble, hang_together, reduce

SUSPECT = 3.5  # standardised residual from which a reading is named
MOST_SUSPECTS = 0.05  # share of many readings beyond which it is not they but their u that is doubted
FEW = 8  # so many suspects are no share yet


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
        return np.asarray(np.linalg.cholesky(c), dtype=np.float64)

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
        return np.asarray(np.maximum(np.sum(whitened**2, axis=1) - np.sum(known**2, axis=0), 0.0))

    def covariance(self, one: Floats, other: Floats) -> Floats:
        """Posterior covariance (K, L) of two sets of linear functionals (K, n), (L, n)."""
        a, b = one * self.spread, other * self.spread
        return np.asarray(a @ b.T - (self.scaled @ a.T).T @ self._solve(self.scaled @ b.T))

    @cached_property
    def residual(self) -> Floats:
        """Each reading less what the estimate, the sweeps' unknowns included, says it should be (N,), µm or mrad."""
        reduced = self.reduced
        fitted = reduced.q_free @ reduced.y_free + reduced.q_rest @ (reduced.y - self._solve(reduced.y))
        return np.asarray(reduced.rows.values - fitted * reduced.u)

    @cached_property
    def standardised(self) -> Floats:
        """Residual of each reading from what all the others say, over its standard deviation (N,).

        Deletion residuals: (Py)ᵢ / Pᵢᵢ with variance 1/Pᵢᵢ, where P = M − Q(1 − C⁻¹)Qᵀ and M takes the unknowns out.
        """
        reduced = self.reduced
        inner = solve_triangular(self.lower, reduced.q_rest.T, lower=True)
        leverage = 1.0 - np.sum(reduced.q_free**2, axis=1) - np.sum(reduced.q_rest**2, axis=1)
        p = leverage + np.sum(inner**2, axis=0)
        deletion = self.residual / np.maximum(p, 1e-14)
        spread = np.maximum(1.0 / np.maximum(p, 1e-14) - 1.0, 0.0) * reduced.u**2 + reduced.rows.u**2
        return np.where(p > 1e-9, deletion / np.sqrt(spread), 0.0)


@dataclass(frozen=True, eq=False)
class Checked:
    """The readings of one sweep held against the estimate. Arrays (N,): `residual` in µm or mrad, `standardised`
    deletion residuals, `aside` those that didn't count."""

    readings: SweepReadings
    residual: Floats
    standardised: Floats
    aside: Flags

    @property
    def suspect(self) -> Flags:
        """Readings to take again (N,)."""
        return np.asarray(self.aside | (np.abs(self.standardised) > SUSPECT))


@dataclass(frozen=True, eq=False)
class Posterior:
    """What the readings of a stage say of all functions of a frame.

    `scales` (kinds,) of the curved parts; `groups` the sweeps that hang together, solved; `aside` for each of
    them the readings (N,) set aside as suspect.
    """

    layout: Layout
    groups: tuple[Solved, ...]
    aside: tuple[Flags, ...]
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
        return np.asarray(np.sqrt(variance + np.sum(unseen**2, axis=1)))

    def covariance(self, one: Floats, other: Floats) -> Floats:
        """Posterior covariance (K, L) of linear functionals (K, size) and (L, size)."""
        seen = np.zeros(self.layout.size, dtype=bool)
        total = np.zeros((len(one), len(other)))
        for solved in self.groups:
            columns = solved.reduced.rows.columns
            seen[columns] = True
            total += solved.covariance(one[:, columns], other[:, columns])
        return np.asarray(total + (one[:, ~seen] * self.prior[~seen] ** 2) @ other[:, ~seen].T)

    def prior_sd(self, functionals: Floats) -> Floats:
        """Prior standard deviation (K,) of linear functionals (K, size)."""
        return np.asarray(np.sqrt(np.sum((functionals * self.prior) ** 2, axis=1)))

    @cached_property
    def checked(self) -> tuple[Checked, ...]:
        """Every sweep of the stage, reading by reading, against the estimate."""
        found = []
        for solved, aside in zip(self.groups, self.aside, strict=True):
            start = 0
            for readings in solved.reduced.rows.sweeps:
                part = slice(start, start + readings.values.size)
                found.append(Checked(readings, solved.residual[part], solved.standardised[part], aside[part]))
                start = part.stop
        return tuple(found)

    def is_seen(self, key: Key) -> bool:
        """Whether any reading looks at a function at all."""
        place = self.layout.places[key].start
        return any(place in solved.reduced.rows.columns for solved in self.groups)


def estimate(layout: Layout, known: Known, stage: Stage) -> Posterior:
    """Estimate all functions of a frame from a stage's readings, suspects set aside.

    A reading whose deletion residual exceeds `SUSPECT` is set aside, the worst first, until none is left.
    """
    spread, kind = priors.spread(layout), priors.scale_group(layout)
    rows = [assemble(layout, known, sweeps) for sweeps in hang_together(stage.sweeps)]
    spreads, kinds = [spread[part.columns] for part in rows], [kind[part.columns] for part in rows]
    aside = [np.zeros(part.values.size, dtype=bool) for part in rows]
    while True:
        reduced = [reduce(part, out) for part, out in zip(rows, aside, strict=True)]
        scales = find_scales(reduced, spreads, kinds)
        factor = np.where(kind >= 0, np.exp(scales[kind]), 1.0)
        groups = [Solved(part, (spread * factor)[part.rows.columns]) for part in reduced]
        found = [_suspects(solved, out) for solved, out in zip(groups, aside, strict=True)]
        if sum(map(np.count_nonzero, found)) == sum(map(np.count_nonzero, aside)):
            break  # readings are only ever added, so this ends
        aside = found
    return Posterior(layout, tuple(groups), tuple(aside), scales, spread * factor)


def _suspects(solved: Solved, aside: Flags) -> Flags:
    """Set aside what doesn't fit, the worst first: one bad reading makes its neighbours look bad.

    Where many don't fit, none is set aside: then the stated uncertainty is too small.
    """
    out = aside.copy()
    if np.count_nonzero(np.abs(solved.standardised) > SUSPECT) > max(FEW, MOST_SUSPECTS * out.size):
        return out
    while True:
        size = np.where(out, 0.0, np.abs(solved.standardised))
        worst = int(np.argmax(size))
        if size[worst] <= SUSPECT or np.count_nonzero(out) >= max(FEW, MOST_SUSPECTS * out.size):
            return out
        out[worst] = True
        solved = replace(solved, reduced=reduce(solved.reduced.rows, out))
