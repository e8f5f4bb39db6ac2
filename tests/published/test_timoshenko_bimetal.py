"""Timoshenko 1925, Analysis of bi-metal thermostats (from memory): curvature of two strips of one width, h = t₁ + t₂,

κ = 6 (α₂ − α₁) ΔT (1 + m)² / (h (3 (1 + m)² + (1 + m n)(m² + 1/(m n)))), m = t₁/t₂, n = E₁/E₂; equals: 1.5 Δα ΔT / h.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from practice_gantry import ALUMINIUM

from framevis.frame import Beam, Material, Rail, Section, locked
from framevis.torque.warmth import Rectangle, beam_rectangles, curvature_per_k, warmth_of
from guides import GUIDE_15


def published(t1: float, t2: float, e1: float, e2: float, difference: float) -> float:
    m, n, h = t1 / t2, e1 / e2, t1 + t2
    return 6.0 * difference * (1 + m) ** 2 / (h * (3 * (1 + m) ** 2 + (1 + m * n) * (m**2 + 1 / (m * n))))


@pytest.mark.parametrize(
    ("t1", "t2", "e1", "e2"), [(1, 1, 100, 100), (10, 60, 206, 70), (0.5, 2, 70, 206), (3, 1, 1, 2)]
)
def test_curvature_is_that_of_two_strips(t1, t2, e1, e2) -> None:
    top = Rectangle(4.0, -t1 / 2.0, 15.0, t1, e1, 11.7e-6)
    below = Rectangle(4.0, -t1 - t2 / 2.0, 15.0, t2, e2, 23.6e-6)
    upward, left = curvature_per_k([top, below])
    # the lower strip grows more: the ends go up, the middle down
    assert upward == pytest.approx(-published(t1, t2, e1, e2, 23.6e-6 - 11.7e-6), rel=1e-9)
    assert left == pytest.approx(0.0, abs=1e-15)


def test_equal_strips_bend_by_one_and_a_half() -> None:
    parts = [Rectangle(0.0, n, 10.0, 2.0, 70.0, alpha) for n, alpha in ((1.0, 30e-6), (-1.0, 10e-6))]
    assert curvature_per_k(parts)[0] == pytest.approx(1.5 * 20e-6 / 4.0)


@pytest.mark.parametrize("mouth", ["toward_rails", "away_from_rails"])
def test_rectangles_of_a_channel_have_its_section_properties(mouth) -> None:
    """Channel 120 × 60 × 6: 2 971 296 and 466 571 mm⁴, computed with sectionproperties 3.10.2."""
    parts = beam_rectangles(Section("c", "channel", 120.0, 60.0, 6.0, mouth, ALUMINIUM))
    area = np.array([part.width * part.height for part in parts])
    t, n = (np.array([getattr(part, name) for part in parts]) for name in ("t", "n"))
    height, width = (np.array([getattr(part, name) for part in parts]) for name in ("height", "width"))
    middle = area @ n / area.sum()
    assert area @ (width**2 / 12.0 + t**2) == pytest.approx(2_971_296, abs=0.5)
    assert area @ (height**2 / 12.0 + (n - middle) ** 2) == pytest.approx(466_571, abs=0.5)
    edge = {"toward_rails": -60.0 + 6.0, "away_from_rails": 0.0}[mouth]
    assert n[0] + height[0] / 2.0 == edge  # where the web's upper side is
    assert (n + height / 2.0).max() == pytest.approx(0.0)
    assert (n - height / 2.0).min() == pytest.approx(-60.0)


def test_rectangles_of_a_box_are_the_outer_less_the_inner() -> None:
    parts = beam_rectangles(Section("b", "box", 100.0, 80.0, 5.0, None, ALUMINIUM))
    area = np.array([part.width * part.height for part in parts])
    n, height = (np.array([getattr(part, name) for part in parts]) for name in ("n", "height"))
    assert area.sum() == pytest.approx(100.0 * 80.0 - 90.0 * 70.0)
    assert area @ (height**2 / 12.0 + (n + 40.0) ** 2) == pytest.approx((100.0 * 80.0**3 - 90.0 * 70.0**3) / 12.0)


def beam_with(faces: tuple[float, ...]) -> tuple[Beam, tuple[Rail, ...]]:
    square = Section("s", "box", 80.0, 80.0, 4.0, None, ALUMINIUM)
    beam = Beam("b", square, locked([0, 0, 0]), locked([0, 1000, 0]), locked([0, 0, 1]))
    return beam, tuple(Rail(f"r{face:g}", beam, GUIDE_15, 0.0, 20.0, 25, face) for face in faces)


def test_a_rail_on_the_side_bows_sideways_as_one_on_top_bows_down() -> None:
    top, side, other = (warmth_of(*beam_with((face,))) for face in (0.0, 90.0, 270.0))
    assert top.bow_height_um < -10.0
    assert (side.bow_height_um, top.bow_lateral_um) == pytest.approx((0.0, 0.0), abs=1e-9)
    assert abs(side.bow_lateral_um) == pytest.approx(abs(top.bow_height_um))
    assert other.bow_lateral_um == pytest.approx(-side.bow_lateral_um)


def test_rails_on_opposite_faces_hold_each_other() -> None:
    assert warmth_of(*beam_with((0.0, 180.0))).bow_um == pytest.approx(0.0, abs=1e-9)


def test_the_bow_is_the_sag_of_a_chord() -> None:
    """κ L²/8 for a plate: the exact strip formula times 1000² / 8 mm, in µm."""
    plate = Section("p", "plate", 15.0, 20.0, 20.0, None, Material("aluminium", 70.0, 23.6e-6))
    beam, (rail,) = beam_with((0.0,))
    beam = replace(beam, section=plate)
    warmth = warmth_of(beam, (replace(rail, beam=beam),))
    expected = -1000.0 * published(10.0, 20.0, 206.0, 70.0, 11.9e-6) * 1000.0**2 / 8.0
    assert warmth.bow_height_um == pytest.approx(expected)
