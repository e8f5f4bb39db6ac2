"""One group of sweeps, solved for given scales of the priors: mean, covariance, draws, residuals of its readings.

Coefficients are S times unit normals; with C = 1 + R S² Rᵀ everything comes from one Cholesky factor L of C. What other
groups say of the unknowns z that all share enters as information about z; otherwise groups are independent.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.linalg import solve_triangular

from framevis.frame import Floats
from framevis.rows import Reduced

UNKNOWN = 1e-12  # of the largest information on any shared unknown: none


@dataclass(frozen=True, eq=False)
class Told:
    """What readings say of the shared unknowns z: information (c, c), and information · z (c,)."""

    information: Floats
    pull: Floats


@dataclass(frozen=True, eq=False)
class Solved:
    """A group with the prior sd `spread` (n,) of its coefficients, scales included. `told`: by all other groups."""

    reduced: Reduced
    spread: Floats
    told: Told | None = None

    @cached_property
    def scaled(self) -> Floats:
        return np.asarray(self.reduced.r * self.spread)

    @cached_property
    def lower(self) -> Floats:
        """Cholesky factor L of C = 1 + R S² Rᵀ (m, m)."""
        c = self.scaled @ self.scaled.T
        c[np.diag_indices_from(c)] += 1.0
        return np.asarray(np.linalg.cholesky(c), dtype=np.float64)

    def white(self, right: Floats) -> Floats:
        """L⁻¹ of vectors (m,) or columns (m, K)."""
        return np.asarray(solve_triangular(self.lower, right, lower=True))

    @cached_property
    def zeros(self) -> Floats:
        """L⁻¹A (m, c)."""
        return self.white(self.reduced.a)

    @cached_property
    def tells(self) -> Told:
        """What this group's own readings say of z."""
        return Told(self.zeros.T @ self.zeros, self.zeros.T @ self._white_y)

    @cached_property
    def _known(self) -> Told:
        """What all groups say of z."""
        own = self.tells
        return own if self.told is None else Told(own.information + self.told.information, own.pull + self.told.pull)

    @cached_property
    def root(self) -> Floats:
        """Z (c, c) with ZZᵀ the posterior covariance of z; 0 where nothing is known of z, nor is it needed."""
        size, turn = np.linalg.eigh(self._known.information)
        known = size > UNKNOWN * size.max(initial=0.0)
        return np.asarray(turn * np.divide(1.0, np.sqrt(np.abs(size)), out=np.zeros(size.size), where=known))

    @cached_property
    def zero(self) -> Floats:
        """Posterior mean of z (c,)."""
        return np.asarray(self.root @ (self.root.T @ self._known.pull))

    @cached_property
    def _scaled_white(self) -> Floats:
        """L⁻¹ R S (m, n)."""
        return self.white(self.scaled)

    def from_white(self, white: Floats) -> Floats:
        """Coefficients (n,) or (n, K) that answer what was read, L⁻¹(y − A z) (m,) or (m, K)."""
        return np.asarray((self.spread * (self._scaled_white.T @ white).T).T)

    @cached_property
    def _left(self) -> Floats:
        """L⁻¹(y − A z) (m,)."""
        return self._white_y - self.zeros @ self.zero

    @cached_property
    def mean(self) -> Floats:
        """Posterior mean of the coefficients (n,)."""
        return self.from_white(self._left)

    def prior_draws(self, count: int, random: np.random.Generator) -> tuple[Floats, Floats]:
        """Draws (n, count) from the prior, and L⁻¹ of what the readings find wrong with them (m, count)."""
        prior = random.standard_normal((self.spread.size, count))
        noise = random.standard_normal((self.reduced.y.size, count))
        wrong = self.white(self.reduced.y[:, None] - self.scaled @ prior - noise)
        return self.spread[:, None] * prior, wrong

    def variance_given_zero(self, functionals: Floats) -> Floats:
        """Variance (K,) of linear functionals (K, n) of the coefficients if z were known."""
        scaled = functionals * self.spread
        known = self._scaled_white @ scaled.T
        return np.asarray(np.maximum(np.sum(scaled**2, axis=1) - np.sum(known**2, axis=0), 0.0))

    def covariance_given_zero(self, one: Floats, other: Floats) -> Floats:
        """Covariance (K, L) of functionals (K, n) and (L, n) if z were known."""
        a, b = one * self.spread, other * self.spread
        return np.asarray(a @ b.T - (self._scaled_white @ a.T).T @ (self._scaled_white @ b.T))

    def by_zero(self, functionals: Floats) -> Floats:
        """How the mean of functionals (K, n) moves with z (K, c)."""
        return np.asarray(-(functionals * self.spread) @ (self._scaled_white.T @ self.zeros))

    def left_of(self, whitened: Floats) -> Floats:
        """P v (N,) or (N, K): what is left of whitened readings v when all unknowns explain of them what they can."""
        reduced = self.reduced
        inside = reduced.q_rest.T @ whitened
        white = self.white(inside)
        white = white - self.zeros @ (self.root @ (self.root.T @ (self.zeros.T @ white)))
        explained = reduced.q_free @ (reduced.q_free.T @ whitened) + reduced.q_rest @ inside
        return np.asarray(whitened - explained + self._seen.T @ white)

    @cached_property
    def _seen(self) -> Floats:
        """L⁻¹ of the readings' own rows Qᵀ (m, N)."""
        return self.white(self.reduced.q_rest.T)

    @cached_property
    def residual(self) -> Floats:
        """Each reading less what the estimate, the sweeps' unknowns included, says it should be (N,), µm or mrad."""
        reduced = self.reduced
        fitted = reduced.q_free @ reduced.y_free + reduced.q_rest @ reduced.y - self._seen.T @ self._left
        return np.asarray(reduced.rows.values - fitted * reduced.u)

    @cached_property
    def kept(self) -> Floats:
        """Pᵢᵢ (N,): how much of its own error a reading's residual shows."""
        reduced, by_zero = self.reduced, self._seen.T @ self.zeros @ self.root
        outside = 1.0 - np.sum(reduced.q_free**2, axis=1) - np.sum(reduced.q_rest**2, axis=1)
        return np.asarray(outside + np.sum(self._seen**2, axis=0) - np.sum(by_zero**2, axis=1))

    @cached_property
    def standardised(self) -> Floats:
        """Residual of each reading from what all the others say, over its standard deviation (N,).

        Deletion residuals: (Py)ᵢ / Pᵢᵢ with variance 1/Pᵢᵢ, where P takes all unknowns out.
        """
        p = np.maximum(self.kept, 1e-14)
        deletion = self.residual / p
        spread = np.maximum(1.0 / p - 1.0, 0.0) * self.reduced.u**2 + self.reduced.rows.u**2
        return np.where(self.kept > 1e-9, deletion / np.sqrt(spread), 0.0)

    @cached_property
    def chi_squared(self) -> float:
        """vᵀPv of the whitened readings, up to what depends only on what others tell."""
        return self._outside + float(self._white_y @ self._white_y - self._known.pull @ self.zero)

    @cached_property
    def improbability(self) -> float:
        """−2 ln likelihood of the group's readings, N ln 2π and what depends only on what others tell left out."""
        return self.alone - float(self._known.pull @ self.zero) + self._log_information

    @cached_property
    def alone(self) -> float:
        """−2 ln likelihood if all shared unknowns were 0."""
        return self._outside + float(self._white_y @ self._white_y) + 2.0 * float(np.sum(np.log(np.diag(self.lower))))

    @cached_property
    def _white_y(self) -> Floats:
        return self.white(self.reduced.y)

    @cached_property
    def _outside(self) -> float:
        """Square of what no unknown can explain of the whitened readings."""
        reduced = self.reduced
        whitened = reduced.rows.values / reduced.u
        return float(whitened @ whitened - reduced.y_free @ reduced.y_free - reduced.y @ reduced.y)

    @cached_property
    def _log_information(self) -> float:
        """ln of the determinant of all information on z, directions of which nothing is known left out."""
        known = np.sum(self.root**2, axis=0)
        return -float(np.sum(np.log(known[known > 0.0])))


def together(groups: Sequence[Solved]) -> tuple[Solved, ...]:
    """The same groups, each told what all the others say of the unknowns they share."""
    told = []
    for group in groups:
        nothing = np.zeros_like(group.tells.information), np.zeros_like(group.tells.pull)
        others = [other.tells for other in groups if other is not group]
        information = sum((other.information for other in others), nothing[0])
        told.append(Told(information, sum((other.pull for other in others), nothing[1])))
    return tuple(replace(group, told=each) for group, each in zip(groups, told, strict=True))


def improbability(groups: Sequence[Solved]) -> float:
    """−2 ln likelihood of the readings of all groups (≥ 1) together, N ln 2π left out."""
    together_with, *others = groups
    return together_with.improbability + sum(group.alone for group in others)
