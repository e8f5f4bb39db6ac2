"""Sag of a taut wire and of a bar on two supports, against textbook formulas and the supports that have names."""

from __future__ import annotations

import numpy as np
import pytest
from ledger import Source, Value, check
from scipy.optimize import brentq

from framevis.sag import AIRY, bar_sag_um, wire_sag_um

SOURCE = Source(
    "Roark's Formulas for Stress and Strain, table 8.1; catenary; supports that have names",
    "Sag",
    "Wire: 0.05 N/m, 2 m, 100 N; middle wL²/8T is common practice of alignment by taut wire, the catenary is "
    "exact. Bar: 1 m, 30 N/m, 8000 N·m²; on its ends 5wL⁴/384EI (case 2e), held in its middle two cantilevers "
    "wl⁴/8EI (case 2a). Airy: ends that are level; least sag: ends and middle equally low (handbooks of "
    "metrology).",
)
LENGTH, WEIGHT, EI = 1000.0, 30.0, 8000.0  # mm, N/m, N·m²: invented
WHOLE = (0.0, LENGTH)
WIRE_WEIGHT, SPAN, TENSION = 0.05, 2.0, 100.0  # N/m, m, N


def bar(place: float, apart: float) -> float:
    """Sag of the bar at a place, its supports `apart` of its length and centred."""
    a = LENGTH * (1.0 - apart) / 2.0
    return float(bar_sag_um(np.array([place]), WHOLE, (a, LENGTH - a), WEIGHT, EI)[0])


def wire(metres: float) -> float:
    return float(wire_sag_um(np.array([1000.0 * metres]), 1000.0 * SPAN, WIRE_WEIGHT, TENSION)[0])


def catenary_um(metres: float) -> float:
    """y = c (cosh(x/c) − 1), c = H/w."""
    c = TENSION / WIRE_WEIGHT
    return float(c * (np.cosh(SPAN / 2 / c) - np.cosh((metres - SPAN / 2) / c)) * 1e6)


def slope_at_the_end(apart: float) -> float:
    return bar(1.0, apart) - bar(0.0, apart)


def of_the_wire() -> list[Value]:
    catenary = [
        Value(f"wire {x:g} m from its end, catenary", "µm", catenary_um(x), wire(x), "computed", absolute=1e-3)
        for x in (0.0, 0.3, 1.0, 1.7, 2.0)
    ]
    return [Value("wire in the middle, wL²/8T", "µm", 250.0, wire(1.0), "common practice", relative=1e-6), *catenary]


def of_the_bar() -> list[Value]:
    whole, half = LENGTH / 1000.0, LENGTH / 2000.0
    ends = 5.0 * WEIGHT * whole**4 / (384.0 * EI) * 1e6
    cantilever = WEIGHT * half**4 / (8.0 * EI) * 1e6
    close = 1e-4  # supports so close together stand for a clamp, hence 0.1 %
    return [
        Value("bar on its ends, middle", "µm", ends, bar(LENGTH / 2.0, 1.0), "from memory", relative=1e-9),
        Value("bar held in its middle, end", "µm", cantilever, bar(0.0, close), "from memory", relative=1e-3),
        Value(
            "bar held in its middle, other end", "µm", bar(0.0, close), bar(LENGTH, close), "computed", relative=1e-9
        ),
    ]


def of_the_supports() -> list[Value]:
    level_ends = brentq(slope_at_the_end, 0.4, 0.8, xtol=1e-9)
    least = brentq(lambda apart: bar(0.0, apart) - bar(LENGTH / 2.0, apart), 0.5, 0.6)
    return [
        Value("supports for level ends, over the length", "1", 0.577, level_ends, "common practice", absolute=5e-4),
        # found by the slope of the last mm in 1000, hence 2e-3
        Value("the same against Airy's 1/√3", "1", 3.0**-0.5, level_ends, "from memory", absolute=2e-3),
        Value("Airy's distance as framevis has it", "1", 0.577, AIRY, "from memory", absolute=5e-4),
        Value(
            "fall of the last mm on Airy's supports", "µm", 0.0, slope_at_the_end(AIRY), "from memory", absolute=1e-4
        ),
        Value("supports for the least sag, over the length", "1", 0.554, least, "from memory", absolute=5e-4),
    ]


def values() -> list[Value]:
    return of_the_wire() + of_the_bar() + of_the_supports()


def test_values() -> None:
    check(values())


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
