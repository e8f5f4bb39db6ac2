"""How wide the priors are: the scales of the curved parts that make the readings most likely.

Takes reduced rows, gives one scale a kind of function: marginal likelihood times a weak prior around the tolerance
class, by Newton's method. With C = 1 + Σ e^(2θ) K, gradient and Hessian are traces.
"""

from __future__ import annotations

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from framevis import priors
from framevis.frame import Floats, Indices
from framevis.rows import Reduced

NEWTON_STEPS = 60


def find_scales(groups: list[Reduced], spreads: list[Floats], kinds: list[Indices]) -> Floats:
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
        step: Floats = -cho_solve(cho_factor(hessian), gradient)
    except np.linalg.LinAlgError:
        step = np.asarray(-np.linalg.solve(fisher, gradient), dtype=np.float64)
    return np.asarray(step / max(1.0, np.abs(step).max() / 1.5))


def _kernels(reduced: Reduced, spread: Floats, kind: Indices) -> tuple[Floats, dict[int, Floats], Floats]:
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
        factor = cho_factor(np.asarray(fixed + sum(scaled.values())), lower=True)
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
