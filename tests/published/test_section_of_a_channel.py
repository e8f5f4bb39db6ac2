"""One section property: the outline that is drawn for a channel of 120 × 60 × 6 mm has that section's properties.

So have the rectangles by which its bow in warmth is reckoned.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from ledger import Source, Value, check
from practice_gantry import ALUMINIUM

from framevis.frame import Section
from framevis.pictures.geometry import beam_profile
from framevis.torque.warmth import beam_rectangles

SOURCE = Source(
    "Section properties of a channel by finite elements (PyPI sectionproperties), of a box by hand",
    "Sections and opened channels",
    "Channel 120 × 60 × 6 mm, second moments and torsion constant: computed with sectionproperties 3.10.2 from a "
    "channel of its own; the area is that of three rectangles. framevis's outline as it is drawn, with the mouth "
    "either way: by Green's theorem, and meshed by that same library; and its rectangles for the bow in warmth, "
    "for a box of 100 × 80 × 5 too: the outer less the inner rectangle.",
)
WIDTH_MM, DEPTH_MM, WALL_MM = 120.0, 60.0, 6.0
AREA_MM2 = 2 * DEPTH_MM * WALL_MM + (WIDTH_MM - 2 * WALL_MM) * WALL_MM
I_STRONG_MM4, I_WEAK_MM4, J_MM4 = 2_971_296.0, 466_571.0, 16_342.2
WORDS = {"toward_rails": "mouth toward the rails", "away_from_rails": "mouth away"}


def channel(mouth) -> Section:
    return Section("c", "channel", WIDTH_MM, DEPTH_MM, WALL_MM, mouth, ALUMINIUM)


def moments(corners: np.ndarray) -> np.ndarray:
    """Area, ∫t, ∫n, ∫t², ∫n² of a polygon (N, 2), anticlockwise, by Green's theorem."""
    (t, n), (t2, n2) = corners.T, np.roll(corners, -1, axis=0).T
    cross = t * n2 - t2 * n
    parts = (3.0, t + t2, n + n2, (t * t + t * t2 + t2 * t2) / 2.0, (n * n + n * n2 + n2 * n2) / 2.0)
    return np.array([np.sum(cross * part) / 6.0 for part in parts])


def of_the_quads(mouth) -> list[Value]:
    """The drawn outline as its quads, by Green's theorem."""
    profile = beam_profile(channel(mouth))
    area, t, n, tt, nn = np.sum([moments(profile.points[quad]) for quad in profile.quads], axis=0).tolist()
    where = f"outline, {WORDS[mouth]}"
    return [
        Value(f"{where}: area", "mm²", AREA_MM2, area, "computed", relative=1e-6),
        Value(f"{where}: first moment across", "mm³", 0.0, t, "computed", absolute=1e-6),
        Value(f"{where}: strong second moment", "mm⁴", I_STRONG_MM4, tt, "computed", absolute=0.5),
        Value(f"{where}: weak second moment", "mm⁴", I_WEAK_MM4, nn - n**2 / area, "computed", absolute=0.5),
    ]


def of_the_rectangles(mouth) -> list[Value]:
    area, t, n, height, width = across(channel(mouth))
    middle = area @ n / area.sum()
    strong = float(area @ (width**2 / 12.0 + t**2))
    weak = float(area @ (height**2 / 12.0 + (n - middle) ** 2))
    where = f"rectangles, {WORDS[mouth]}"
    return [
        Value(f"{where}: strong second moment", "mm⁴", I_STRONG_MM4, strong, "computed", absolute=0.5),
        Value(f"{where}: weak second moment", "mm⁴", I_WEAK_MM4, weak, "computed", absolute=0.5),
    ]


def of_a_box() -> list[Value]:
    area, _, n, height, _ = across(Section("b", "box", 100.0, 80.0, 5.0, None, ALUMINIUM))
    whole, second = float(area.sum()), float(area @ (height**2 / 12.0 + (n + 40.0) ** 2))
    hollow = (100.0 * 80.0**3 - 90.0 * 70.0**3) / 12.0
    return [
        Value("rectangles of a box: area", "mm²", 100.0 * 80.0 - 90.0 * 70.0, whole, "computed", relative=1e-6),
        Value("rectangles of a box: second moment", "mm⁴", hollow, second, "computed", relative=1e-6),
    ]


def across(section: Section) -> np.ndarray:
    """Areas, places across and up, heights, widths of a section's rectangles, (5, N)."""
    parts = beam_rectangles(section)
    return np.array([[part.width * part.height, part.t, part.n, part.height, part.width] for part in parts]).T


def ring_of(mouth) -> list[int]:
    """The points of the drawn outline in their order."""
    outline = beam_profile(channel(mouth)).outline
    after = dict(outline[np.argsort(outline[:, 0])].tolist())
    ring = [int(outline[0, 0])]
    while (following := after[ring[-1]]) != ring[0]:
        ring.append(following)
    assert len(ring) == len(outline)  # one closed outline
    return ring


def by_finite_elements(mouth) -> list[Value]:
    from sectionproperties.analysis import Section as Analysis
    from sectionproperties.pre import Geometry

    ring = ring_of(mouth)
    geometry = Geometry.from_points(
        points=beam_profile(channel(mouth)).points[ring].tolist(),
        facets=[(i, (i + 1) % len(ring)) for i in range(len(ring))],
        control_points=[(WIDTH_MM / 2 - WALL_MM / 2, -DEPTH_MM / 2)],
    ).create_mesh(mesh_sizes=[4.0])
    analysis = Analysis(geometry)
    analysis.calculate_geometric_properties()
    analysis.calculate_warping_properties()
    weak, strong = sorted(analysis.get_ic()[:2])
    where, area = f"meshed, {WORDS[mouth]}", analysis.get_area()
    return [
        Value(f"{where}: area", "mm²", AREA_MM2, area, "computed", relative=1e-9),
        Value(f"{where}: strong second moment", "mm⁴", I_STRONG_MM4, strong, "computed", relative=1e-6),
        Value(f"{where}: weak second moment", "mm⁴", I_WEAK_MM4, weak, "computed", relative=1e-6),
        # the mesh is coarser than that of the value
        Value(f"{where}: torsion constant", "mm⁴", J_MM4, analysis.get_j(), "computed", relative=0.005),
    ]


@cache
def values() -> tuple[Value, ...]:
    ways = (of_the_quads, by_finite_elements, of_the_rectangles)
    return (*(value for way in ways for mouth in WORDS for value in way(mouth)), *of_a_box())


def test_values() -> None:
    check(values())


@pytest.mark.parametrize(("mouth", "upper_side"), [("toward_rails", -60.0 + 6.0), ("away_from_rails", 0.0)])
def test_rectangles_lie_where_the_walls_are(mouth, upper_side) -> None:
    _, _, n, height, _ = across(channel(mouth))
    assert n[0] + height[0] / 2.0 == upper_side  # of the web
    assert (n + height / 2.0).max() == pytest.approx(0.0)
    assert (n - height / 2.0).min() == pytest.approx(-DEPTH_MM)
