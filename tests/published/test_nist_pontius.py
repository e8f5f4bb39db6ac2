"""NIST Statistical Reference Datasets, Pontius: a quadratic through a load cell's calibration.

Through the QR that takes a sweep's unknowns out. x is scaled by 1e6, as every unknown's column is in framevis.
"""

from __future__ import annotations

import numpy as np
from estimator_by_hand import least_squares, reduced
from ledger import Source, Status, Value, check
from reference_tables import columns

SOURCE = Source(
    "NIST Statistical Reference Datasets, Pontius",
    "Least squares and uncertainty",
    "A quadratic through 40 readings of a load cell, through the QR that takes a sweep's unknowns out.",
)
X, Y = (np.array(column) for column in columns("nist_pontius", "x", "y"))
SCALE = np.array([1.0, 1e6, 1e12])
CERTIFIED: tuple[tuple[str, float, Status], ...] = (
    ("B0", 0.673565789473684e-03, "seen"),
    ("B1", 0.732059160401003e-06, "seen"),
    ("B2", -0.316081871345029e-14, "seen"),
    ("sd of B0", 0.107938612033077e-03, "from memory"),
    ("sd of B1", 0.157817399981659e-09, "from memory"),
    ("sd of B2", 0.486652849992036e-16, "from memory"),
    ("residual sd", 0.205177424076185e-03, "from memory"),
)


def seven() -> tuple[float, ...]:
    """In the order of CERTIFIED."""
    x = X / 1e6
    powers = np.column_stack([np.ones_like(x), x, x**2])
    u = 1e-4
    found, sd, residual = least_squares(reduced(Y, np.full(Y.size, u), np.zeros((Y.size, 0)), powers))
    return (*(found / SCALE).tolist(), *(sd / SCALE).tolist(), residual * u)


def values() -> list[Value]:
    return [
        Value(what, "1", certified, ours, status, relative=1e-9)
        for (what, certified, status), ours in zip(CERTIFIED, seven(), strict=True)
    ]


def test_values() -> None:
    check(values())
