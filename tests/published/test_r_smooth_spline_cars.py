"""R's `smooth.spline` on the data set `cars` (braking distance over speed): published predictions at speed 20.

R scales speed to [0, 1], so its λ stands for λ · 21³. All speeds are whole numbers: with knots 1 apart they stand on
knots, and the strip's posterior mean is the smoothing spline itself. R keeps all 19 speeds as knots too.
"""

from __future__ import annotations

from unittest.mock import patch

import numpy as np
from estimator_by_hand import smooth
from ledger import Source, Value, check
from reference_tables import columns

from framevis import strip as strips
from framevis.strip import Strip

SOURCE = Source(
    "R, smooth.spline on the data set cars",
    "Splines",
    "Braking distance over speed, predicted at speed 20 for two smoothing parameters λ: the posterior mean of one "
    "of framevis's functions, with knots 1 apart.",
)
SPEED, DISTANCE = (np.array(column) for column in columns("r_cars", "speed", "dist"))
PREDICTED = ((0.1112206, 60.67389), (250.0, 61.06888))


def at_20(r_lambda: float) -> float:
    with patch.object(strips, "KNOT_SPACING_MM", 1.0):
        strip = Strip(21.0)
        found = smooth(strip, SPEED - 4.0, DISTANCE, 1.0, (r_lambda * 21.0**3) ** -0.5, 1e6)
        return float((strip.shapes(np.array([16.0])) @ found.mean).item())


def values() -> list[Value]:
    # R's own arithmetic gives 60.67389 where the exact spline has 60.673929: half a digit more than printed
    return [
        Value(f"prediction at 20, λ {r_lambda:g}", "ft", published, at_20(r_lambda), "seen", absolute=5e-5)
        for r_lambda, published in PREDICTED
    ]


def test_values() -> None:
    check(values())
