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
    """One group of sweeps: C at scale 0 (m, m); the columns R S (m, n) of all kinds, one kind after the other at
    `places`; for each kind its kernel R S² Rᵀ (m, m); A and y side by side (m, c + 1)."""

    fixed: Floats
    columns: Floats
    places: dict[int, slice]
    kernels: dict[int, Floats]
    right: Floats


@dataclass(frozen=True, eq=False)
class Evidence:
    """−log(likelihood · prior) up to a constant, its gradient, Hessian, and Fisher's information, over all kinds."""

    value: float
    gradient: Floats
    hessian: Floats
    fisher: Floats


def find_scales(
    groups: list[Reduced], spreads: list[Floats], kinds: list[Indices], start: Floats | None = None
) -> Floats:
    """Log of the scale of each kind (kinds,) that maximises marginal likelihood times weak prior.

    Newton with the exact Hessian where it is positive definite, Fisher's information where it is not. `start`: scales
    that may lie close.
    """
    pieces = [_piece(reduced, spread, kind) for reduced, spread, kind in zip(groups, spreads, kinds, strict=True)]
    log_scale = np.zeros(len(priors.SCALED)) if start is None else start
    if not pieces:
        return log_scale
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


def _piece(reduced: Reduced, spread: Floats, kind: Indices) -> Piece:
    scaled = reduced.r * spread
    linear = scaled[:, kind < 0]
    parts = {int(k): scaled[:, kind == k] for k in np.unique(kind[kind >= 0])}
    ends = np.cumsum([0, *(part.shape[1] for part in parts.values())])
    places = {k: slice(a, b) for k, a, b in zip(parts, ends[:-1], ends[1:], strict=True)}
    columns = np.concatenate([np.zeros((len(scaled), 0)), *parts.values()], axis=1)
    kernels = {k: part @ part.T for k, part in parts.items()}
    right = np.column_stack([reduced.a, reduced.y])
    return Piece(np.eye(len(scaled)) + linear @ linear.T, columns, places, kernels, right)


@dataclass(frozen=True, eq=False)
class White:
    """A group at some scales, whitened by C = LLᵀ: ln|L|, L⁻¹A (m, c), L⁻¹y (m,), and L⁻¹KₖL⁻ᵀ (m, m) a kind."""

    log_det: float
    a: Floats
    y: Floats
    seen: dict[int, Floats]


def _whitened(piece: Piece, log_scale: Floats) -> White:
    scale = {k: float(np.exp(2.0 * log_scale[k])) for k in piece.kernels}
    lower = cholesky(piece.fixed + sum(scale[k] * kernel for k, kernel in piece.kernels.items()), lower=True)
    right = solve_triangular(lower, piece.right, lower=True)
    columns = solve_triangular(lower, piece.columns, lower=True)
    seen = {k: scale[k] * (columns[:, place] @ columns[:, place].T) for k, place in piece.places.items()}
    return White(float(np.sum(np.log(np.diag(lower)))), right[:, :-1], right[:, -1], seen)


def _evidence(log_scale: Floats, pieces: list[Piece]) -> Evidence:
    """Unknowns that groups share have no prior: −2 ln likelihood = yᵀPy + ln|C| + ln|M| (+ what doesn't change), where
    P = C⁻¹ − C⁻¹A M⁻¹ AᵀC⁻¹ and M = AᵀC⁻¹A over all groups."""
    white = [_whitened(piece, log_scale) for piece in pieces]
    inverse = np.linalg.inv(np.sum([each.a.T @ each.a for each in white], axis=0))
    pull = np.sum([each.a.T @ each.y for each in white], axis=0)
    shared = inverse @ pull
    weak = 1.0 / priors.LOG_SCALE_SD**2
    value = sum(each.log_det + 0.5 * float(each.y @ each.y) for each in white)
    value -= 0.5 * (float(pull @ shared) + float(np.linalg.slogdet(inverse)[1]))
    gradient, trace, bent = _traces(white, inverse, shared, log_scale.size)
    curved = 4.0 * bent - 2.0 * trace + 2.0 * np.diag(gradient)
    kinds = weak * np.eye(log_scale.size)
    whole = value + 0.5 * weak * float(log_scale @ log_scale)
    return Evidence(whole, weak * log_scale + gradient, kinds + curved, kinds + 2.0 * trace)


def _traces(white: list[White], inverse: Floats, shared: Floats, kinds: int) -> tuple[Floats, Floats, Floats]:
    """tr PKₖ − yᵀPKₖPy (kinds,); tr PKₖPKⱼ and yᵀPKₖPKⱼPy (kinds, kinds), over all groups."""
    balance, trace, bent = np.zeros(kinds), np.zeros((kinds, kinds)), np.zeros((kinds, kinds))
    through, pull = np.zeros((kinds, *inverse.shape)), np.zeros((kinds, shared.size))
    for each in white:
        left = each.y - each.a @ shared
        pulled = {k: seen @ left for k, seen in each.seen.items()}
        zeros = {k: seen @ each.a for k, seen in each.seen.items()}
        for k in each.seen:
            balance[k] += float(np.trace(each.seen[k]) - left @ pulled[k])
            through[k] += each.a.T @ zeros[k]
            pull[k] += each.a.T @ pulled[k]
            for j in each.seen:
                trace[k, j] += np.vdot(each.seen[k], each.seen[j]) - 2.0 * np.vdot(inverse, zeros[k].T @ zeros[j])
                bent[k, j] += pulled[k] @ pulled[j]
    through = inverse @ through
    balance -= np.trace(through, axis1=1, axis2=2)
    trace += np.einsum("kab,jba->kj", through, through)
    return balance, trace, bent - pull @ inverse @ pull.T
