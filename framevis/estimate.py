"""The estimate: from all readings of a stage to every function of s, with covariance, draws and suspects.

One joint linear-Gaussian model: coefficients ~ N(0, spread²), unknowns of a sweep (offset, slope, drift) free.
Everything comes from the QR of the rows and one Cholesky factor of C = 1 + R S² Rᵀ, the covariance of what is left.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.linalg import block_diag

from framevis import priors
from framevis.deviations import Key, Known, Layout
from framevis.evidence import find_scales
from framevis.frame import Flags, Floats, Indices, Stage, SweepReadings
from framevis.rows import Rows, placed, reduce, rows_of
from framevis.solved import Solved, together

SUSPECT = 3.5  # standardised residual from which a reading is named
MOST_SUSPECTS = 0.12  # share of many readings beyond which it is not they but their u that is doubted
MANY_SUSPECTS = 0.05  # share from which it is so if the others scatter too, SCATTERED times their u
MOST_ROUNDS = 12  # of estimating and setting aside; two or three are usual
FEW = 8  # so many suspects are no share yet
SCATTERED = 1.15
LEAST_LEFT = 1e-6  # of P: a reading that nothing else speaks of can't be suspected
MOST_PAIRED = 400  # readings among which two are looked for that hide each other
NORMAL_MEDIAN = 0.6745  # of the absolute value of a standard normal


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
        """Posterior draws of all coefficients (size, count): prior draws, corrected by what the readings say of them
        (Matheron's rule). What no reading sees is drawn from its prior."""
        random = np.random.default_rng(seed)
        draws = self.prior[:, None] * random.standard_normal((self.layout.size, count))
        drawn = [solved.prior_draws(count, random) for solved in self.groups]
        pull = sum(solved.zeros.T @ wrong for solved, (_, wrong) in zip(self.groups, drawn, strict=True))
        for solved, (prior, wrong) in zip(self.groups, drawn, strict=True):
            zero = solved.root @ (solved.root.T @ pull)
            draws[solved.reduced.rows.columns] = prior + solved.from_white(wrong - solved.zeros @ zero)
        return draws

    def sd(self, functionals: Floats) -> Floats:
        """Posterior standard deviation (K,) of linear functionals (K, size)."""
        return np.asarray(np.sqrt(self.variance(functionals)))

    def variance(self, functionals: Floats) -> Floats:
        """Posterior variance (K,) of linear functionals (K, size)."""
        variance = np.sum(self._unseen(functionals) ** 2, axis=1) + np.sum(self._by_zero(functionals) ** 2, axis=1)
        for solved, part in self._seen_by(functionals):
            variance += solved.variance_given_zero(part)
        return np.asarray(variance)

    def covariance(self, one: Floats, other: Floats) -> Floats:
        """Posterior covariance (K, L) of linear functionals (K, size) and (L, size)."""
        total = self._unseen(one) @ self._unseen(other).T + self._by_zero(one) @ self._by_zero(other).T
        for solved, part in self._seen_by(one):
            total += solved.covariance_given_zero(part, other[:, solved.reduced.rows.columns])
        return np.asarray(total)

    def _seen_by(self, functionals: Floats) -> Iterator[tuple[Solved, Floats]]:
        """The groups whose functions occur in functionals (K, size), each with its part of them (K, n)."""
        for solved in self.groups:
            part = functionals[:, solved.reduced.rows.columns]
            if part.any():
                yield solved, part

    def _unseen(self, functionals: Floats) -> Floats:
        """Functionals (K, size) of what no reading sees, times its prior sd (K, unseen)."""
        seen = np.zeros(self.layout.size, dtype=bool)
        for solved in self.groups:
            seen[solved.reduced.rows.columns] = True
        return np.asarray(functionals[:, ~seen] * self.prior[~seen])

    def _by_zero(self, functionals: Floats) -> Floats:
        """How functionals (K, size) move with standard normals behind the unknowns that groups share (K, c)."""
        if not self.groups:
            return np.zeros((len(functionals), 0))
        root = self.groups[0].root
        moved = sum((solved.by_zero(part) for solved, part in self._seen_by(functionals)), np.zeros((1, len(root))))
        return np.asarray(np.broadcast_to(moved, (len(functionals), len(root))) @ root)

    def prior_sd(self, functionals: Floats) -> Floats:
        """Prior standard deviation (K,) of linear functionals (K, size)."""
        return np.asarray(np.sqrt(np.sum((functionals * self.prior) ** 2, axis=1)))

    @cached_property
    def checked(self) -> tuple[Checked, ...]:
        """Every sweep of the stage, reading by reading, against the estimate."""
        found = []
        for solved, aside in zip(self.groups, self.aside, strict=True):
            for readings, part in placed(solved.reduced.rows.sweeps):
                found.append(Checked(readings, solved.residual[part], solved.standardised[part], aside[part]))
        return tuple(found)

    def is_seen(self, key: Key) -> bool:
        """Whether any reading looks at a function at all."""
        place = self.layout.places[key].start
        return any(place in solved.reduced.rows.columns for solved in self.groups)


def estimate(layout: Layout, known: Known, stage: Stage) -> Posterior:
    """Estimate all functions of a frame from a stage's readings, suspects set aside.

    A reading whose deletion residual exceeds `SUSPECT` is set aside, the worst first, until none is left; then
    everything is estimated again, until the same readings are set aside twice running.
    """
    rows = rows_of(layout, known, stage.sweeps)
    posterior = fitted(layout, rows, [np.zeros(part.values.size, dtype=bool) for part in rows])
    for _ in range(MOST_ROUNDS - 1):
        found = [_suspects(solved, out) for solved, out in zip(posterior.groups, posterior.aside, strict=True)]
        if all(map(np.array_equal, found, posterior.aside)):
            break
        posterior = fitted(layout, rows, found, posterior.scales)
    return posterior


def fitted(layout: Layout, rows: list[Rows], aside: list[Flags], start: Floats | None = None) -> Posterior:
    """What rows, group by group, say if some of their readings are set aside, with the scales that suit all of them
    together. `start`: scales (kinds,) that may lie close."""
    spread, kind = priors.spread(layout), priors.scale_group(layout)
    reduced = [reduce(part, out) for part, out in zip(rows, aside, strict=True)]
    columns = [part.columns for part in rows]
    scales = find_scales(reduced, [spread[each] for each in columns], [kind[each] for each in columns], start)
    prior = spread * np.where(kind >= 0, np.exp(scales[kind]), 1.0)
    groups = together([Solved(part, prior[each]) for part, each in zip(reduced, columns, strict=True)])
    return Posterior(layout, groups, tuple(aside), scales, prior)


def _suspects(solved: Solved, aside: Flags) -> Flags:
    """Set aside what doesn't fit, the worst first: one bad reading makes its neighbours look bad, two hide each other.
    All are looked at anew, as the scales found with bad readings in the way may have blamed the wrong ones.

    Where too many don't fit, none is set aside: then the stated uncertainty is too small. So it is where those that
    are left scatter: gross errors leave the others in peace.
    """
    out = np.zeros(aside.size, dtype=bool)
    if aside.any():
        solved = replace(solved, reduced=reduce(solved.reduced.rows, out))
    if np.abs(solved.standardised).max(initial=0.0) <= SUSPECT:
        return out
    fit = _Fit.of(solved)
    while (worst := fit.worst(out)).size:
        if np.count_nonzero(out) + worst.size > max(FEW, MOST_SUSPECTS * out.size):
            return np.zeros_like(out)
        for i in worst:
            out[i] = True
            fit = fit.without(int(i))
    many = np.count_nonzero(out) > max(FEW, MANY_SUSPECTS * out.size)
    scatters = np.median(fit.standardised[~out]) > SCATTERED * NORMAL_MEDIAN
    return np.zeros_like(out) if many and scatters else out


@dataclass(frozen=True, eq=False)
class _Fit:
    """What readings are left of the fit: P = 1 − U K Uᵀ with U (N, k), K (k, k); e = P v (N,); P's diagonal (N,).

    Without reading i, P and e less P's i-th column times (Pᵢ, eᵢ) / Pᵢᵢ: K gains K uᵢ (K uᵢ)ᵀ / Pᵢᵢ.
    """

    u: Floats
    k: Floats
    e: Floats
    own: Floats

    @staticmethod
    def of(solved: Solved) -> _Fit:
        reduced = solved.reduced
        white = solved.white(np.eye(reduced.y.size))
        by_zero = white.T @ solved.zeros @ solved.root
        inside = np.eye(reduced.y.size) - white.T @ white + by_zero @ by_zero.T
        u = np.column_stack([reduced.q_free, reduced.q_rest])
        k = block_diag(np.eye(reduced.q_free.shape[1]), inside)
        return _Fit(u, k, solved.residual / reduced.u, 1.0 - np.sum((u @ k) * u, axis=1))

    @property
    def standardised(self) -> Floats:
        """Size of the deletion residuals (N,); 0 where nothing else speaks of a reading."""
        known = self.own > LEAST_LEFT
        return np.where(known, np.abs(self.e) / np.sqrt(np.where(known, self.own, 1.0)), 0.0)

    def without(self, i: int) -> _Fit:
        """A reading less."""
        pulled = self.k @ self.u[i]
        column = -self.u @ pulled
        column[i] += 1.0
        k = self.k + np.outer(pulled, pulled) / self.own[i]
        return _Fit(self.u, k, self.e - column * self.e[i] / self.own[i], self.own - column**2 / self.own[i])

    def worst(self, out: Flags) -> Indices:
        """The reading that doesn't fit at all, or the two of which neither fits without the other (≤ 2,).

        χ² falls by eᵢ²/Pᵢᵢ without reading i, by (eᵢ, eⱼ) P⁻¹ (eᵢ, eⱼ)ᵀ with the 2 × 2 part of P without i and j.
        """
        size = np.where(out, 0.0, self.standardised)
        worst = int(np.argmax(size))
        if size[worst] <= SUSPECT:
            return np.zeros(0, dtype=np.int64)
        kept = np.flatnonzero(~out & (self.own > LEAST_LEFT))
        kept = kept[np.argsort(-size[kept])[:MOST_PAIRED]]
        e, u, own = self.e[kept], self.u[kept], self.own[kept]
        p = -u @ self.k @ u.T
        crossed = np.outer(e**2, own) + np.outer(own, e**2) - 2.0 * np.outer(e, e) * p
        rest = 1.0 - p**2 / np.outer(own, own)
        both = np.where(rest > LEAST_LEFT, crossed / (np.outer(own, own) * np.maximum(rest, LEAST_LEFT)), 0.0)
        np.fill_diagonal(both, 0.0)
        i, j = np.unravel_index(int(np.argmax(both)), both.shape)
        if both[i, j] - max(size[kept[i]], size[kept[j]]) ** 2 > SUSPECT**2:
            return np.asarray(kept[[i, j]])
        return np.array([worst])
