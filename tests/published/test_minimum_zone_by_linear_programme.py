"""ISO 12780-1, minimum-zone reference line: the convex hull's answer against a linear programme's (HiGHS).

Two independent ways must agree: smallest h with |y − a − b x| ≤ h at all points.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ledger import Source, Value, check
from scipy.optimize import linprog
from test_moody_1955_surface_plate import LINES, heights

from framevis.straightness import straightness

SOURCE = Source(
    "ISO 12780-1, minimum-zone reference line, by a linear programme (HiGHS)",
    "Straightness",
    "No published value was readable. Two independent ways must agree, framevis's convex hull and a linear "
    "programme: on the eight lines of Moody's surface plate here, on 80 random ones in the test beside.",
)
TIGHT = {"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10}


def zone_by_linear_programme(x: np.ndarray, y: np.ndarray) -> float:
    one = np.ones_like(x)
    sides = np.vstack([np.column_stack([-one, -x, -one]), np.column_stack([one, x, -one])])
    free = [(None, None), (None, None), (0.0, None)]
    found = linprog([0.0, 0.0, 1.0], sides, np.concatenate([-y, y]), bounds=free, method="highs-ds", options=TIGHT)
    assert found.success
    return 2.0 * found.fun


def values() -> list[Value]:
    listed = []
    for line in LINES:
        x, y, _ = heights(line)
        found = straightness(x, y).minimum_zone.straightness
        listed.append(Value(f"{line}, zone", "µin", zone_by_linear_programme(x, y), found, "computed", absolute=1e-9))
    return listed


def test_values() -> None:
    check(values())


@given(
    steps=st.lists(st.floats(0.05, 1.0), min_size=2, max_size=40),
    seed=st.integers(0, 2**32 - 1),
    curvature=st.floats(-3.0, 3.0),
)
@settings(derandomize=True, max_examples=80, deadline=None)
def test_hull_and_linear_programme_agree(steps, seed, curvature):
    x = np.cumsum(steps) / np.sum(steps)
    y = curvature * (x - 0.4) ** 2 + np.random.default_rng(seed).normal(size=x.size)
    assert straightness(x, y).minimum_zone.straightness == pytest.approx(zone_by_linear_programme(x, y), abs=1e-9)
