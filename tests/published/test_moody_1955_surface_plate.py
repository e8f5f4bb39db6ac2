"""J. C. Moody, How to Calibrate Surface Plates in the Plant, 1955: eight autocollimator lines over a surface plate.

Readings and the heights above the base plane: seen. Straightness by the three reference lines: computed, exact.
"""

from __future__ import annotations

import numpy as np
import pytest
from reference_tables import table

from framevis.straightness import ReferenceLine, straightness

UIN_PER_ARCSEC = 19.392547  # rise over a foot of 4 in at 1″
ROWS = table("moody_1955_lines")
LINES = ("E_W", "NE_NW", "NE_SE", "NE_SW", "NW_SE", "NW_SW", "N_S", "SE_SW")


def heights(line: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Stations, heights (µin) summed up from the readings, and the published heights above the base plane."""
    rows = [row for row in ROWS if row["line"] == line]
    rises = [0.0, *(float(row["reading_arcsec"]) * UIN_PER_ARCSEC for row in rows[1:])]
    published = np.array([float(row["height_uin"]) for row in rows])
    return np.arange(len(rows), dtype=float), np.cumsum(rises), published


def about(line: ReferenceLine, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    return y - line.intercept - line.slope * x


def test_all_lines_are_there():
    assert {row["line"] for row in ROWS} == set(LINES)


@pytest.mark.parametrize("line", LINES)
def test_heights_above_the_end_point_line(line):
    """The base plane is straight along a line: about their end-point lines readings and published heights agree."""
    x, raw, published = heights(line)
    ends = np.linspace(published[0], published[-1], x.size)
    assert np.abs(ends - published).max() > 10.0
    found = about(straightness(x, raw).end_point, x, raw)
    # the readings have steps of 0.1″; four decimals of each published height: half a digit here, half at the ends
    assert found == pytest.approx(published - ends, abs=1.5e-4)


@pytest.mark.parametrize(
    ("line", "end_point", "least_squares", "minimum_zone"),
    [("NE_SE", 46.74, 45.26, 45.249), ("NW_SW", 53.33, 47.78, 47.512), ("SE_SW", 132.84, 146.17, 132.839)],
)
def test_straightness(line, end_point, least_squares, minimum_zone):
    x, raw, published = heights(line)
    for values in (raw, published):
        found = straightness(x, values)
        assert found.end_point.straightness == pytest.approx(end_point, abs=0.005)
        assert found.least_squares.straightness == pytest.approx(least_squares, abs=0.005)
        assert found.minimum_zone.straightness == pytest.approx(minimum_zone, abs=0.001)
