"""NIST Statistical Reference Datasets, Pontius: a quadratic through a load cell's calibration. Certified values: seen.

Through the QR that takes a sweep's unknowns out. x is scaled by 1e6, as every unknown's column is in framevis.
"""

from __future__ import annotations

import numpy as np
import pytest
from estimator_by_hand import least_squares, reduced
from reference_tables import columns

X, Y = (np.array(column) for column in columns("nist_pontius", "x", "y"))
CERTIFIED = (0.673565789473684e-03, 0.732059160401003e-06, -0.316081871345029e-14)


def test_quadratic():
    x = X / 1e6
    powers = np.column_stack([np.ones_like(x), x, x**2])
    values, _, _ = least_squares(reduced(Y, np.full(Y.size, 1e-4), np.zeros((Y.size, 0)), powers))
    assert values / [1.0, 1e6, 1e12] == pytest.approx(CERTIFIED, rel=1e-9)
