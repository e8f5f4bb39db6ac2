"""ISO 76, Rolling bearings, static load ratings: the factor f₀ as a check of the contact of ball and groove.

f₀ = Q / Dw² is the load on one ball, over its diameter squared, at which the contact pressure reaches 4200 MPa.
"""

from __future__ import annotations

from ledger import Source, Value, check
from reference_tables import table

from framevis.contact import STATIC_PRESSURE_MPA, STEEL_E_MPA, STEEL_NU, hertz, reduced_modulus, static_load

SOURCE = Source(
    "ISO 76, Rolling bearings, static load ratings, factor f₀",
    "Contact of ball and groove",
    "Load on a ball over its diameter squared at 4200 MPa. Seen: the table, E 207 GPa, ν 0.3, the thrust groove of "
    "0.54 ball diameters; from memory: the radial grooves of 0.52 and 0.53 and the divisor 5. The tolerance is the "
    "table's own: it was worked out with rounded constants. Radial, γ 0.06 is left out: the copies say 15.7 there "
    "as at 0.05, a misprint; the series makes it 15.9.",
)
E_STAR_MPA = reduced_modulus(207e3, 0.3, 207e3, 0.3)
DW_MM = 7.0  # f₀ doesn't depend on it
TOLERANCE = 0.06
MISPRINTED_RADIAL = 0.06

ROWS = [(float(row["gamma"]), row["f0_thrust"], row["f0_radial"]) for row in table("iso76_f0")]
THRUST = [(gamma, float(thrust)) for gamma, thrust, _ in ROWS if thrust]
RADIAL = [(gamma, float(radial)) for gamma, _, radial in ROWS if gamma != MISPRINTED_RADIAL]


def load_at_4200(across: float, along: float) -> float:
    """Q / Dw² for principal relative curvatures (1/mm) of ball and race: pressure grows with the cube root of Q."""
    return (4200.0 / hertz(1.0, across, along, E_STAR_MPA).pressure_mpa) ** 3 / DW_MM**2


def across_groove(conformity: float) -> float:
    return 2.0 / DW_MM - 1.0 / (conformity * DW_MM)


def thrust_factor(gamma: float) -> float:
    return load_at_4200(across_groove(0.54), 2.0 / DW_MM / (1.0 - gamma))


def radial_factor(gamma: float) -> float:
    inner = load_at_4200(across_groove(0.52), 2.0 / DW_MM / (1.0 - gamma))
    outer = load_at_4200(across_groove(0.53), 2.0 / DW_MM / (1.0 + gamma))
    return min(inner, outer) / 5.0


def straight_groove_factor() -> float:
    """A straight groove is a race of infinite radius; at a given pressure the load goes with 1 / E*²."""
    steel = reduced_modulus(STEEL_E_MPA, STEEL_NU, STEEL_E_MPA, STEEL_NU)
    return static_load(DW_MM, 0.54) / DW_MM**2 * (steel / E_STAR_MPA) ** 2


def values() -> list[Value]:
    unit = "N/mm²"
    thrust = [
        Value(f"f₀ thrust, γ {gamma:g}", unit, f0, thrust_factor(gamma), "seen", absolute=TOLERANCE)
        for gamma, f0 in THRUST
    ]
    radial = [
        Value(f"f₀ radial, γ {gamma:g}", unit, f0, radial_factor(gamma), "seen", absolute=TOLERANCE)
        for gamma, f0 in RADIAL
    ]
    allowable = straight_groove_factor()
    return [
        Value("contact stress of the static rating", "MPa", 4200.0, STATIC_PRESSURE_MPA, "seen"),
        Value("f₀ of framevis's straight groove", unit, dict(THRUST)[0.0], allowable, "seen", absolute=TOLERANCE),
        *thrust,
        *radial,
    ]


def test_values() -> None:
    assert (len(THRUST), len(RADIAL)) == (36, 40)
    check(values())
