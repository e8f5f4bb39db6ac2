"""Harris, Rolling Bearing Analysis: the table of dimensionless contact parameters a*, b*, δ* over F(ρ).

With Σρ the sum and F(ρ) the relative difference of the principal curvatures:
a = a* ∛(3Q / (2 Σρ E*)), b likewise, δ = δ* (3Q / (2 Σρ E*))^⅔ Σρ / 2.
"""

from __future__ import annotations

from ledger import Source, Value, check
from reference_tables import columns

from framevis.contact import hertz

SOURCE = Source(
    "Harris, Rolling Bearing Analysis, dimensionless contact parameters",
    "Contact of ball and groove",
    "All 22 rows of the table over F(ρ), the relative difference of the principal curvatures; a*, b*, δ* are "
    "semi-axes and approach over those of a sphere of the same curvature sum.",
)
ROWS = list(zip(*columns("harris_dimensionless_contact", "F_rho", "a_star", "b_star", "delta_star"), strict=True))
LOAD_N, SUM_PER_MM, E_STAR_MPA = 250.0, 0.6, 113e3


def dimensionless(f: float) -> tuple[float, float, float]:
    """a*, b*, δ* of framevis's contact for F(ρ)."""
    contact = hertz(LOAD_N, SUM_PER_MM * (1 - f) / 2, SUM_PER_MM * (1 + f) / 2, E_STAR_MPA)
    unit = (3 * LOAD_N / (2 * SUM_PER_MM * E_STAR_MPA)) ** (1 / 3)
    return contact.a_mm / unit, contact.b_mm / unit, contact.approach_mm / (unit**2 * SUM_PER_MM / 2)


def values() -> list[Value]:
    return [
        Value(f"{name} at F(ρ) {f:g}", "1", published, ours, "from memory", relative=0.0005)
        for f, *row in ROWS
        for name, published, ours in zip(("a*", "b*", "δ*"), row, dimensionless(f), strict=True)
    ]


def test_values() -> None:
    assert len(ROWS) == 22
    check(values())
