"""The guide's own contact, a ball in a straight groove, against a boundary-element half-space.

The library ContactMechanics (FreeFFTElasticHalfSpace) discretises the half-space on a grid and finds the pressures
by conjugate gradients: no elliptic integral, no ellipse assumed.
"""

from __future__ import annotations

import warnings
from functools import cache

import numpy as np
from ledger import Source, Value, check

from framevis.contact import Ellipse, groove_curvatures, hertz

SOURCE = Source(
    "Boundary-element half-space (PyPI ContactMechanics, FreeFFTElasticHalfSpace)",
    "Contact of ball and groove",
    "100 N on a ball of 3.175 mm in a straight groove of 0.52 ball diameters, E 208 GPa, ν 0.3. The grid of 32 × "
    "32 cells knows no elliptic integral and no ellipse, hence 0.1 %; exact: elliptic integrals.",
)
BALL_MM, CONFORMITY, LOAD_N = 3.175, 0.52, 100.0
E_STAR_MPA = 208e3 / (2.0 * (1.0 - 0.3**2))
GRID = 32  # a grid point in the middle of the contact, where the pressure is highest


def by_boundary_elements(size_mm: tuple[float, float]) -> tuple[float, float]:
    """Peak pressure (MPa) and approach (mm) on a grid of this size."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Could not import mpi4py", ImportWarning)
        from ContactMechanics import FreeFFTElasticHalfSpace
        from ContactMechanics.Factory import make_system
        from SurfaceTopography import Topography

    x, y = ((np.arange(GRID) / GRID - 0.5) * length for length in size_mm)
    across, along = 2.0 / BALL_MM - 1.0 / (CONFORMITY * BALL_MM), 2.0 / BALL_MM
    surface = Topography(-(across * x[:, None] ** 2 + along * y[None, :] ** 2) / 2.0, size_mm)
    half_space = FreeFFTElasticHalfSpace((GRID, GRID), E_STAR_MPA, size_mm)
    system = make_system(substrate=half_space, surface=surface)
    assert system.minimize_proxy(external_force=LOAD_N, pentol=1e-12).success
    cell = size_mm[0] * size_mm[1] / GRID**2
    return float(system.force.max() / cell), float(system.offset)


def exact(found: Ellipse) -> list[Value]:
    pairs = (
        ("ratio of the semi-axes, exact", "1", 8.136316, found.a_mm / found.b_mm),
        ("long semi-axis, exact", "mm", 0.4422072, found.a_mm),
        ("short semi-axis, exact", "mm", 0.0543498, found.b_mm),
        ("peak pressure, exact", "MPa", 1986.633, found.pressure_mpa),
        ("approach, exact", "mm", 0.0032991961, found.approach_mm),
    )
    return [Value(what, unit, published, ours, "computed", relative=1e-6) for what, unit, published, ours in pairs]


@cache
def values() -> tuple[Value, ...]:
    found = hertz(LOAD_N, *groove_curvatures(BALL_MM, CONFORMITY), E_STAR_MPA)
    pressure_mpa, approach_mm = by_boundary_elements((2.6 * found.a_mm, 2.6 * found.b_mm))
    return (
        *exact(found),
        Value("peak pressure, boundary elements", "MPa", pressure_mpa, found.pressure_mpa, "computed", relative=0.001),
        Value("approach, boundary elements", "mm", approach_mm, found.approach_mm, "computed", relative=0.001),
    )


def test_values() -> None:
    check(values())
