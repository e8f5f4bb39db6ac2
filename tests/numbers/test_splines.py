"""The project's own splines against scipy.interpolate, which is too slow to load for a command that answers at once."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import BSpline, CubicSpline

from framevis.natural_spline import NaturalSpline
from framevis.strip import LINEAR, Strip, _knots, _spline_cubics


@pytest.mark.parametrize("count", [2, 3, 4, 37])
def test_a_natural_spline_and_its_derivatives(count: int) -> None:
    random = np.random.default_rng(count)
    places = np.cumsum(random.uniform(5.0, 60.0, count))
    for heights in (random.normal(size=count), random.normal(size=(count, 3))):
        mine, other = NaturalSpline(places, heights), CubicSpline(places, heights, bc_type="natural")
        s = np.concatenate([np.linspace(places[0], places[-1], 301), places])
        for derivative in range(3):
            expected = other(s, derivative)
            np.testing.assert_allclose(mine(s, derivative), expected, atol=1e-12 * max(1.0, np.abs(expected).max()))
        middles = (places[1:] + places[:-1]) / 2.0
        np.testing.assert_allclose(mine(middles, 3), other(middles, 3), atol=1e-12)


@pytest.mark.parametrize("intervals", [10, 30, 96])
def test_the_splines_of_a_strip(intervals: int) -> None:
    basis = BSpline(_knots(intervals), np.eye(intervals + 3), 3)
    t = np.array([0.0, 0.3, 0.999])
    x = (np.arange(intervals)[:, None] + t) / intervals
    mine = t[:, None] ** np.arange(4) @ _spline_cubics(intervals)
    np.testing.assert_allclose(mine, basis(x), atol=1e-13)


@pytest.mark.parametrize("length_mm", [300.0, 1480.0, 6000.0])
def test_derivatives_of_a_strip_s_shapes(length_mm: float) -> None:
    """Offset and slope are a straight line; derivatives are those of the values, by central differences."""
    strip, s, step = Strip(length_mm), np.linspace(0.013, 0.987, 50) * length_mm, 1e-3
    np.testing.assert_allclose(strip.shapes(s)[:, 0], 1.0, atol=1e-12)
    np.testing.assert_allclose(strip.shapes(s)[:, 1], s / length_mm - 0.5, atol=1e-12)
    for derivative in (0, 1):
        rise = (strip.shapes(s + step, derivative) - strip.shapes(s - step, derivative)) / (2.0 * step)
        found = strip.shapes(s, derivative + 1)
        np.testing.assert_allclose(found, rise, atol=1e-4 * np.abs(rise[:, LINEAR:]).max())
