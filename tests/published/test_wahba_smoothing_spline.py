"""Wahba 1978: a natural cubic smoothing spline is the posterior mean under an integrated Wiener process, λ = σ²/τ².

The independent mean is `scipy.interpolate.make_smoothing_spline`, inside the data only.

A strip's bending shapes span the cubic splines on evenly spaced knots, so the natural spline with its knots at the
data is among them where the data stand on knots: there the two are equal to rounding. Elsewhere the strip can only
come near, with an error that falls with the spacing of its knots.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from unittest.mock import patch

import numpy as np
from estimator_by_hand import smooth
from ledger import Source, Value, check
from reference_tables import columns
from scipy.interpolate import make_smoothing_spline

from framevis import strip as strips
from framevis.strip import Strip

SOURCE = Source(
    "Wahba 1978: smoothing spline and posterior mean, on the data of GUM H.3",
    "Splines",
    "GUM H.3's data in mK with σ² = 9, τ² = 20: mean and standard deviations were computed three ways apart from "
    "framevis (Reinsch's algorithm, a dense Gaussian process with a diffuse line, a Kalman smoother). The largest "
    "difference between a function's posterior mean and SciPy's smoothing spline over 401 places, on readings of a "
    "made-up rail, stands against 0.",
)
LENGTH_MM, SIGMA_UM = 1000.0, 2.0
DIFFUSE = 1e5  # of offset and slope, against data of tens; wider costs digits


@contextmanager
def knots_apart(spacing_mm: float) -> Iterator[None]:
    with patch.object(strips, "KNOT_SPACING_MM", spacing_mm), patch.object(strips, "MOST_INTERVALS", 1000):
        yield


def rail_like(s: np.ndarray, seed: int) -> np.ndarray:
    noise = np.random.default_rng(seed).normal(size=s.size) * SIGMA_UM
    return 30.0 * np.sin(s / 180.0) + 12.0 * np.cos(s / 61.0) + 0.02 * s + noise


def worst_difference(s: np.ndarray, tau: float, places: np.ndarray) -> float:
    y = rail_like(s, 7)
    strip = Strip(LENGTH_MM)
    mean = strip.shapes(places) @ smooth(strip, s, y, SIGMA_UM, tau, DIFFUSE).mean
    return float(np.abs(mean - make_smoothing_spline(s, y, lam=(SIGMA_UM / tau) ** 2)(places)).max())


def worst_on_knots(tau: float) -> float:
    """With framevis's own 50 mm between knots, and readings every 50 mm, two of them left out."""
    s = np.delete(np.arange(0.0, LENGTH_MM + 1.0, 50.0), [4, 15])
    return worst_difference(s, tau, np.linspace(0.0, LENGTH_MM, 401))


def worst_for_unequal_uncertainties() -> float:
    """Weights are 1/u²; the bending energy then has 1/τ²."""
    s = np.arange(0.0, LENGTH_MM + 1.0, 50.0)
    y, u, tau = rail_like(s, 5), np.random.default_rng(6).uniform(0.5, 8.0, s.size), 1e-2
    strip, places = Strip(LENGTH_MM), np.linspace(0.0, LENGTH_MM, 401)
    mean = strip.shapes(places) @ smooth(strip, s, y, u, tau, DIFFUSE).mean
    expected = make_smoothing_spline(s, y, w=1.0 / u**2, lam=tau**-2)(places)
    return float(np.abs(mean - expected).max())


def gum_h3_in_mk() -> tuple[np.ndarray, np.ndarray]:
    """Posterior mean and standard deviation at the readings, mK."""
    t, b = (np.array(column) for column in columns("gum_h3", "t_degC", "b_degC"))
    strip, s = Strip(t[-1] - t[0]), t - t[0]
    with knots_apart(0.01):
        rows = strip.shapes(s)
        mean = rows @ smooth(strip, s, 1000.0 * b, 3.0, np.sqrt(20.0), DIFFUSE).mean
        # the wider the priors of offset and slope, the fewer digits a difference of variances keeps: narrower ones here
        sd = np.sqrt(smooth(strip, s, 1000.0 * b, 3.0, np.sqrt(20.0), DIFFUSE / 10.0).variance_given_zero(rows))
    return mean, sd


@cache
def values() -> tuple[Value, ...]:
    mean, sd = gum_h3_in_mk()
    on_knots = [
        Value(f"largest difference, τ {tau:g}", "µm", 0.0, worst_on_knots(tau), "computed", absolute=1e-6)
        for tau in (1e-3, 1e-2, 1e-1)
    ]
    unequal = worst_for_unequal_uncertainties()
    return (
        Value("mean at the first reading", "mK", -170.71288165, float(mean[0]), "computed", absolute=1e-6),
        Value("sd at the first reading", "mK", 2.39569458, float(sd[0]), "computed", absolute=1e-6),
        Value("sd at the sixth reading", "mK", 1.53972385, float(sd[5]), "computed", absolute=1e-6),
        *on_knots,
        Value("largest difference, unequal uncertainties", "µm", 0.0, unequal, "computed", absolute=1e-6),
    )


def test_values() -> None:
    check(values())


def test_near_elsewhere_and_nearer_with_closer_knots() -> None:
    s = np.sort(np.random.default_rng(3).uniform(0.0, LENGTH_MM, 28))
    places = np.linspace(s[0], s[-1], 401)
    errors = []
    for spacing_mm in (40.0, 20.0, 10.0, 5.0):
        with knots_apart(spacing_mm):
            errors.append(worst_difference(s, 1e-2, places))
    # a kink of f‴ at a reading, between knots h apart, costs at least h² and at best h³: a halving takes 4 to 8
    assert errors[-1] < errors[0] / 4.0**3
    assert errors[0] < 0.2 * SIGMA_UM
