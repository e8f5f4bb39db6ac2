"""ISO 76, Rolling bearings, static load ratings: the factor f₀ as a check of the contact of ball and groove.

f₀ = Q / Dw² is the load on one ball, over its diameter squared, at which the contact pressure reaches 4200 MPa.
Table values: seen. Elasticity E = 207 GPa, ν = 0.3, thrust groove 0.54 Dw: seen. Radial grooves 0.52 and 0.53 Dw and
the divisor 5: from memory. The tolerance is the table's own: it was worked out with rounded constants.
"""

from __future__ import annotations

import pytest
from reference_tables import table

from framevis.contact import STEEL_E_MPA, STEEL_NU, hertz, reduced_modulus, static_load

E_STAR_MPA = reduced_modulus(207e3, 0.3, 207e3, 0.3)
DW_MM = 7.0  # f₀ doesn't depend on it
TOLERANCE = 0.06
MISPRINTED_RADIAL = 0.06  # the copies say 15.7 at γ = 0.06, as at 0.05; the series makes it 15.9

ROWS = [(float(row["gamma"]), row["f0_thrust"], row["f0_radial"]) for row in table("iso76_f0")]
THRUST = [(gamma, float(thrust)) for gamma, thrust, _ in ROWS if thrust]
RADIAL = [(gamma, float(radial)) for gamma, _, radial in ROWS if gamma != MISPRINTED_RADIAL]


def load_at_4200(across: float, along: float) -> float:
    """Q / Dw² for principal relative curvatures (1/mm) of ball and race: pressure grows with the cube root of Q."""
    return (4200.0 / hertz(1.0, across, along, E_STAR_MPA).pressure_mpa) ** 3 / DW_MM**2


def across_groove(conformity: float) -> float:
    return 2.0 / DW_MM - 1.0 / (conformity * DW_MM)


def test_the_tables_are_complete():
    assert (len(THRUST), len(RADIAL)) == (36, 40)


@pytest.mark.parametrize(("gamma", "f0"), THRUST)
def test_thrust_ball_bearings(gamma, f0):
    assert load_at_4200(across_groove(0.54), 2.0 / DW_MM / (1.0 - gamma)) == pytest.approx(f0, abs=TOLERANCE)


@pytest.mark.parametrize(("gamma", "f0"), RADIAL)
def test_radial_ball_bearings(gamma, f0):
    inner = load_at_4200(across_groove(0.52), 2.0 / DW_MM / (1.0 - gamma))
    outer = load_at_4200(across_groove(0.53), 2.0 / DW_MM / (1.0 + gamma))
    assert min(inner, outer) / 5.0 == pytest.approx(f0, abs=TOLERANCE)


def test_allowable_load_in_a_straight_groove_is_the_thrust_factor_at_gamma_0():
    """A straight groove is a race of infinite radius; at a given pressure the load goes with 1 / E*²."""
    steel = reduced_modulus(STEEL_E_MPA, STEEL_NU, STEEL_E_MPA, STEEL_NU)
    f0 = static_load(DW_MM, 0.54) / DW_MM**2 * (steel / E_STAR_MPA) ** 2
    assert f0 == pytest.approx(dict(THRUST)[0.0], abs=TOLERANCE)
