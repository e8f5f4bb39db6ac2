"""Pilkey, Formulas for Stress, Strain, and Structural Matrices, Table 9-2: constants of a sphere on a sphere or plane.

a = 0.721 ∛(P K C), p₀ = 0.918 ∛(P / (K² C²)), δ = 1.040 ∛(P² C² / K), with K the sphere's diameter (on a plane) and
C = (1 − ν₁²)/E₁ + (1 − ν₂²)/E₂. The three constants: seen.
"""

from __future__ import annotations

import pytest

from framevis.contact import hertz, reduced_modulus


@pytest.mark.parametrize(("load_n", "diameter_mm", "e_mpa"), [(100.0, 10.0, 207e3), (7.0, 3.175, 70e3)])
def test_sphere_on_a_plane(load_n, diameter_mm, e_mpa):
    e_star = reduced_modulus(e_mpa, 0.3, 207e3, 0.29)
    c = (1 - 0.3**2) / e_mpa + (1 - 0.29**2) / 207e3
    contact = hertz(load_n, 2.0 / diameter_mm, 2.0 / diameter_mm, e_star)
    assert contact.a_mm == pytest.approx(contact.b_mm, rel=1e-9)
    assert contact.a_mm / (load_n * diameter_mm * c) ** (1 / 3) == pytest.approx(0.721, rel=0.0005)
    assert contact.pressure_mpa * (diameter_mm * c) ** (2 / 3) / load_n ** (1 / 3) == pytest.approx(0.918, rel=0.0005)
    assert contact.approach_mm / (load_n**2 * c**2 / diameter_mm) ** (1 / 3) == pytest.approx(1.040, rel=0.0005)
