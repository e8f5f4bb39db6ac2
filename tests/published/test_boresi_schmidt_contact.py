"""Boresi & Schmidt, Advanced Mechanics of Materials, Example 17.2: a ball in a deep-groove bearing's inner race.

Published values: seen; the book reads its coefficients off charts, hence the tolerances. Exact values: computed.
"""

from __future__ import annotations

import pytest

from framevis.contact import Ellipse, hertz, reduced_modulus


@pytest.fixture(scope="module")
def contact() -> Ellipse:
    e_star = reduced_modulus(200e3, 0.29, 200e3, 0.29)
    return hertz(1750.0, 1 / 4.76 - 1 / 4.86, 1 / 4.76 + 1 / 18.24, e_star)


def test_against_the_book(contact):
    assert contact.pressure_mpa == pytest.approx(2313.81, rel=0.02)
    assert contact.b_mm == pytest.approx(0.16, rel=0.01)
    assert contact.a_mm == pytest.approx(2.10, rel=0.05)


def test_against_exact_elliptic_integrals(contact):
    assert contact.pressure_mpa == pytest.approx(2351.355, abs=0.0005)
    assert contact.b_mm == pytest.approx(0.161492, abs=5e-7)
    assert contact.a_mm == pytest.approx(2.20045, abs=5e-6)
