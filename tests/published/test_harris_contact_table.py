"""Harris, Rolling Bearing Analysis: the table of dimensionless contact parameters a*, b*, δ* over F(ρ).

With Σρ the sum and F(ρ) the relative difference of the principal curvatures:
a = a* ∛(3Q / (2 Σρ E*)), b likewise, δ = δ* (3Q / (2 Σρ E*))^⅔ Σρ / 2. The table: from memory, 22 rows.
"""

from __future__ import annotations

import pytest
from reference_tables import columns

from framevis.contact import hertz

ROWS = list(zip(*columns("harris_dimensionless_contact", "F_rho", "a_star", "b_star", "delta_star"), strict=True))
LOAD_N, SUM_PER_MM, E_STAR_MPA = 250.0, 0.6, 113e3


def test_the_table_is_complete():
    assert len(ROWS) == 22


@pytest.mark.parametrize(("f", "a_star", "b_star", "delta_star"), ROWS)
def test_dimensionless_contact(f, a_star, b_star, delta_star):
    contact = hertz(LOAD_N, SUM_PER_MM * (1 - f) / 2, SUM_PER_MM * (1 + f) / 2, E_STAR_MPA)
    unit = (3 * LOAD_N / (2 * SUM_PER_MM * E_STAR_MPA)) ** (1 / 3)
    assert contact.a_mm / unit == pytest.approx(a_star, rel=0.0005)
    assert contact.b_mm / unit == pytest.approx(b_star, rel=0.0005)
    assert contact.approach_mm / (unit**2 * SUM_PER_MM / 2) == pytest.approx(delta_star, rel=0.0005)
