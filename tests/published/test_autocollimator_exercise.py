"""The autocollimator exercise of a public virtual laboratory: a guideway in eight steps of 110 mm.

Published errors: seen; worked out there with 0.5 µm/″ and an end-point line rounded on the way, hence the tolerance.
Straightness by the exact conversion (110 mm · 1″): computed.
"""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from reference_tables import columns

from framevis.straightness import straightness

STATION_MM, READING, ERROR_UM = columns("autocollimator_exercise", "station_mm", "reading_arcsec", "error_um")


def profile(um_per_arcsec: float) -> tuple[np.ndarray, np.ndarray]:
    rises = (np.array(READING) - READING[0]) * um_per_arcsec
    return np.array([0.0, *STATION_MM]), np.concatenate([[0.0], np.cumsum(rises)])


def test_published_errors_about_the_end_point_line():
    x, heights = profile(0.5)
    line = straightness(x, heights).end_point
    below = line.intercept + line.slope * x - heights  # the exercise's sign: line less profile
    assert below[1:] == pytest.approx(np.array(ERROR_UM), abs=0.3)


def test_straightness_with_the_exact_conversion():
    um_per_arcsec = 110_000.0 * pi / 648_000.0
    assert um_per_arcsec == pytest.approx(0.533295, abs=5e-7)
    found = straightness(*profile(um_per_arcsec))
    assert found.end_point.straightness == pytest.approx(131.7905, abs=0.001)
    assert found.least_squares.straightness == pytest.approx(132.2572, abs=0.001)
    assert found.minimum_zone.straightness == pytest.approx(131.7905, abs=0.001)
