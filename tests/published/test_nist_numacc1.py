"""NIST Statistical Reference Datasets, univariate, NumAcc1: a scatter of 1 on 10 000 000."""

from __future__ import annotations

import numpy as np
from ledger import Source, Value, check

from framevis.budgeting.components import pooled_sd

SOURCE = Source(
    "NIST Statistical Reference Datasets, NumAcc1",
    "Least squares and uncertainty",
    "10000001, 10000003, 10000002: the certified standard deviation is 1. Through the pooled scatter of a sweep's "
    "repeats, once as one station, once as two.",
)
DATA = np.array([10000001.0, 10000003.0, 10000002.0])


def pooled() -> tuple[tuple[float, int], tuple[float, int]]:
    """Standard deviation and degrees of freedom of one station, and of two of the same scatter."""
    twice = np.concatenate([DATA, DATA[::-1] - 9e6])
    return pooled_sd(DATA, np.zeros(3, dtype=int)), pooled_sd(twice, np.repeat([4, 9], 3))


def values() -> list[Value]:
    (one, one_freedom), (two, two_freedom) = pooled()
    return [
        Value("standard deviation", "1", 1.0, one, "from memory", relative=1e-12),
        Value("its degrees of freedom", "1", 2.0, one_freedom, "from memory"),
        Value("standard deviation, two stations", "1", 1.0, two, "from memory", relative=1e-12),
        Value("its degrees of freedom, two stations", "1", 4.0, two_freedom, "from memory"),
    ]


def test_values() -> None:
    check(values())


def test_without_repeats_there_is_none() -> None:
    assert pooled_sd(np.array([1.0, 5.0, 9.0]), np.arange(3)) == (0.0, 0)
