"""Sag of a taut wire and of a bar on two supports, against textbook formulas and the supports that have names."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from framevis.sag import AIRY, bar_sag_um, wire_sag_um

LENGTH, WEIGHT, EI = 1000.0, 30.0, 8000.0  # mm, N/m, N·m²: invented
WHOLE = (0.0, LENGTH)


def bar(place: float, apart: float) -> float:
    """Sag of the bar at a place, its supports `apart` of its length and centred."""
    a = LENGTH * (1.0 - apart) / 2.0
    return float(bar_sag_um(np.array([place]), WHOLE, (a, LENGTH - a), WEIGHT, EI)[0])


def test_wire_in_the_middle() -> None:
    # wL²/8T: common practice of alignment by taut wire. 0.05 N/m, 2 m, 100 N: 250 µm
    assert wire_sag_um(np.array([1000.0]), 2000.0, 0.05, 100.0)[0] == pytest.approx(250.0)


def test_wire_against_the_catenary() -> None:
    weight, span, tension = 0.05, 2.0, 100.0  # N/m, m, N; catenary y = c (cosh(x/c) − 1), c = H/w
    c = tension / weight
    x = np.array([0.0, 0.3, 1.0, 1.7, 2.0])
    hangs = c * (np.cosh(span / 2 / c) - np.cosh((x - span / 2) / c)) * 1e6
    assert wire_sag_um(x * 1000.0, span * 1000.0, weight, tension) == pytest.approx(hangs, abs=1e-3)


def test_bar_on_its_ends() -> None:
    # 5wL⁴/384EI, Roark's Formulas for Stress and Strain, table 8.1, case 2e (memory)
    metres = LENGTH / 1000.0
    assert bar(LENGTH / 2.0, 1.0) == pytest.approx(5.0 * WEIGHT * metres**4 / (384.0 * EI) * 1e6, rel=1e-9)


def test_bar_held_in_its_middle_hangs_like_two_cantilevers() -> None:
    # wl⁴/8EI for a cantilever, Roark, table 8.1, case 2a (memory)
    half = LENGTH / 2000.0
    assert bar(0.0, 1e-4) == pytest.approx(WEIGHT * half**4 / (8.0 * EI) * 1e6, rel=1e-3)
    assert bar(0.0, 1e-4) == pytest.approx(bar(LENGTH, 1e-4), rel=1e-9)


def slope_at_the_end(apart: float) -> float:
    return bar(1.0, apart) - bar(0.0, apart)


def test_airy_points_keep_the_ends_level() -> None:
    found = brentq(slope_at_the_end, 0.4, 0.8, xtol=1e-9)
    assert found == pytest.approx(0.577, abs=5e-4)  # common practice: supports 0.577 L apart for level ends
    assert pytest.approx(AIRY, abs=2e-3) == found  # 1/√3: Airy's own (memory); the difference is that of 1 mm in 1000
    assert slope_at_the_end(AIRY) == pytest.approx(0.0, abs=1e-4)


def test_supports_for_the_least_sag() -> None:
    # ends and middle equally low at 0.5536 L apart (0.554: memory, handbooks of metrology)
    level = brentq(lambda apart: bar(0.0, apart) - bar(LENGTH / 2.0, apart), 0.5, 0.6)
    assert level == pytest.approx(0.554, abs=5e-4)


def test_supports_need_not_lie_in_the_middle() -> None:
    """Against a bar of many short pieces: EI y″ = M summed up twice."""
    ends, supports = (100.0, 1300.0), (250.0, 900.0)
    s = np.linspace(*ends, 24001)
    whole = WEIGHT / 1000.0 * (ends[1] - ends[0])
    right = whole * (np.mean(ends) - supports[0]) / (supports[1] - supports[0])
    moment = -WEIGHT / 1000.0 * (s - ends[0]) ** 2 / 2.0
    moment += (whole - right) * np.maximum(s - supports[0], 0.0) + right * np.maximum(s - supports[1], 0.0)
    step = s[1] - s[0]
    slope = np.concatenate([[0.0], np.cumsum((moment[1:] + moment[:-1]) / 2.0) * step])
    y = np.concatenate([[0.0], np.cumsum((slope[1:] + slope[:-1]) / 2.0) * step]) / (EI * 1e6) * 1000.0
    low, high = np.interp(supports, s, y)
    y -= low + (high - low) * (s - supports[0]) / (supports[1] - supports[0])
    at = np.array([100.0, 200.0, 400.0, 600.0, 850.0, 1300.0])
    assert bar_sag_um(at, ends, supports, WEIGHT, EI) == pytest.approx(-np.interp(at, s, y), rel=1e-4, abs=1e-5)
