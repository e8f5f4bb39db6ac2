"""Nominal bodies: closed, facing outward, of the true section. Property tests in numbers."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from framevis.frame import Guide
from framevis.pictures.geometry import (
    PLATE_MARGIN_MM,
    beam_profile,
    block_solid,
    extrude,
    plate_solid,
    rail_ends,
    rail_profile,
    stations_between,
)
from picture.fake_study import BACKED, BOX, CHANNEL, MINI, PLATE, carriage_on, gantry, make_beam, rails_of

STATIONS = np.linspace(0.0, 1500.0, 51)
SECTIONS = [CHANNEL, BACKED, BOX, PLATE]
HIGH_RAIL = Guide(**{**MINI.__dict__, "rail_height_mm": 15.9})
WIDE_RAIL = Guide(**{**MINI.__dict__, "rail_width_mm": 31.9})


def beams():
    return [extrude(beam_profile(section), STATIONS) for section in SECTIONS]


def others():
    plates = [plate_solid(carriage, 300.0) for carriage in gantry().carriages]
    return [extrude(rail_profile(MINI), STATIONS), *(block_solid(g) for g in (MINI, HIGH_RAIL, WIDE_RAIL)), *plates]


def volume(solid) -> float:
    """Of a closed body whose faces look outward (Gauss), each quad cut into two triangles."""
    corners = solid.vertices[solid.faces]
    halves = np.concatenate([corners[:, [0, 1, 2]], corners[:, [0, 2, 3]]])
    return float(np.einsum("ij,ij->", halves[:, 0], np.cross(halves[:, 1], halves[:, 2])) / 6.0)


@pytest.mark.parametrize("solid", beams() + others())
def test_every_edge_has_one_face_on_either_side(solid):
    edges = Counter((int(a), int(b)) for face in solid.faces for a, b in zip(face, np.roll(face, -1), strict=True))
    assert set(edges.values()) == {1}
    assert all((b, a) in edges for a, b in edges)


@pytest.mark.parametrize("solid", beams() + others())
def test_every_vertex_is_used_and_edges_are_edges_of_faces(solid):
    assert set(np.unique(solid.faces)) == set(range(len(solid.vertices)))
    sides = {frozenset((int(a), int(b))) for face in solid.faces for a, b in zip(face, np.roll(face, -1), strict=True)}
    assert {frozenset((int(a), int(b))) for a, b in solid.edges} <= sides
    assert solid.vertices.dtype == np.float64


@pytest.mark.parametrize(
    ("section", "area_mm2"),
    [(CHANNEL, 120 * 5 + 2 * 55 * 5), (BACKED, 120 * 5 + 2 * 55 * 5), (BOX, 100 * 60 - 92 * 52), (PLATE, 100 * 20)],
)
def test_beams_have_the_volume_of_their_section(section, area_mm2):
    assert volume(extrude(beam_profile(section), STATIONS)) == pytest.approx(area_mm2 * 1500.0, rel=1e-12)


def test_the_mouth_is_open_where_the_section_says():
    toward, away = beam_profile(CHANNEL).points, beam_profile(BACKED).points
    inner_toward = toward[np.abs(toward[:, 0]) < 50.0, 1]
    inner_away = away[np.abs(away[:, 0]) < 50.0, 1]
    assert (inner_toward.min(), inner_toward.max()) == (-60.0, -55.0)
    assert (inner_away.min(), inner_away.max()) == (-5.0, 0.0)


def test_the_web_is_divided_so_that_its_bending_shows():
    points = beam_profile(CHANNEL).points
    assert len(np.unique(points[points[:, 1] == -60.0, 0])) >= 7
    assert np.diff(stations_between(0.0, 1500.0)).max() <= 40.0


def test_a_block_stands_clear_of_its_rail():
    rail, block = rail_profile(MINI).points, block_solid(MINI).vertices
    assert rail[:, 1].max() == 10.0
    assert rail[:, 0].max() == 7.5
    legs = block[np.abs(block[:, 1]) < 15.0]
    assert np.abs(legs[:, 1]).min() > 7.5
    assert legs[:, 2][legs[:, 2] > 5.0].min() > 10.0
    assert np.ptp(block, axis=0)[:2] == pytest.approx([43.0, 32.0])
    assert block[:, 2].max() == 16.0


def test_a_plate_lies_on_its_blocks_and_covers_them():
    carriage = gantry().carriage("left")
    plate = plate_solid(carriage, 700.0).vertices
    low, high = plate.min(axis=0), plate.max(axis=0)
    assert low[2] == pytest.approx(16.0)
    assert low[:2] == pytest.approx([-57.5 - 16.0 - PLATE_MARGIN_MM, 700.0 - 45.0 - 21.5 - PLATE_MARGIN_MM])
    assert high[:2] == pytest.approx([57.5 + 16.0 + PLATE_MARGIN_MM, 700.0 + 45.0 + 21.5 + PLATE_MARGIN_MM])


def test_a_plate_over_two_beams_spans_them():
    left, right = make_beam("a", BOX, [0, 0, 0], [0, 1000, 0]), make_beam("b", BOX, [800, 1000, 0], [800, 0, 0])
    rails = rails_of(left, 0.0, names=("one",)) + rails_of(right, 0.0, names=("one",))
    plate = plate_solid(carriage_on("portal", rails, (100, 900)), 500.0)
    assert len(plate.vertices) == 8
    assert np.ptp(plate.vertices, axis=0)[0] == pytest.approx(800.0 + 32.0 + 2 * PLATE_MARGIN_MM)


def test_blocks_on_several_faces_get_a_slab_each_outside_the_beam():
    beam = make_beam("a", BOX, [0, 0, 0], [0, 1000, 0])
    rails = rails_of(beam, 0.0, names=("top",)) + rails_of(beam, 0.0, face_deg=90.0, names=("side",))
    plate = plate_solid(carriage_on("saddle", rails, (100, 900)), 500.0)
    assert len(plate.vertices) == 16
    tall, side = plate.vertices[:8], plate.vertices[8:]
    assert tall[:, 2].min() == pytest.approx(16.0)
    assert np.abs(side[:, 0]).min() == pytest.approx(50.0 + 16.0)


def test_a_rail_ends_half_a_pitch_beyond_its_screws_and_on_its_beam():
    rail = gantry().rail("left_outer")
    assert rail_ends(rail) == (0.0, 20.0 + 36 * 40.0 + 20.0)
