"""NIST Statistical Reference Datasets, Misra1a: nonlinear regression y = b₁ (1 − exp(−b₂ x)), lower level of
difficulty. Data and certified values: seen (copies of the dataset's file in public code).

The same `fit` that finds friction, seal drag and seats from pull readings; and the line of the GUM's H.3 through it.
"""

from __future__ import annotations

import numpy as np
import pytest
from reference_tables import columns

from framevis.frame import Floats
from framevis.pulls.fitting import Solution, fit

X, Y = (np.array(column) for column in columns("nist_misra1a", "x", "y"))
B1, SD_B1 = 2.3894212918e02, 2.7070075241e00
B2, SD_B2 = 5.5015643181e-04, 7.2668688436e-06
RESIDUAL_SD = 1.0187876330e-01
FREE = np.full(2, np.inf)


def misra1a(start: tuple[float, float], u: float = 1.0) -> Solution:
    def residual(b: Floats) -> Floats:
        return np.asarray((b[0] * (1.0 - np.exp(-b[1] * X)) - Y) / u)

    def jacobian(b: Floats) -> Floats:
        fall = np.exp(-b[1] * X)
        return np.column_stack([1.0 - fall, b[0] * X * fall]) / u

    return fit(residual, jacobian, np.array(start), -FREE, FREE)


@pytest.mark.parametrize("start", [(500.0, 1e-4), (250.0, 5e-4)], ids=["start I", "start II"])  # NIST's two starts
def test_certified_values(start):
    found = misra1a(start)
    assert found.values == pytest.approx([B1, B2], rel=1e-8)
    assert found.scatter == pytest.approx(RESIDUAL_SD, rel=1e-9)
    deviations = found.scatter * np.sqrt(np.diag(found.covariance))
    assert deviations == pytest.approx([SD_B1, SD_B2], rel=1e-7)


def test_uncertainties_are_widened_only_where_the_scatter_asks_for_it():
    assert misra1a((250.0, 5e-4), u=0.1).widening == 1.0  # the scatter is 1.02 times as much: chance
    assert misra1a((250.0, 5e-4), u=0.05).widening == pytest.approx(RESIDUAL_SD / 0.05, rel=1e-8)
    assert misra1a((250.0, 5e-4), u=1.0).widening == 1.0  # never narrowed


def test_line_of_gum_h3():
    """Published values as in `test_gum_h3_calibration`, half their last digit."""
    t, b = (np.array(column) for column in columns("gum_h3", "t_degC", "b_degC"))
    rows = np.column_stack([np.ones_like(t), t - 20.0])
    found = fit(lambda y: rows @ y - b, lambda y: rows, np.array([1.0, 1.0]), -FREE, FREE)
    assert found.values[0] == pytest.approx(-0.1712, abs=5e-5)
    assert found.values[1] == pytest.approx(0.00218, abs=5e-6)
    covariance = found.scatter**2 * found.covariance
    assert np.sqrt(covariance[0, 0]) == pytest.approx(0.0029, abs=5e-5)
    assert np.sqrt(covariance[1, 1]) == pytest.approx(0.00067, abs=5e-6)
    assert covariance[0, 1] / np.sqrt(covariance[0, 0] * covariance[1, 1]) == pytest.approx(-0.93, abs=0.005)
