"""GUM (JCGM 100:2008), H.3: calibration of a thermometer by a least-squares line about 20 °C. Published values: seen.

The line is written in a strip's offset and slope with priors too wide to matter, and goes through `Solved`, as every
function of a frame does; the standard deviation of a reading is the residual one of the same data.
"""

from __future__ import annotations

import numpy as np
import pytest
from estimator_by_hand import least_squares, reduced
from reference_tables import columns

from framevis.estimate import Solved
from framevis.strip import LINEAR, Strip

T_DEGC, B_DEGC = (np.array(column) for column in columns("gum_h3", "t_degC", "b_degC"))
STRIP = Strip(10.0)  # from 20 °C to 30 °C
DIFFUSE = 1e3  # °C, against corrections of tenths
LAST_DIGIT = 0.5  # half of the last printed one


@pytest.fixture(scope="module")
def line() -> Solved:
    rows = STRIP.shapes(T_DEGC - 20.0)[:, :LINEAR]
    one, nothing = np.ones(T_DEGC.size), np.zeros((T_DEGC.size, 0))
    _, _, residual = least_squares(reduced(B_DEGC, one, design=nothing, free=rows))
    return Solved(reduced(B_DEGC, residual * one, design=rows, free=nothing), np.full(LINEAR, DIFFUSE))


def functional(t_degc: float, derivative: int = 0) -> np.ndarray:
    return STRIP.shapes(np.array([t_degc - 20.0]), derivative)[:, :LINEAR]


@pytest.mark.parametrize(
    ("row", "value", "u", "digit"),
    [
        (functional(20.0), -0.1712, 0.0029, 1e-4),
        (functional(20.0, derivative=1), 0.00218, 0.00067, 1e-5),
        (functional(30.0), -0.1494, 0.0041, 1e-4),
    ],
    ids=["intercept", "slope", "prediction at 30 °C"],
)
def test_values_and_uncertainties(line, row, value, u, digit):
    assert (row @ line.mean).item() == pytest.approx(value, abs=LAST_DIGIT * digit)
    assert np.sqrt(line.variance(row)).item() == pytest.approx(u, abs=LAST_DIGIT * digit)


def test_correlation_of_intercept_and_slope(line):
    rows = np.vstack([functional(20.0), functional(20.0, derivative=1)])
    covariance = line.covariance(rows, rows)
    r = covariance[0, 1] / np.sqrt(covariance[0, 0] * covariance[1, 1])
    assert r == pytest.approx(-0.93, abs=LAST_DIGIT * 0.01)
