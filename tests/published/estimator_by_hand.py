"""framevis's estimator fed with plain x and y: rows of one strip and what else is unknown, without a frame."""

from __future__ import annotations

import numpy as np
from scipy.linalg import eigh

from framevis.rows import Reduced, Rows, reduce
from framevis.solved import Solved
from framevis.strip import LINEAR, Strip, _energies, _spline_cubics


def reduced(y: np.ndarray, u: np.ndarray, design: np.ndarray, free: np.ndarray) -> Reduced:
    """Readings y (N,) ± u (N,) = design (N, n) · coefficients + free (N, q) · unknowns, through framevis's QR."""
    rows = Rows((), y, u, design, free, (), np.ones(free.shape[1]), np.arange(design.shape[1]), np.zeros((y.size, 0)))
    return reduce(rows, np.zeros(y.size, dtype=bool))


def least_squares(found: Reduced) -> tuple[np.ndarray, np.ndarray, float]:
    """Values and standard deviations of the unknowns where nothing else moves, and the residual one."""
    left = found.rows.values / found.u - found.q_free @ found.y_free
    residual = float(np.sqrt(left @ left / (left.size - found.y_free.size)))
    inverse = np.linalg.inv(found.r_free)
    return inverse @ found.y_free, residual * np.sqrt(np.sum(inverse**2, axis=1)), residual


def rms_of_wiener_process(strip: Strip, tau: float) -> float:
    """The rms for which a strip's prior is that of an integrated Wiener process of intensity τ², ∫f″² / τ².

    With Bᵥₖ = λₖ M vₖ, vₖ of unit mean square, the strip writes f = rms Σ zₖ vₖ / (√λₖ ν), ν² = Σ 1/λₖ, zₖ ~ N(0, 1).
    On [0, 1] its bending energy is Σ (rms / ν)² zₖ², so Σ zₖ² = ν² ∫f″² / rms²; on a length L, ∫f″² ds gains L³.
    """
    mass, bending = _energies(_spline_cubics(strip.intervals))
    eigenvalue = eigh(bending, mass, eigvals_only=True)[LINEAR:]
    return tau * strip.length_mm**1.5 * float(np.sqrt(np.sum(1.0 / eigenvalue)))


def smooth(strip: Strip, s: np.ndarray, y: np.ndarray, sigma: float | np.ndarray, tau: float, diffuse: float) -> Solved:
    """Posterior of one function of a strip: bending prior of intensity τ², offset and slope as good as free.

    `sigma`: one for all readings, or one each (N,).
    """
    spread = np.full(strip.size, rms_of_wiener_process(strip, tau))
    spread[:LINEAR] = diffuse
    found = reduced(y, np.broadcast_to(np.asarray(sigma, dtype=float), y.shape), strip.shapes(s), np.zeros((y.size, 0)))
    return Solved(found, spread)
