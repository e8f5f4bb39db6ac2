"""A shimmed rail against textbook beams: reactions, deflection, equilibrium of continuous beams on settled supports.

Continuous beams by the three-moment equation with support settlement (Timoshenko, Strength of Materials, part I,
statically indeterminate beams; from memory), and by a stiffness matrix written here (two degrees of freedom a
support; any book on matrix analysis of structures). Supports hold both ways: screws pull the rail down.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from framevis.frame import Floats, Rail, RailSpot, Shim
from framevis.planning.rail_bending import bending_stiffness_nmm2, screw_forces_n
from framevis.rail_shims import beam_through, lift_and_roll_at_screws
from guides import GUIDE_15
from plankit import beam, pair

SPAN_MM = 40.0
EI_NMM2 = 206_000.0 * 15.0 * 10.0**3 / 12.0  # b h³ / 12 of a steel bar 15 × 10 mm


def rail(screws: int, ei_nm2: float | None = None) -> Rail:
    on = beam(40.0 * screws + 60.0)
    return pair(on, replace(GUIDE_15, rail_ei_nm2=ei_nm2), screws)[0]


def stiffness_matrix_solution(spans_mm: Floats, ei: float, lift_mm: Floats) -> tuple[Floats, Floats]:
    """Reactions (N, up) and slopes at supports of a continuous beam whose supports are raised by `lift_mm`.

    Element of length L: EI/L³ [[12, 6L, −12, 6L], [6L, 4L², −6L, 2L²], [−12, −6L, 12, −6L], [6L, 2L², −6L, 4L²]].
    """
    count = spans_mm.size + 1
    k = np.zeros((2 * count, 2 * count))
    for i, length in enumerate(spans_mm):
        a, b, c = 12.0, 6.0 * length, length**2
        element = np.array([[a, b, -a, b], [b, 4 * c, -b, 2 * c], [-a, -b, a, -b], [b, 2 * c, -b, 4 * c]])
        k[2 * i : 2 * i + 4, 2 * i : 2 * i + 4] += ei / length**3 * element
    moved, turned = np.arange(0, 2 * count, 2), np.arange(1, 2 * count, 2)
    slopes = np.linalg.solve(k[np.ix_(turned, turned)], -k[np.ix_(turned, moved)] @ lift_mm)
    return k[np.ix_(moved, moved)] @ lift_mm + k[np.ix_(moved, turned)] @ slopes, slopes


def test_outline_as_a_full_rectangle_of_steel() -> None:
    assert bending_stiffness_nmm2(GUIDE_15) == pytest.approx(EI_NMM2)
    assert bending_stiffness_nmm2(replace(GUIDE_15, rail_ei_nm2=150.0)) == pytest.approx(150e6)


@pytest.mark.parametrize("lift_um", [20.0, 40.0, -30.0])
def test_two_spans_with_the_middle_support_raised(lift_um: float) -> None:
    """M at the middle = 3 E I d / L²; each end then carries M / L, the middle twice that: 6 E I d / L³."""
    force = screw_forces_n(rail(3), np.array([0.0, lift_um, 0.0]))
    whole = 6.0 * EI_NMM2 * lift_um / 1000.0 / SPAN_MM**3
    np.testing.assert_allclose(force, [-whole / 2.0, whole, -whole / 2.0], rtol=1e-9)


def test_a_cantilever_tip_deflection_is_the_same_beam() -> None:
    """By symmetry half of it is a cantilever of span L pushed by P = 3 E I d / L³ at its tip."""
    force = screw_forces_n(rail(3), np.array([0.0, 20.0, 0.0]))
    assert -force[0] == pytest.approx(3.0 * EI_NMM2 * 0.020 / SPAN_MM**3, rel=1e-9)


@pytest.mark.parametrize(
    ("lift_um", "worked"),
    [
        # three equal spans, three-moment equation 4 M₁ + M₂ = −6EI/L² (d₀ − 2d₁ + d₂), M₁ + 4 M₂ = …, in EI d / L³:
        ([0.0, 20.0, 0.0, 0.0], [-3.6, 9.6, -8.4, 2.4]),  # computed: M₁ = 3.6, M₂ = −2.4 EI d / L²
        ([0.0, 20.0, 20.0, 0.0], [-1.2, 1.2, 1.2, -1.2]),  # M₁ = M₂ = 1.2
        ([20.0, 0.0, 0.0, 0.0], [1.6, -3.6, 2.4, -0.4]),  # M₁ = −1.6, M₂ = 0.4
    ],
)
def test_three_spans(lift_um: list[float], worked: list[float]) -> None:
    unit = EI_NMM2 * 0.020 / SPAN_MM**3
    force = screw_forces_n(rail(4), np.array(lift_um))
    np.testing.assert_allclose(force / unit, worked, atol=1e-9)
    matrix, _ = stiffness_matrix_solution(np.full(3, SPAN_MM), EI_NMM2, np.array(lift_um) / 1000.0)
    np.testing.assert_allclose(force, matrix, rtol=1e-9, atol=1e-9)


LIFTS = st.lists(st.sampled_from([0.0, 10.0, 20.0, 40.0, 100.0]), min_size=3, max_size=12)


@settings(max_examples=60, deadline=None)
@given(LIFTS)
def test_any_staircase_is_the_stiffness_matrix_and_in_equilibrium(lifts: list[float]) -> None:
    lift = np.array(lifts)
    on = rail(lift.size)
    force, s = screw_forces_n(on, lift), on.screw_stations_mm
    matrix, slopes = stiffness_matrix_solution(np.diff(s), EI_NMM2, lift / 1000.0)
    np.testing.assert_allclose(force, matrix, rtol=1e-7, atol=1e-6)
    assert force.sum() == pytest.approx(0.0, abs=1e-6)
    assert force @ s == pytest.approx(0.0, abs=1e-3)
    curve = beam_through(s, lift)
    np.testing.assert_allclose(curve(s, 0), lift, atol=1e-9)
    np.testing.assert_allclose(curve(s, 1), 1000.0 * slopes, atol=1e-7)  # µm per mm


@pytest.mark.parametrize("at", [0.25, 0.5, 0.75])
def test_deflection_between_screws(at: float) -> None:
    """Hermite: between supports the loaded-nowhere beam is a cubic through lifts and slopes of both ends."""
    lift = np.array([0.0, 20.0, 20.0, 60.0, 40.0])
    on = rail(5)
    s = on.screw_stations_mm
    _, slopes = stiffness_matrix_solution(np.diff(s), EI_NMM2, lift / 1000.0)
    x, slope = at, 1000.0 * slopes * SPAN_MM
    hermite = (
        (1 - 3 * x**2 + 2 * x**3) * lift[:-1]
        + (x - 2 * x**2 + x**3) * slope[:-1]
        + (3 * x**2 - 2 * x**3) * lift[1:]
        + (-(x**2) + x**3) * slope[1:]
    )
    np.testing.assert_allclose(beam_through(s, lift)(s[:-1] + at * SPAN_MM, 0), hermite, atol=1e-9)


def test_straight_lifts_need_no_force() -> None:
    np.testing.assert_allclose(screw_forces_n(rail(8), 7.0 * np.arange(8.0)), 0.0, atol=1e-9)


def test_one_span_bends_nothing() -> None:
    np.testing.assert_array_equal(screw_forces_n(rail(2), np.array([0.0, 40.0])), [0.0, 0.0])


def test_beyond_its_end_screws_a_rail_is_straight() -> None:
    on = rail(4)
    curve, s = beam_through(on.screw_stations_mm, np.array([0.0, 20.0, 0.0, 40.0])), on.screw_stations_mm
    beyond = np.array([s[0] - 15.0, s[-1] + 15.0])
    ends = curve(s[[0, -1]], 0) + np.array([-15.0, 15.0]) * curve(s[[0, -1]], 1)
    np.testing.assert_allclose(curve(beyond, 0), ends, atol=1e-9)


def test_an_edge_shim_lifts_its_edge_and_leaves_the_other() -> None:
    """Rail 15 mm wide: left edge 20 µm up, right edge on its seat: middle 10 µm, roll 20/15 mrad to the right."""
    on = rail(3)
    lift, roll = lift_and_roll_at_screws(on, [Shim("now", RailSpot("outer", 2, "left"), 20.0)])
    left, right = lift + roll * 15.0 / 2.0, lift - roll * 15.0 / 2.0
    np.testing.assert_allclose(left, [0.0, 20.0, 0.0])
    np.testing.assert_allclose(right, [0.0, 0.0, 0.0], atol=1e-12)
