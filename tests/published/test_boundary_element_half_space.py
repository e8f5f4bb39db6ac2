"""The guide's own contact, a ball in a straight groove, against a boundary-element half-space.

The library ContactMechanics (FreeFFTElasticHalfSpace) discretises the half-space on a grid and finds the pressures
by conjugate gradients: no elliptic integral, no ellipse assumed. The exact values are computed.
"""

from __future__ import annotations

import numpy as np
import pytest

from framevis.contact import Ellipse, groove_curvatures, hertz

BALL_MM, CONFORMITY, LOAD_N = 3.175, 0.52, 100.0
E_STAR_MPA = 208e3 / (2.0 * (1.0 - 0.3**2))
GRID = 32  # a grid point in the middle of the contact, where the pressure is highest


@pytest.fixture(scope="module")
def contact() -> Ellipse:
    return hertz(LOAD_N, *groove_curvatures(BALL_MM, CONFORMITY), E_STAR_MPA)


def test_against_exact_elliptic_integrals(contact):
    assert contact.a_mm / contact.b_mm == pytest.approx(8.136316, rel=1e-6)
    assert contact.a_mm == pytest.approx(0.4422072, rel=1e-6)
    assert contact.b_mm == pytest.approx(0.0543498, rel=1e-6)
    assert contact.pressure_mpa == pytest.approx(1986.633, rel=1e-6)
    assert contact.approach_mm == pytest.approx(0.0032991961, rel=1e-6)


@pytest.mark.filterwarnings("ignore:Could not import mpi4py:ImportWarning")
def test_against_boundary_elements(contact):
    from ContactMechanics import FreeFFTElasticHalfSpace
    from ContactMechanics.Factory import make_system
    from SurfaceTopography import Topography

    size = (2.6 * contact.a_mm, 2.6 * contact.b_mm)
    x, y = ((np.arange(GRID) / GRID - 0.5) * length for length in size)
    across, along = 2.0 / BALL_MM - 1.0 / (CONFORMITY * BALL_MM), 2.0 / BALL_MM
    surface = Topography(-(across * x[:, None] ** 2 + along * y[None, :] ** 2) / 2.0, size)
    half_space = FreeFFTElasticHalfSpace((GRID, GRID), E_STAR_MPA, size)
    system = make_system(substrate=half_space, surface=surface)
    assert system.minimize_proxy(external_force=LOAD_N, pentol=1e-12).success
    cell = size[0] * size[1] / GRID**2
    assert system.force.max() / cell == pytest.approx(contact.pressure_mpa, rel=0.001)
    assert system.offset == pytest.approx(contact.approach_mm, rel=0.001)
