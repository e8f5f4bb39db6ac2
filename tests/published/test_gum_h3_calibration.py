"""GUM (JCGM 100:2008), H.3: calibration of a thermometer by a least-squares line about 20 °C.

Once through `Solved`, as every function of a frame: the line is written in a strip's offset and slope with priors too
wide to matter, and the standard deviation of a reading is the residual one of the same data. Once through the `fit`
that finds friction, seal drag and seats from pull readings.
"""

from __future__ import annotations

import numpy as np
from estimator_by_hand import least_squares, reduced
from ledger import Source, Value, check
from reference_tables import columns

from framevis.pulls.fitting import fit
from framevis.solved import Solved
from framevis.strip import LINEAR, Strip

SOURCE = Source(
    "GUM (JCGM 100:2008), H.3, calibration of a thermometer",
    "Least squares and uncertainty",
    "Corrections of a thermometer at eleven temperatures, a line about 20 °C. Half a unit of the last printed "
    "digit. By the estimate: the way of every function of a frame; by the fit: the way of friction and seats from "
    "pulls.",
)
T_DEGC, B_DEGC = (np.array(column) for column in columns("gum_h3", "t_degC", "b_degC"))
STRIP = Strip(10.0)  # from 20 °C to 30 °C
DIFFUSE = 1e3  # °C, against corrections of tenths
PUBLISHED = (  # value, half a digit
    ("intercept", "°C", -0.1712, 5e-5),
    ("u of the intercept", "°C", 0.0029, 5e-5),
    ("slope", "1", 0.00218, 5e-6),
    ("u of the slope", "1", 0.00067, 5e-6),
    ("correlation", "1", -0.93, 0.005),
    ("prediction at 30 °C", "°C", -0.1494, 5e-5),
    ("u of the prediction", "°C", 0.0041, 5e-5),
)


def line() -> Solved:
    rows = STRIP.shapes(T_DEGC - 20.0)[:, :LINEAR]
    one, nothing = np.ones(T_DEGC.size), np.zeros((T_DEGC.size, 0))
    _, _, residual = least_squares(reduced(B_DEGC, one, design=nothing, free=rows))
    return Solved(reduced(B_DEGC, residual * one, design=rows, free=nothing), np.full(LINEAR, DIFFUSE))


def functional(t_degc: float, derivative: int = 0) -> np.ndarray:
    return STRIP.shapes(np.array([t_degc - 20.0]), derivative)[:, :LINEAR]


def by_the_estimate() -> tuple[float, ...]:
    """In the order of PUBLISHED."""
    found = line()
    rows = np.vstack([functional(20.0), functional(20.0, derivative=1), functional(30.0)])
    return in_order(
        rows @ found.mean, np.sqrt(found.variance_given_zero(rows)), found.covariance_given_zero(rows[:2], rows[:2])
    )


def by_the_fit() -> tuple[float, ...]:
    """In the order of PUBLISHED."""
    rows = np.column_stack([np.ones_like(T_DEGC), T_DEGC - 20.0])
    free = np.full(2, np.inf)
    found = fit(lambda y: rows @ y - B_DEGC, lambda y: rows, np.array([1.0, 1.0]), -free, free)
    ask = np.array([[1.0, 0.0], [0.0, 1.0], [1.0, 10.0]])
    covariance = found.scatter**2 * ask @ found.covariance @ ask.T
    return in_order(ask @ found.values, np.sqrt(np.diag(covariance)), covariance)


def in_order(mean: np.ndarray, u: np.ndarray, covariance: np.ndarray) -> tuple[float, ...]:
    correlation = covariance[0, 1] / np.sqrt(covariance[0, 0] * covariance[1, 1])
    return tuple(map(float, (mean[0], u[0], mean[1], u[1], correlation, mean[2], u[2])))


def values() -> list[Value]:
    return [
        Value(f"{what}, {way}", unit, published, ours, "seen", absolute=half_digit)
        for way, found in (("by the estimate", by_the_estimate()), ("by the fit", by_the_fit()))
        for (what, unit, published, half_digit), ours in zip(PUBLISHED, found, strict=True)
    ]


def test_values() -> None:
    check(values())
