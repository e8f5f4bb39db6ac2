"""Boresi & Schmidt, Advanced Mechanics of Materials, Example 17.2: a ball in a deep-groove bearing's inner race."""

from __future__ import annotations

from ledger import Source, Value, check

from framevis.contact import hertz, reduced_modulus

SOURCE = Source(
    "Boresi & Schmidt, Advanced Mechanics of Materials, Example 17.2",
    "Contact of ball and groove",
    "1750 N, E 200 GPa, ν 0.29, radii 4.76, −4.86 and 18.24 mm. The book reads its coefficients off charts, hence "
    "its tolerances; computed: exact elliptic integrals.",
)


def values() -> list[Value]:
    e_star = reduced_modulus(200e3, 0.29, 200e3, 0.29)
    found = hertz(1750.0, 1 / 4.76 - 1 / 4.86, 1 / 4.76 + 1 / 18.24, e_star)
    return [
        Value("peak pressure", "MPa", 2313.81, found.pressure_mpa, "seen", relative=0.02),
        Value("short semi-axis", "mm", 0.16, found.b_mm, "seen", relative=0.01),
        Value("long semi-axis", "mm", 2.10, found.a_mm, "seen", relative=0.05),
        Value("peak pressure, exact", "MPa", 2351.355, found.pressure_mpa, "computed", absolute=0.0005),
        Value("short semi-axis, exact", "mm", 0.161492, found.b_mm, "computed", absolute=5e-7),
        Value("long semi-axis, exact", "mm", 2.20045, found.a_mm, "computed", absolute=5e-6),
    ]


def test_values() -> None:
    check(values())
