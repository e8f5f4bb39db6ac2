"""NIST Statistical Reference Datasets, NoInt1 and NoInt2: a line through the origin, average level of difficulty.

With one unknown both of framevis's least squares are asked: the QR that takes a sweep's unknowns out, and the `fit` of
friction and seats from pulls.
"""

from __future__ import annotations

import numpy as np
from estimator_by_hand import least_squares, reduced
from ledger import Source, Value, check
from reference_tables import columns

from framevis.pulls.fitting import fit

SOURCE = Source(
    "NIST Statistical Reference Datasets, NoInt1 and NoInt2",
    "Least squares and uncertainty",
    "A line through the origin, one unknown: by the QR that takes a sweep's unknowns out, and by the fit of "
    "friction and seats. Data: seen; certified values: from memory.",
)
CERTIFIED = {
    "NoInt1": (2.07438016528926, 0.165289256198347e-01, 3.56753034006338),
    "NoInt2": (0.727272727272727, 0.420827318078432e-01, 0.369274472937998),
}
NAMES = ("B1", "sd of B1", "residual sd")


def by_qr(x: np.ndarray, y: np.ndarray) -> tuple[float, float, float]:
    (b1,), (sd,), residual = least_squares(reduced(y, np.ones(y.size), np.zeros((y.size, 0)), x[:, None]))
    return float(b1), float(sd), residual


def by_fit(x: np.ndarray, y: np.ndarray) -> tuple[float, float, float]:
    free = np.array([np.inf])
    found = fit(lambda b: x * b[0] - y, lambda b: x[:, None], np.array([1.0]), -free, free)
    return float(found.values[0]), float(found.scatter * np.sqrt(found.covariance[0, 0])), found.scatter


def values() -> list[Value]:
    return [
        Value(f"{dataset}, {what}, by {way}", "1", certified, ours, "from memory", relative=1e-12)
        for dataset, row in CERTIFIED.items()
        for way, solve in (("QR", by_qr), ("fit", by_fit))
        for what, certified, ours in zip(NAMES, row, solve(*data(dataset)), strict=True)
    ]


def data(dataset: str) -> tuple[np.ndarray, np.ndarray]:
    x, y = columns(f"nist_{dataset.lower()}", "x", "y")
    return np.array(x), np.array(y)


def test_values() -> None:
    check(values())
