"""One section property: the outline that is drawn for a channel of 120 × 60 × 6 mm has that section's properties.

Ixx 2 971 296, Iyy 466 571, J 16 342.2 mm⁴: computed with sectionproperties 3.10.2 from a channel of its own, J again
with its warping analysis. The area is that of three rectangles. Here the outline comes from framevis.
"""

from __future__ import annotations

import numpy as np
import pytest

from framevis.frame import Material, Section
from framevis.pictures.geometry import beam_profile

WIDTH_MM, DEPTH_MM, WALL_MM = 120.0, 60.0, 6.0
AREA_MM2 = 2 * DEPTH_MM * WALL_MM + (WIDTH_MM - 2 * WALL_MM) * WALL_MM
I_STRONG_MM4, I_WEAK_MM4, J_MM4 = 2_971_296.0, 466_571.0, 16_342.2
MOUTHS = ("toward_rails", "away_from_rails")


def channel(mouth) -> Section:
    return Section("c", "channel", WIDTH_MM, DEPTH_MM, WALL_MM, mouth, Material("aluminium", 70.0, 23.6e-6))


def moments(corners: np.ndarray) -> np.ndarray:
    """Area, ∫t, ∫n, ∫t², ∫n² of a polygon (N, 2), anticlockwise, by Green's theorem."""
    (t, n), (t2, n2) = corners.T, np.roll(corners, -1, axis=0).T
    cross = t * n2 - t2 * n
    parts = (3.0, t + t2, n + n2, (t * t + t * t2 + t2 * t2) / 2.0, (n * n + n * n2 + n2 * n2) / 2.0)
    return np.array([np.sum(cross * part) / 6.0 for part in parts])


@pytest.mark.parametrize("mouth", MOUTHS)
def test_area_and_second_moments_of_the_quads(mouth):
    profile = beam_profile(channel(mouth))
    area, t, n, tt, nn = np.sum([moments(profile.points[quad]) for quad in profile.quads], axis=0)
    assert area == pytest.approx(AREA_MM2)
    assert t == pytest.approx(0.0, abs=1e-6)
    assert tt == pytest.approx(I_STRONG_MM4, abs=0.5)
    assert nn - n**2 / area == pytest.approx(I_WEAK_MM4, abs=0.5)


@pytest.mark.parametrize("mouth", MOUTHS)
def test_the_outline_in_a_finite_element_section_library(mouth):
    from sectionproperties.analysis import Section as Analysis
    from sectionproperties.pre import Geometry

    profile = beam_profile(channel(mouth))
    order = np.argsort(profile.outline[:, 0])
    after = dict(profile.outline[order].tolist())
    ring = [int(profile.outline[0, 0])]
    while (following := after[ring[-1]]) != ring[0]:
        ring.append(following)
    assert len(ring) == len(profile.outline)  # one closed outline
    geometry = Geometry.from_points(
        points=profile.points[ring].tolist(),
        facets=[(i, (i + 1) % len(ring)) for i in range(len(ring))],
        control_points=[(WIDTH_MM / 2 - WALL_MM / 2, -DEPTH_MM / 2)],
    ).create_mesh(mesh_sizes=[4.0])
    analysis = Analysis(geometry)
    analysis.calculate_geometric_properties()
    analysis.calculate_warping_properties()
    i_across, i_up, _ = analysis.get_ic()
    assert analysis.get_area() == pytest.approx(AREA_MM2, rel=1e-9)
    assert sorted([i_across, i_up]) == pytest.approx([I_WEAK_MM4, I_STRONG_MM4], rel=1e-6)
    assert analysis.get_j() == pytest.approx(J_MM4, rel=0.005)  # the mesh is coarser than that of the value
