"""A worked example on a public engineering page: a ball of radius 4.90 in a groove of 5 on a race of 25 mm, 1500 N.

Published values: seen. Exact values: computed.
"""

from __future__ import annotations

import pytest

from framevis.contact import Ellipse, hertz, reduced_modulus


@pytest.fixture(scope="module")
def contact() -> Ellipse:
    e_star = reduced_modulus(210e3, 0.29, 210e3, 0.29)
    return hertz(1500.0, 1 / 4.90 - 1 / 5.0, 1 / 4.90 + 1 / 25.0, e_star)


def test_against_the_page(contact):
    assert contact.pressure_mpa == pytest.approx(2193.6, rel=0.005)
    assert contact.a_mm == pytest.approx(2.101, rel=0.005)
    assert contact.b_mm == pytest.approx(0.156, abs=0.0005)
    assert contact.approach_mm == pytest.approx(0.012, rel=0.01)


def test_against_exact_elliptic_integrals(contact):
    assert contact.pressure_mpa == pytest.approx(2195.705, abs=0.0005)
    assert contact.a_mm == pytest.approx(2.092914, abs=5e-7)
    assert contact.b_mm == pytest.approx(0.155850, abs=5e-7)
    assert contact.approach_mm == pytest.approx(0.01190365, abs=5e-9)
