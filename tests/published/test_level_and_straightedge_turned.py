"""What is printed on a precision level, and what turning it (or a straightedge) round says of its own error."""

from __future__ import annotations

import numpy as np
import pytest
from ledger import Source, Value, check

from framevis.budgeting.components import reversal_error
from framevis.units import MRAD_PER_UNIT

SOURCE = Source(
    "Precision levels: what a division is, and the reversal",
    "Straightness",
    "0.020 mm/m a division is 4.1253″; a level's own error is half the difference of its reading and of that "
    "turned end for end, (A − B)/2. Public pages of instructions.",
)


def values() -> list[Value]:
    division = 0.020 * MRAD_PER_UNIT["mm_per_m"] / MRAD_PER_UNIT["arcsec"]
    (error,) = reversal_error(np.array([5.0]), np.array([-1.0])).tolist()
    return [
        Value("a division of 0.020 mm/m", "″", 4.1253, division, "seen", absolute=5e-5),
        Value("error of a level that reads 5, then −1 turned", "division", 3.0, error, "seen", relative=1e-6),
    ]


def test_values() -> None:
    check(values())


def test_a_straightedges_error_is_taken_apart_from_the_rail() -> None:
    rail, error = np.array([1.0, 4.0, -2.0]), np.array([0.5, -0.3, 0.8])
    assert reversal_error(rail + error, rail - error) == pytest.approx(error)
