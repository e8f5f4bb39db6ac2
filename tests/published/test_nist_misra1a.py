"""NIST Statistical Reference Datasets, Misra1a: nonlinear regression y = b₁ (1 − exp(−b₂ x)), lower level of
difficulty, through the same `fit` that finds friction, seal drag and seats from pull readings.
"""

from __future__ import annotations

import numpy as np
import pytest
from ledger import Source, Value, check
from reference_tables import columns

from framevis.frame import Floats
from framevis.pulls.fitting import Solution, fit

SOURCE = Source(
    "NIST Statistical Reference Datasets, Misra1a",
    "Least squares and uncertainty",
    "Nonlinear regression y = b₁(1 − exp(−b₂x)) from NIST's two starting points, through the fit of friction and "
    "seats. Data and certified values: copies of the dataset's file in public code.",
)
X, Y = (np.array(column) for column in columns("nist_misra1a", "x", "y"))
STARTS = {"start I": (500.0, 1e-4), "start II": (250.0, 5e-4)}
RESIDUAL_SD = 1.0187876330e-01
CERTIFIED = (  # value, relative tolerance
    ("b₁", 2.3894212918e02, 1e-8),
    ("b₂", 5.5015643181e-04, 1e-8),
    ("sd of b₁", 2.7070075241e00, 1e-7),
    ("sd of b₂", 7.2668688436e-06, 1e-7),
    ("residual sd", RESIDUAL_SD, 1e-9),
)
FREE = np.full(2, np.inf)


def misra1a(start: tuple[float, float], u: float = 1.0) -> Solution:
    def residual(b: Floats) -> Floats:
        return np.asarray((b[0] * (1.0 - np.exp(-b[1] * X)) - Y) / u)

    def jacobian(b: Floats) -> Floats:
        fall = np.exp(-b[1] * X)
        return np.column_stack([1.0 - fall, b[0] * X * fall]) / u

    return fit(residual, jacobian, np.array(start), -FREE, FREE)


def five(found: Solution) -> tuple[float, ...]:
    """In the order of CERTIFIED."""
    deviations = found.scatter * np.sqrt(np.diag(found.covariance))
    return (*found.values.tolist(), *deviations.tolist(), found.scatter)


def values() -> list[Value]:
    return [
        Value(f"{what}, {name}", "1", certified, ours, "seen", relative=relative)
        for name, start in STARTS.items()
        for (what, certified, relative), ours in zip(CERTIFIED, five(misra1a(start)), strict=True)
    ]


def test_values() -> None:
    check(values())


def test_uncertainties_are_widened_only_where_the_scatter_asks_for_it() -> None:
    start = STARTS["start II"]
    assert misra1a(start, u=0.1).widening == 1.0  # the scatter is 1.02 times as much: chance
    assert misra1a(start, u=0.05).widening == pytest.approx(RESIDUAL_SD / 0.05, rel=1e-8)
    assert misra1a(start, u=1.0).widening == 1.0  # never narrowed
