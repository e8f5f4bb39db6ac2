"""Readings of a later stage held against what an earlier stage and the shims fitted since say of them.

Takes the estimate of the earlier stage, the known functions and readings of the later one; gives for each reading
what it should be, up to what the later sweeps leave open on their own (offset, slope, zero of a level, drift), with
its standard uncertainty, and χ² of all readings or of one sweep.

    readings − what is known = H c + F f + noise,   c ~ N(m, Σ) from the earlier stage, f free
    e = readings − what is known − H m,   covariance V = H Σ Hᵀ + diag(u²),   f by generalised least squares
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.linalg import null_space, qr, solve_triangular
from scipy.special import chdtrc

from framevis.deviations import Known
from framevis.estimate import Posterior
from framevis.frame import Flags, Floats, SweepReadings
from framevis.rows import Rows, assemble, placed

SEEN = 1e-5  # part of a pattern's size, in standard deviations, that must outlast the unknowns for it to be seen


@dataclass(frozen=True, eq=False)
class Fit:
    """χ² and its degrees of freedom. `p`: the chance of a χ² as large where all is as expected."""

    chi2: float
    freedom: int

    @property
    def p(self) -> float:
        return float(chdtrc(self.freedom, self.chi2)) if self.freedom > 0 else 1.0


@dataclass(frozen=True, eq=False)
class Held:
    """N readings of a later stage, in the order of `rows`. µm, or mrad for levels.

    `off` (N,) is e above; `covariance` (N, N) is V; `counts` (N,): where False the reading is judged, but fits
    nothing (a feeler where no gap is expected); `aside` (N, b): patterns that are fitted away besides F, each a bad
    reading.
    """

    rows: Rows
    off: Floats
    covariance: Floats
    counts: Flags
    aside: Floats

    @cached_property
    def _lower(self) -> Floats:
        kept = self.covariance[np.ix_(self.counts, self.counts)]
        return np.asarray(np.linalg.cholesky(kept), dtype=np.float64)

    @cached_property
    def _open(self) -> Floats:
        """What is open (N, q + b)."""
        return np.hstack([self.rows.free, self.aside])

    @cached_property
    def _basis(self) -> Floats:
        """Orthonormal basis (m, rank) of what is open, in standard deviations."""
        return span(self._to_sd(self._open))

    def _to_sd(self, patterns: Floats) -> Floats:
        return np.asarray(solve_triangular(self._lower, patterns[self.counts], lower=True))

    def white(self, patterns: Floats) -> Floats:
        """Patterns (N, K) in independent standard deviations (m, K), what the unknowns could take up taken off.

        A pattern of which nothing is left but rounding is zero.
        """
        size = self._to_sd(patterns)
        left = size - self._basis @ (self._basis.T @ size)
        gone = np.linalg.norm(left, axis=0) <= SEEN * np.linalg.norm(size, axis=0)
        return np.where(gone, 0.0, left)

    @cached_property
    def white_off(self) -> Floats:
        return self.white(self.off[:, None])[:, 0]

    @property
    def fit(self) -> Fit:
        return Fit(float(self.white_off @ self.white_off), len(self._lower) - self._basis.shape[1])

    @cached_property
    def _left(self) -> Floats:
        """(N, N): what takes the sweeps' own unknowns, fitted from the readings that count, off."""
        gain = np.zeros((self._open.shape[1], self.off.size))
        solve = np.linalg.pinv(self._to_sd(self._open), rcond=1e-10)
        gain[:, self.counts] = solve_triangular(self._lower.T, solve.T, lower=False).T
        free = self.rows.free.shape[1]
        return np.asarray(np.eye(self.off.size) - self.rows.free @ gain[:free])

    @cached_property
    def residual(self) -> Floats:
        """Found less expected (N,)."""
        return np.asarray(self._left @ self.off)

    @cached_property
    def u(self) -> Floats:
        """Standard uncertainty of found less expected (N,): of the earlier estimate, the reading, and the fit of F."""
        return np.asarray(np.sqrt(np.maximum(np.einsum("ij,ji->i", self._left @ self.covariance, self._left.T), 0.0)))

    def sweep_fit(self, part: slice) -> Fit:
        """One sweep by itself: its own unknowns, those that it shares included, left to it alone."""
        at = np.flatnonzero(self.counts[part]) + part.start
        if not at.size:
            return Fit(0.0, 0)
        opened = self._open[at]
        kept = null_space(opened[:, np.any(opened != 0.0, axis=0)].T) if np.any(opened) else np.eye(at.size)
        off = kept.T @ self.off[at]
        if not off.size:
            return Fit(0.0, 0)
        lower = np.linalg.cholesky(kept.T @ self.covariance[np.ix_(at, at)] @ kept)
        white = solve_triangular(lower, off, lower=True)
        return Fit(float(white @ white), off.size)

    @cached_property
    def parts(self) -> tuple[tuple[SweepReadings, slice], ...]:
        """Each sweep with its place among the N readings."""
        return tuple(placed(self.rows.sweeps))

    def without(self, reading: int) -> Held:
        """The same with one reading set aside."""
        pattern = np.eye(self.off.size)[:, [reading]]
        return replace(self, aside=np.hstack([self.aside, pattern]))

    def less(self, change: Floats) -> Held:
        """The same after a change (N,) of the readings has been explained."""
        return replace(self, off=self.off - change)


def hold(before: Posterior, known_after: Known, sweeps: tuple[SweepReadings, ...]) -> Held:
    """Hold the sweeps of a later stage against the estimate of an earlier one."""
    rows = assemble(before.layout, known_after, sweeps)
    design = np.zeros((rows.values.size, before.layout.size))
    design[:, rows.columns] = rows.design
    off = rows.values - design @ before.mean
    covariance = before.covariance(design, design) + np.diag(rows.u**2)
    values = np.concatenate([readings.values for readings in sweeps])
    gap = np.concatenate([np.full(readings.values.size, readings.sweep.kind == "gap") for readings in sweeps])
    counts = ~(gap & (values - off < 0.0))
    return Held(rows, off, covariance, counts, np.zeros((off.size, 0)))


def span(patterns: Floats) -> Floats:
    """Orthonormal basis of the span of patterns (m, K)."""
    if not patterns.shape[1]:
        return patterns
    scaled = patterns / np.maximum(np.linalg.norm(patterns, axis=0), 1e-300)
    q, r, _ = qr(scaled, mode="economic", pivoting=True)
    return np.asarray(q[:, : int(np.count_nonzero(np.abs(np.diag(r)) > 1e-10))])
