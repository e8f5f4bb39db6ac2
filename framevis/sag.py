"""How far a taut wire and a straightedge on two supports hang, from their data.

Takes weights in N/m, lengths in mm, a tension in N, a bending stiffness in N·m²; gives µm, positive downward.
"""

from __future__ import annotations

from math import sqrt

import numpy as np

from framevis.frame import Floats

AIRY = 1.0 / sqrt(3.0)  # distance of the supports of a bar with level ends, over its length: 0.577 (Airy 1846; memory)


def wire_sag_um(place_mm: Floats, span_mm: float, weight_n_per_m: float, tension_n: float) -> Floats:
    """Sag (N,) of a taut wire at places (N,) from one support: w x (L − x) / 2T, in the middle w L² / 8T.

    The parabola of a wire that hangs little (common practice; the catenary differs by (sag/L)² of it).
    N/m · mm² / N = µm.
    """
    return np.asarray(weight_n_per_m * place_mm * (span_mm - place_mm) / (2.0 * tension_n))


def bar_sag_um(
    place_mm: Floats,
    ends_mm: tuple[float, float],
    supports_mm: tuple[float, float],
    weight_n_per_m: float,
    ei_nm2: float,
) -> Floats:
    """Sag (N,) of a uniform bar below the line of its two supports, at places (N,) along it.

    Euler–Bernoulli: EI y″ = M by Macaulay's brackets, y = 0 at the supports, no moment at the free ends; simply
    supported at its ends it hangs 5wL⁴/384EI (Roark's Formulas for Stress and Strain, table 8.1; memory).
    """
    start, end = ends_mm
    a, b = supports_mm
    whole = weight_n_per_m * (end - start)
    force_b = whole * ((start + end) / 2.0 - a) / (b - a)
    forces = ((a, whole - force_b), (b, force_b))

    def bent(x: Floats) -> Floats:
        lifted = sum(force * np.maximum(x - at, 0.0) ** 3 / 6.0 for at, force in forces)
        return np.asarray(weight_n_per_m * (x - start) ** 4 / 24.0 - lifted)

    x, at_a, at_b = np.asarray(place_mm, dtype=np.float64), *bent(np.array([a, b]))
    line = at_a + (at_b - at_a) * (x - a) / (b - a)
    return np.asarray((bent(x) - line) * 1e-6 / ei_nm2)  # N/m · mm⁴ / (N·m²) = 1e-9 mm, which is 1e-6 µm
