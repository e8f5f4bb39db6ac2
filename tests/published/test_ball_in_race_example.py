"""A worked example on a public engineering page: a ball of radius 4.90 in a groove of 5 on a race of 25 mm, 1500 N."""

from __future__ import annotations

from ledger import Source, Value, check

from framevis.contact import hertz, reduced_modulus

SOURCE = Source(
    "Worked example on a public engineering page, a ball in a race",
    "Contact of ball and groove",
    "1500 N on a ball of radius 4.90 mm in a groove of 5 mm on a race of 25 mm, E 210 GPa, ν 0.29. The page works "
    "with approximate formulas, hence its tolerances; computed: exact elliptic integrals.",
)


def values() -> list[Value]:
    e_star = reduced_modulus(210e3, 0.29, 210e3, 0.29)
    found = hertz(1500.0, 1 / 4.90 - 1 / 5.0, 1 / 4.90 + 1 / 25.0, e_star)
    return [
        Value("peak pressure", "MPa", 2193.6, found.pressure_mpa, "seen", relative=0.005),
        Value("long semi-axis", "mm", 2.101, found.a_mm, "seen", relative=0.005),
        Value("short semi-axis", "mm", 0.156, found.b_mm, "seen", absolute=0.0005),
        Value("approach", "mm", 0.012, found.approach_mm, "seen", relative=0.01),
        Value("peak pressure, exact", "MPa", 2195.705, found.pressure_mpa, "computed", absolute=0.0005),
        Value("long semi-axis, exact", "mm", 2.092914, found.a_mm, "computed", absolute=5e-7),
        Value("short semi-axis, exact", "mm", 0.155850, found.b_mm, "computed", absolute=5e-7),
        Value("approach, exact", "mm", 0.01190365, found.approach_mm, "computed", absolute=5e-9),
    ]


def test_values() -> None:
    check(values())
