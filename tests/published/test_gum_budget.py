"""The parts of an uncertainty budget against the GUM (JCGM 100:2008), NIST's reference data and handbook values."""

from __future__ import annotations

import numpy as np
import pytest

from framevis.budgeting.components import (
    combined,
    drift_per_row,
    expansion_um,
    pooled_sd,
    relative_doubt,
    resolution_u,
    reversal_error,
)
from framevis.units import MRAD_PER_UNIT


def test_end_gauge_of_gum_h1() -> None:
    # GUM H.1, end gauge of 50 mm; table H.1 and H.1.3 (u = 32 nm seen; parts from memory), nm
    length = 50.0
    difference = combined(5.8, 3.9, 6.7)  # u of d̄, of the comparator's random and systematic effects
    assert difference == pytest.approx(9.7, abs=0.05)
    alpha = 1000.0 * expansion_um(0.58e-6, 0.0, 0.1, length)  # l_s · θ̄ · u(δα)
    assert alpha == pytest.approx(2.9, abs=0.05)
    temperature = 1000.0 * expansion_um(11.5e-6, 0.0, 0.05 / np.sqrt(3.0), length)  # l_s · α_s · u(δθ)
    assert temperature == pytest.approx(16.6, abs=0.05)
    assert combined(25.0, difference, alpha, temperature) == pytest.approx(31.66388, abs=0.02)  # computed


def test_resolution_of_gum_f_2_2_1() -> None:
    # u² = δx²/12, u = 0.29 δx (GUM F.2.2.1; u = d/√12 seen)
    assert resolution_u(1.0) == pytest.approx(0.29, abs=0.005)
    assert resolution_u(10.0) ** 2 == pytest.approx(100.0 / 12.0)


@pytest.mark.parametrize(("observations", "percent"), [(10, 24), (20, 16), (30, 13), (50, 10)])
def test_doubt_of_a_standard_deviation(observations: int, percent: int) -> None:
    # GUM table E.1: σ[s(q̄)]/σ(q̄) for n observations (memory); 1/√(2ν) is its approximation in E.4.3
    assert 100.0 * relative_doubt(observations - 1) == pytest.approx(percent, abs=0.5)


def test_pooled_sd_on_numacc1() -> None:
    # NIST StRD univariate, NumAcc1: 10000001, 10000003, 10000002, certified standard deviation 1 (memory)
    values = np.array([10000001.0, 10000003.0, 10000002.0])
    assert pooled_sd(values, np.zeros(3, dtype=int)) == (pytest.approx(1.0, rel=1e-12), 2)
    twice = np.concatenate([values, values[::-1] - 9e6])  # two stations of the same scatter
    assert pooled_sd(twice, np.repeat([4, 9], 3)) == (pytest.approx(1.0, rel=1e-12), 4)


def test_pooled_sd_without_repeats() -> None:
    assert pooled_sd(np.array([1.0, 5.0, 9.0]), np.arange(3)) == (0.0, 0)


def test_drift_between_repeated_stations() -> None:
    station, order = np.array([0, 1, 2, 1, 0]), np.arange(5.0)
    level = np.array([10.0, -4.0, 7.0])[station]
    assert drift_per_row(level + 0.5 * order, order, station) == pytest.approx(0.5)
    assert drift_per_row(level[:3], order[:3], station[:3]) == 0.0


def test_reversal() -> None:
    # level: error = (A − B) / 2 (seen); a straightedge's by the same half difference
    assert reversal_error(np.array([5.0]), np.array([-1.0])) == pytest.approx(3.0)
    rail, error = np.array([1.0, 4.0, -2.0]), np.array([0.5, -0.3, 0.8])
    assert reversal_error(rail + error, rail - error) == pytest.approx(error)


def test_sensitivity_of_a_level() -> None:
    assert 0.020 * MRAD_PER_UNIT["mm_per_m"] / MRAD_PER_UNIT["arcsec"] == pytest.approx(4.1253, abs=5e-5)  # seen


def test_steel_rail_on_aluminium_beam() -> None:
    # Callister, table B.6 (seen): 23.6 and 11.7e-6/K: 11.9 µm per metre and kelvin
    assert expansion_um(23.6e-6, 11.7e-6, 1.0, 1000.0) == pytest.approx(11.9)
