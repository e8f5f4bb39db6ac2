"""Timoshenko 1925, Analysis of bi-metal thermostats: curvature of two strips of one width, h = t₁ + t₂,

κ = 6 (α₂ − α₁) ΔT (1 + m)² / (h (3 (1 + m)² + (1 + m n)(m² + 1/(m n)))), m = t₁/t₂, n = E₁/E₂; equals: 1.5 Δα ΔT / h.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from ledger import Source, Value, check
from practice_gantry import ALUMINIUM

from framevis.frame import Beam, Rail, Section, locked
from framevis.torque.warmth import Rectangle, curvature_per_k, warmth_of
from guides import GUIDE_15

SOURCE = Source(
    "Timoshenko 1925, Analysis of bi-metal thermostats",
    "Warmth",
    "κ = 6(α₂ − α₁)ΔT(1 + m)²/(h(3(1 + m)² + (1 + mn)(m² + 1/(mn)))), m = t₁/t₂, n = E₁/E₂, of two strips that "
    "can't slip: the formula is from memory. Upper strip 11.7, lower strip 23.6e-6/K: warmed, the ends go up, "
    "which framevis counts negative. Bow of a plate of 15 × 20 mm, a metre long, with a rail of 10 mm: κL²/8.",
)
STEEL, LIGHT = 11.7e-6, 23.6e-6
PAIRS = ((1, 1, 100, 100), (10, 60, 206, 70), (0.5, 2, 70, 206), (3, 1, 1, 2))  # t₁, t₂ mm, E₁, E₂ GPa
PER_KM = 1e6  # of 1/mm


def published(t1: float, t2: float, e1: float, e2: float, difference: float) -> float:
    m, n, h = t1 / t2, e1 / e2, t1 + t2
    return 6.0 * difference * (1 + m) ** 2 / (h * (3 * (1 + m) ** 2 + (1 + m * n) * (m**2 + 1 / (m * n))))


def of_two_strips(t1: float, t2: float, e1: float, e2: float) -> list[Value]:
    top = Rectangle(4.0, -t1 / 2.0, 15.0, t1, e1, STEEL)
    under = Rectangle(4.0, -t1 - t2 / 2.0, 15.0, t2, e2, LIGHT)
    upward, left = curvature_per_k([top, under]).tolist()
    expected = -PER_KM * published(t1, t2, e1, e2, LIGHT - STEEL)
    what = f"{t1:g} mm of {e1:g} GPa on {t2:g} mm of {e2:g} GPa"
    return [
        Value(f"{what}: upward, 1 K", "1/km", expected, PER_KM * upward, "from memory", relative=1e-9),
        Value(f"{what}: sideways, 1 K", "1/km", 0.0, PER_KM * left, "from memory", absolute=1e-9),
    ]


def of_equal_strips() -> Value:
    parts = [Rectangle(0.0, n, 10.0, 2.0, 70.0, alpha) for n, alpha in ((1.0, 30e-6), (-1.0, 10e-6))]
    expected, ours = PER_KM * 1.5 * 20e-6 / 4.0, PER_KM * float(curvature_per_k(parts)[0])
    return Value("equal strips, 1.5 Δα/h", "1/km", expected, ours, "from memory", relative=1e-6)


def bow_of_a_plate() -> Value:
    """The exact strip formula times L²/8, in µm."""
    beam, (rail,) = beam_with((0.0,))
    beam = replace(beam, section=Section("p", "plate", 15.0, 20.0, 20.0, None, ALUMINIUM))
    warmth = warmth_of(beam, (replace(rail, beam=beam),))
    expected = -1000.0 * published(10.0, 20.0, 206.0, 70.0, 11.9e-6) * 1000.0**2 / 8.0
    return Value(
        "bow of a plate with its rail, 1 K", "µm", expected, warmth.bow_height_um, "from memory", relative=1e-6
    )


def beam_with(faces: tuple[float, ...]) -> tuple[Beam, tuple[Rail, ...]]:
    square = Section("s", "box", 80.0, 80.0, 4.0, None, ALUMINIUM)
    beam = Beam("b", square, locked([0, 0, 0]), locked([0, 1000, 0]), locked([0, 0, 1]))
    return beam, tuple(Rail(f"r{face:g}", beam, GUIDE_15, 0.0, 20.0, 25, face) for face in faces)


def values() -> list[Value]:
    return [*(value for pair in PAIRS for value in of_two_strips(*pair)), of_equal_strips(), bow_of_a_plate()]


def test_values() -> None:
    check(values())


def test_a_rail_on_the_side_bows_sideways_as_one_on_top_bows_down() -> None:
    top, side, other = (warmth_of(*beam_with((face,))) for face in (0.0, 90.0, 270.0))
    assert top.bow_height_um < -10.0
    assert (side.bow_height_um, top.bow_lateral_um) == pytest.approx((0.0, 0.0), abs=1e-9)
    assert abs(side.bow_lateral_um) == pytest.approx(abs(top.bow_height_um))
    assert other.bow_lateral_um == pytest.approx(-side.bow_lateral_um)


def test_rails_on_opposite_faces_hold_each_other() -> None:
    assert warmth_of(*beam_with((0.0, 180.0))).bow_um == pytest.approx(0.0, abs=1e-9)
