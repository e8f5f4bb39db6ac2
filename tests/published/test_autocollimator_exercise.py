"""The autocollimator exercise of a public virtual laboratory: a guideway in eight steps of 110 mm."""

from __future__ import annotations

import numpy as np
from ledger import Source, Value, check
from reference_tables import columns

from framevis.straightness import straightness
from framevis.units import MRAD_PER_UNIT

SOURCE = Source(
    "Autocollimator exercise of a public virtual laboratory",
    "Straightness",
    "A guideway in eight steps of 110 mm. The errors were worked out there with 0.5 µm/″ and an end-point line "
    "rounded on the way, hence their tolerance; the straightness is by the exact conversion.",
)
STATION_MM, READING, ERROR_UM = columns("autocollimator_exercise", "station_mm", "reading_arcsec", "error_um")
STEP_MM = 110.0


def profile(um_per_arcsec: float) -> tuple[np.ndarray, np.ndarray]:
    rises = (np.array(READING) - READING[0]) * um_per_arcsec
    return np.array([0.0, *STATION_MM]), np.concatenate([[0.0], np.cumsum(rises)])


def values() -> list[Value]:
    x, heights = profile(0.5)
    line = straightness(x, heights).end_point
    below_line = line.intercept + line.slope * x - heights  # the exercise's sign: line less profile
    errors = [
        Value(f"error at {station:g} mm", "µm", published, ours, "seen", absolute=0.3)
        for station, published, ours in zip(STATION_MM, ERROR_UM, below_line[1:].tolist(), strict=True)
    ]
    um_per_arcsec = STEP_MM * MRAD_PER_UNIT["arcsec"]
    exact = straightness(*profile(um_per_arcsec))
    return [
        *errors,
        Value("rise over a step at 1″", "µm", 0.533295, um_per_arcsec, "computed", absolute=5e-7),
        Value("straightness, end points", "µm", 131.7905, exact.end_point.straightness, "computed", absolute=1e-3),
        Value(
            "straightness, least squares", "µm", 132.2572, exact.least_squares.straightness, "computed", absolute=1e-3
        ),
        Value("straightness, minimum zone", "µm", 131.7905, exact.minimum_zone.straightness, "computed", absolute=1e-3),
    ]


def test_values() -> None:
    check(values())
