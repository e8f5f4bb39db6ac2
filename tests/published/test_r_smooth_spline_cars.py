"""R's `smooth.spline` on the data set `cars` (braking distance over speed): published predictions at speed 20, seen.

R scales speed to [0, 1], so its λ stands for λ · 21³. All speeds are whole numbers: with knots 1 apart they stand on
knots, and the strip's posterior mean is the smoothing spline itself. R keeps all 19 speeds as knots too.
"""

from __future__ import annotations

import numpy as np
import pytest
from estimator_by_hand import smooth
from reference_tables import columns

from framevis import strip as strips
from framevis.strip import Strip

SPEED, DISTANCE = (np.array(column) for column in columns("r_cars", "speed", "dist"))


@pytest.mark.parametrize(("r_lambda", "at_20"), [(0.1112206, 60.67389), (250.0, 61.06888)])
def test_prediction_at_20(r_lambda, at_20, monkeypatch):
    monkeypatch.setattr(strips, "KNOT_SPACING_MM", 1.0)
    strip = Strip(21.0)
    tau = (r_lambda * 21.0**3) ** -0.5
    found = smooth(strip, SPEED - 4.0, DISTANCE, 1.0, tau, 1e6)
    # R's own arithmetic gives 60.67389 where the exact spline has 60.673929: half a digit more than printed
    assert (strip.shapes(np.array([16.0])) @ found.mean).item() == pytest.approx(at_20, abs=5e-5)
