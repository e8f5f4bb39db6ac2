"""The parts of an uncertainty budget against the GUM (JCGM 100:2008): H.1, F.2.2.1 and table E.1."""

from __future__ import annotations

import numpy as np
import pytest
from ledger import Source, Value, check

from framevis.budgeting.components import combined, drift_per_row, expansion_um, relative_doubt, resolution_u

SOURCE = Source(
    "GUM (JCGM 100:2008), H.1, F.2.2.1 and table E.1",
    "Least squares and uncertainty",
    "H.1 calibrates an end gauge of 50 mm: framevis's expansion and root sum of squares on its parts; without "
    "terms of second order, which framevis doesn't reckon (34 nm with them). Table E.1: by how much a standard "
    "deviation of n observations is itself uncertain, whole per cents; framevis takes the approximation of E.4.3.",
)
LENGTH_MM = 50.0
TABLE_E1 = ((10, 24), (20, 16), (30, 13), (50, 10))  # observations, %


def end_gauge() -> list[Value]:
    """H.1: table H.1 and H.1.3, nm."""
    difference = combined(5.8, 3.9, 6.7)  # u of d̄, of the comparator's random and systematic effects
    alpha = 1000.0 * expansion_um(0.58e-6, 0.0, 0.1, LENGTH_MM)  # l_s · θ̄ · u(δα)
    temperature = 1000.0 * expansion_um(11.5e-6, 0.0, 0.05 / np.sqrt(3.0), LENGTH_MM)  # l_s · α_s · u(δθ)
    whole = combined(25.0, difference, alpha, temperature)
    return [
        Value("H.1, u of the difference", "nm", 9.7, difference, "from memory", absolute=0.05),
        Value("H.1, u from the expansion's difference", "nm", 2.9, alpha, "from memory", absolute=0.05),
        Value("H.1, u from the temperatures' difference", "nm", 16.6, temperature, "from memory", absolute=0.05),
        Value("H.1, combined", "nm", 32.0, whole, "seen", absolute=0.5),
        # computed from parts that are rounded to 0.1 nm there
        Value("H.1, combined, with more digits", "nm", 31.66388, whole, "computed", absolute=0.02),
    ]


def values() -> list[Value]:
    doubt = [
        Value(
            f"E.1, doubt of s, {n} observations", "%", percent, 100 * relative_doubt(n - 1), "from memory", absolute=0.5
        )
        for n, percent in TABLE_E1
    ]
    return [
        *end_gauge(),
        Value("F.2.2.1, u of a step of 1", "1", 0.29, resolution_u(1.0), "seen", absolute=0.005),
        Value("F.2.2.1, u² of a step of 10", "1", 100.0 / 12.0, resolution_u(10.0) ** 2, "seen", relative=1e-6),
        *doubt,
    ]


def test_values() -> None:
    check(values())


def test_drift_between_repeated_stations() -> None:
    station, order = np.array([0, 1, 2, 1, 0]), np.arange(5.0)
    level = np.array([10.0, -4.0, 7.0])[station]
    assert drift_per_row(level + 0.5 * order, order, station) == pytest.approx(0.5)
    assert drift_per_row(level[:3], order[:3], station[:3]) == 0.0
