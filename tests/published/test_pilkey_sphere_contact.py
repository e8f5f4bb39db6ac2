"""Pilkey, Formulas for Stress, Strain, and Structural Matrices, Table 9-2: constants of a sphere on a sphere or plane.

a = 0.721 ∛(P K C), p₀ = 0.918 ∛(P / (K² C²)), δ = 1.040 ∛(P² C² / K), with K the sphere's diameter (on a plane) and
C = (1 − ν₁²)/E₁ + (1 − ν₂²)/E₂.
"""

from __future__ import annotations

import pytest
from ledger import Source, Value, check

from framevis.contact import hertz, reduced_modulus

SOURCE = Source(
    "Pilkey, Formulas for Stress, Strain, and Structural Matrices, Table 9-2",
    "Contact of ball and groove",
    "A sphere of diameter K on a plane: a = 0.721 ∛(PKC), p₀ = 0.918 ∛(P/(K²C²)), δ = 1.040 ∛(P²C²/K), with two "
    "loads, diameters and materials.",
)
CASES = ((100.0, 10.0, 207e3), (7.0, 3.175, 70e3))  # N, mm, MPa of the sphere; the plane is steel


def constants(load_n: float, diameter_mm: float, e_mpa: float) -> list[Value]:
    e_star = reduced_modulus(e_mpa, 0.3, 207e3, 0.29)
    c = (1 - 0.3**2) / e_mpa + (1 - 0.29**2) / 207e3
    contact = hertz(load_n, 2.0 / diameter_mm, 2.0 / diameter_mm, e_star)
    found = {
        "a": (0.721, contact.a_mm / (load_n * diameter_mm * c) ** (1 / 3)),
        "b, as a": (0.721, contact.b_mm / (load_n * diameter_mm * c) ** (1 / 3)),
        "p₀": (0.918, contact.pressure_mpa * (diameter_mm * c) ** (2 / 3) / load_n ** (1 / 3)),
        "δ": (1.040, contact.approach_mm / (load_n**2 * c**2 / diameter_mm) ** (1 / 3)),
    }
    where = f"{load_n:g} N, {diameter_mm:g} mm"
    return [
        Value(f"constant of {name}, {where}", "1", constant, ours, "seen", relative=0.0005)
        for name, (constant, ours) in found.items()
    ]


def values() -> list[Value]:
    return [value for case in CASES for value in constants(*case)]


def test_values() -> None:
    check(values())


@pytest.mark.parametrize(("load_n", "diameter_mm", "e_mpa"), CASES)
def test_the_contact_of_a_sphere_is_a_circle(load_n, diameter_mm, e_mpa) -> None:
    contact = hertz(load_n, 2.0 / diameter_mm, 2.0 / diameter_mm, reduced_modulus(e_mpa, 0.3, 207e3, 0.29))
    assert contact.a_mm == pytest.approx(contact.b_mm, rel=1e-9)
