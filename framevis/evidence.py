"""How wide the priors are: the scales of the curved parts that make the readings most likely.

Takes reduced rows, gives one scale a kind of function: marginal likelihood times a weak prior around the tolerance
class, by Newton's method. With C = 1 + Σ e^(2θ) K, gradient and Hessian are traces.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve, cholesky, solve_triangular

from framevis import priors
from framevis.frame import Floats, Indices
from framevis.rows import Reduced

NEWTON_STEPS = 60
SETTLED = 1e-10  # of the gradient: Newton ends far closer than a verdict needs, so that no rounding shows


@dataclass(frozen=True, eq=False)
class Piece:
    """One group of sweeps: C at scale 0 (m, m), for each kind its columns R S (m, nₖ) and kernel R S² Rᵀ; y (m,)."""

    fixed: Floats
    columns: dict[int, Floats]
    kernels: dict[int, Floats]
    y: Floats


@dataclass(frozen=True, eq=False)
class Evidence:
    """−log(likelihood · prior) up to a constant, its gradient, Hessian, and Fisher's information, over all kinds."""

    value: float
    gradient: Floats
    hessian: Floats
    fisher: Floats


def find_scales(groups: list[Reduced], spreads: list[Floats], kinds: list[Indices]) -> Floats:
    """Log of the scale of each kind (kinds,) that maximises marginal likelihood times weak prior.

    Newton with the exact Hessian where it is positive definite, Fisher's information where it is not.
    """
    pieces = [_kernels(reduced, spread, kind) for reduced, spread, kind in zip(groups, spreads, kinds, strict=True)]
    log_scale = np.zeros(len(priors.SCALED))
    here = _evidence(log_scale, pieces)
    for _ in range(NEWTON_STEPS):
        if np.abs(here.gradient).max() < SETTLED:
            break
        step = _downhill(here)
        trial = _evidence(log_scale + step, pieces)
        while trial.value > here.value + 1e-12 * abs(here.value) and np.abs(step).max() > 1e-9:
            step = step / 2.0
            trial = _evidence(log_scale + step, pieces)
        log_scale, here = log_scale + step, trial
        if np.abs(step).max() < 1e-12:
            break
    return log_scale


def _downhill(here: Evidence) -> Floats:
    """Newton's step, of 1.5 at most in any log scale."""
    try:
        step: Floats = -cho_solve(cho_factor(here.hessian), here.gradient)
    except np.linalg.LinAlgError:
        step = np.asarray(-np.linalg.solve(here.fisher, here.gradient), dtype=np.float64)
    return np.asarray(step / max(1.0, np.abs(step).max() / 1.5))


def _kernels(reduced: Reduced, spread: Floats, kind: Indices) -> Piece:
    scaled = reduced.r * spread
    linear = scaled[:, kind < 0]
    columns = {int(k): np.ascontiguousarray(scaled[:, kind == k]) for k in np.unique(kind[kind >= 0])}
    kernels = {k: column @ column.T for k, column in columns.items()}
    return Piece(np.eye(len(scaled)) + linear @ linear.T, columns, kernels, reduced.y)


def _evidence(log_scale: Floats, pieces: list[Piece]) -> Evidence:
    weak = 1.0 / priors.LOG_SCALE_SD**2
    count = log_scale.size
    value = 0.5 * weak * float(log_scale @ log_scale)
    gradient, hessian, fisher = weak * log_scale, weak * np.eye(count), weak * np.eye(count)
    for piece in pieces:
        scale = {k: float(np.exp(2.0 * log_scale[k])) for k in piece.kernels}
        lower = cholesky(piece.fixed + sum(scale[k] * kernel for k, kernel in piece.kernels.items()), lower=True)
        beta = solve_triangular(lower, piece.y, lower=True)
        value += float(np.sum(np.log(np.diag(lower))) + 0.5 * beta @ beta)
        white = {k: solve_triangular(lower, columns, lower=True) for k, columns in piece.columns.items()}
        seen = {k: scale[k] * (part @ part.T) for k, part in white.items()}  # L⁻¹ Kₖ L⁻ᵀ
        pulled = {k: part @ beta for k, part in seen.items()}
        for k in seen:
            balance = float(np.trace(seen[k]) - beta @ pulled[k])
            gradient[k] += balance
            hessian[k, k] += 2.0 * balance
            for j in seen:
                trace = float(np.vdot(seen[k], seen[j]))
                fisher[k, j] += 2.0 * trace
                hessian[k, j] += 4.0 * float(pulled[k] @ pulled[j]) - 2.0 * trace
    return Evidence(value, gradient, hessian, fisher)
