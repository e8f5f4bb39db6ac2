"""Least squares with uncertainties: the one place where parameters are fitted to readings.

Takes whitened residuals and their Jacobian, gives values and covariance by the law of propagation (GUM 5.2; for a
fit, (JᵀJ)⁻¹).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import chdtrc

from framevis.frame import Floats

UNLIKELY = 0.01  # chance below which the residuals say that the uncertainties were too small
Function = Callable[[Floats], Floats]


@dataclass(frozen=True, eq=False)
class Solution:
    """Parameters (p,) with the covariance (p, p) that residuals (n,) of unit variance give them."""

    values: Floats
    covariance: Floats
    residual: Floats

    @property
    def over(self) -> int:
        """Degrees of freedom."""
        return self.residual.size - self.values.size

    @property
    def scatter(self) -> float:
        """Residual standard deviation; 1 where the readings scatter as their uncertainties say."""
        return float(np.sqrt(self.residual @ self.residual / self.over))

    @property
    def widening(self) -> float:
        """By what the uncertainties must be multiplied: the scatter, where it is larger than chance allows, else 1."""
        unlikely = chdtrc(self.over, float(self.residual @ self.residual)) < UNLIKELY
        return self.scatter if unlikely else 1.0


def fit(residual: Function, jacobian: Function, start: Floats, lower: Floats, upper: Floats) -> Solution:
    """The parameters that make whitened residuals (n,) smallest within bounds (p,).

    `jacobian` (n, p) of the residuals. The covariance is that of the fit without bounds.
    """
    from scipy.optimize import least_squares  # slow to load, and needed for --calibrated only

    size = np.maximum(np.abs(start), 1e-12)
    found = least_squares(
        residual, start, jacobian, bounds=(lower, upper), x_scale=size, ftol=1e-14, xtol=1e-14, gtol=1e-14
    )
    # columns brought to one length first: parameters differ by orders of magnitude
    jac = np.asarray(found.jac, dtype=np.float64)
    long = np.maximum(np.linalg.norm(jac, axis=0), 1e-300)
    unit = np.linalg.pinv(jac / long)
    root = unit / long[:, None]
    return Solution(np.asarray(found.x), np.asarray(root @ root.T), np.asarray(found.fun))
