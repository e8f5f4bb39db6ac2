"""J. C. Moody, How to Calibrate Surface Plates in the Plant, 1955: eight autocollimator lines over a surface plate."""

from __future__ import annotations

import numpy as np
from ledger import Source, Value, check
from reference_tables import table

from framevis.straightness import ReferenceLine, Straightness, straightness

SOURCE = Source(
    "J. C. Moody, How to Calibrate Surface Plates in the Plant, 1955",
    "Straightness",
    "Eight autocollimator lines over a surface plate, a foot of 4 in. Seen: readings and heights above the base "
    "plane. The base plane is straight along a line, so about their end-point lines the readings and the published "
    "heights agree; what is listed as published there is the height less its own end-point line. Straightness by "
    "the three reference lines: computed, exact, from the readings and once more from the published heights.",
)
UIN_PER_ARCSEC = 19.392547  # rise over a foot of 4 in at 1″
ROWS = table("moody_1955_lines")
LINES = ("E_W", "NE_NW", "NE_SE", "NE_SW", "NW_SE", "NW_SW", "N_S", "SE_SW")
STRAIGHTNESS_UIN = {
    "NE_SE": (46.74, 45.26, 45.249),
    "NW_SW": (53.33, 47.78, 47.512),
    "SE_SW": (132.84, 146.17, 132.839),
}
# the readings have steps of 0.1″; four decimals of each published height: half a digit here, half at the ends
HEIGHT_TOLERANCE_UIN = 1.5e-4


def heights(line: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Stations, heights (µin) summed up from the readings, and the published heights above the base plane."""
    rows = [row for row in ROWS if row["line"] == line]
    rises = [0.0, *(float(row["reading_arcsec"]) * UIN_PER_ARCSEC for row in rows[1:])]
    published = np.array([float(row["height_uin"]) for row in rows])
    return np.arange(len(rows), dtype=float), np.cumsum(rises), published


def about(line: ReferenceLine, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    return y - line.intercept - line.slope * x


def above_its_ends(published: np.ndarray) -> np.ndarray:
    return published - np.linspace(published[0], published[-1], published.size)


def heights_of(line: str) -> list[Value]:
    x, raw, published = heights(line)
    found = about(straightness(x, raw).end_point, x, raw)
    pairs = zip(above_its_ends(published).tolist(), found.tolist(), strict=True)
    return [
        Value(f"{line}, height at foot {foot}", "µin", height, ours, "seen", absolute=HEIGHT_TOLERANCE_UIN)
        for foot, (height, ours) in enumerate(pairs)
    ]


def straightness_of(line: str, found: Straightness, basis: str) -> list[Value]:
    end_point, least_squares, minimum_zone = STRAIGHTNESS_UIN[line]
    cases = (
        ("end points", end_point, found.end_point, 0.005),
        ("least squares", least_squares, found.least_squares, 0.005),
        ("minimum zone", minimum_zone, found.minimum_zone, 0.001),
    )
    return [
        Value(f"{line}, {name}, from {basis}", "µin", published, ours.straightness, "computed", absolute=half_digit)
        for name, published, ours, half_digit in cases
    ]


def values() -> list[Value]:
    listed = [value for line in LINES for value in heights_of(line)]
    for line in STRAIGHTNESS_UIN:
        x, raw, published = heights(line)
        listed += straightness_of(line, straightness(x, raw), "readings")
        listed += straightness_of(line, straightness(x, published), "heights")
    return listed


def test_values() -> None:
    assert {row["line"] for row in ROWS} == set(LINES)
    check(values())


def test_the_lines_are_not_straight() -> None:
    for line in LINES:
        assert np.abs(above_its_ends(heights(line)[2])).max() > 10.0
