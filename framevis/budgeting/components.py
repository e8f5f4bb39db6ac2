"""What a reading's uncertainty is made of, one small function each, with its source. Numbers in, numbers out."""

from __future__ import annotations

from math import sqrt

import numpy as np

from framevis.frame import Floats, Indices


def pooled_sd(values: Floats, group: Indices) -> tuple[float, int]:
    """Standard deviation of values (N,) about the means of their groups (N,), and its degrees of freedom.

    s² = Σ(x − x̄)² / Σ(n − 1): GUM (JCGM 100:2008) 4.2.2 for one group, pooled as in 4.2.4. Without a repeat: (0, 0).
    """
    _, place = np.unique(group, return_inverse=True)
    count = np.bincount(place)
    away = values - (np.bincount(place, weights=values) / count)[place]
    freedom = int(np.sum(count - 1))
    return (sqrt(float(away @ away) / freedom), freedom) if freedom else (0.0, 0)


def drift_per_row(values: Floats, order: Floats, group: Indices) -> float:
    """Least-squares drift per row of readings (N,), each station (group) having a level of its own.

    What a repeated station says of a drift that goes with time: GUM 3.2.4, corrected where it is known.
    """
    _, place = np.unique(group, return_inverse=True)
    count = np.bincount(place)
    dv, do = (each - (np.bincount(place, weights=each) / count)[place] for each in (values, order))
    across = float(do @ do)
    return float(do @ dv) / across if across > 0.0 else 0.0


def resolution_u(step: float) -> float:
    """Standard uncertainty of a reading given in steps: rectangular, step / √12 = 0.29 step (GUM F.2.2.1)."""
    return step / sqrt(12.0)


def relative_doubt(freedom: int) -> float:
    """By which share a standard deviation of so many degrees of freedom is itself uncertain: 1/√(2ν) (GUM E.4.3)."""
    return 1.0 / sqrt(2.0 * freedom)


def reversal_error(one: Floats, turned: Floats) -> Floats:
    """Half the difference of a run and of that with the reference turned over (or end for end): its own error.

    Straightedge and level alike: (A − B) / 2 (common practice). The mean of both is free of it.
    """
    return np.asarray((one - turned) / 2.0)


def expansion_um(alpha_one_per_k: float, alpha_other_per_k: float, kelvin: float, length_mm: float) -> float:
    """By how much two parts of one length differ at a temperature away from where they were alike: |Δα| ΔT L
    (GUM H.1.2; 20 °C is that of ISO 1)."""
    return abs((alpha_one_per_k - alpha_other_per_k) * kelvin) * length_mm * 1000.0


def combined(*uncertainties: float) -> float:
    """Root sum of squares of what does not hang together (GUM 5.1.2, equation 10)."""
    return sqrt(sum(u * u for u in uncertainties))
