"""The cut through a beam: outlines close, deviations move them as they should, the notes say the known numbers."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from framevis.cli import load
from framevis.deviations import CAUSES
from framevis.frame import BlockSpot, Shim
from framevis.pictures.ears import triangles
from framevis.pictures.inset import own_magnification, settled, spread
from framevis.pictures.scene import resolve_positions, worst_positions
from framevis.pictures.section import gap_of, section_at
from picture.fake_study import BACKED, BOX, gantry, make_beam, make_frame, make_study, polynomial, rails_of

DEMO = Path(__file__).parents[2] / "demo_frames/glazing_table"
AT = {"left": 700.0, "right": 700.0, "tool": 500.0}
FRONT = 745.0  # station of the left carriage's front blocks


def opened(**more):
    """2 mrad of opening all along the left beam, nothing else."""
    return make_study(gantry(**more), known={("opening", "left"): polynomial(2.0)})


def texts(section, kind):
    return [note.text for note in section.notes if note.kind == kind]


def test_a_channel_opened_by_hand_is_told_in_known_numbers():
    section = section_at(opened(), AT, "left", FRONT)
    assert texts(section, "opening") == ["opening 2.0 mrad"]
    assert texts(section, "twist") == ["twist 0.0 mrad"]
    assert texts(section, "roll") == ["left_outer rolls 2.0 mrad, left up", "left_inner rolls 2.0 mrad, right up"]
    # 2 mrad × half the width of the block, 16 mm
    assert texts(section, "gap") == ["pressed 32 µm", "gap 32 µm", "gap 32 µm", "pressed 32 µm"]


def test_a_closed_channel_is_said_to_close_and_twist_tilts_all_alike():
    study = make_study(known={("opening", "left"): polynomial(-1.5), ("twist", "right"): polynomial(0.4)})
    assert texts(section_at(study, AT, "left", FRONT), "opening") == ["closing 1.5 mrad"]
    twisted = section_at(study, AT, "right", FRONT)
    assert texts(twisted, "twist") == ["twist 0.4 mrad, left up"]
    assert texts(twisted, "roll") == ["right_outer rolls 0.4 mrad, left up", "right_inner rolls 0.4 mrad, left up"]
    assert texts(twisted, "gap") == ["no gap"] * 4


def test_inch_frames_speak_of_thou():
    section = section_at(opened(length_unit="in"), AT, "left", FRONT)
    assert texts(section, "gap")[1] == "gap 1.3 thou"


def test_shims_that_are_fitted_fill_the_gap():
    study = opened(shims=(Shim("as_found", BlockSpot("left", "front_outer", "right"), 20.0),))
    carriage = study.frame.carriage("left")
    bare = gap_of(opened(), carriage, carriage.blocks[0], 700.0)
    gap = gap_of(study, carriage, carriage.blocks[0], 700.0)
    assert (gap.left_um - bare.left_um, gap.right_um - bare.right_um) == pytest.approx((0.0, -20.0))


def test_no_deviation_is_the_nominal_section_exactly():
    section = section_at(make_study(known={}), AT, "left", FRONT)
    for outline in section.outlines:
        assert all(np.all(outline.displacement[cause] == 0.0) for cause in CAUSES)
        assert np.array_equal(outline.shown(1000.0), outline.points_mm)
    assert texts(section, "gap") == ["no gap"] * 4


def test_what_stands_at_the_station_is_cut():
    study = opened()
    roles = [(o.role, o.name) for o in section_at(study, AT, "left", FRONT).outlines]
    assert roles == [
        ("beam", "left"),
        ("rail", "left_outer"),
        ("rail", "left_inner"),
        ("block", "left/front_outer"),
        ("block", "left/front_inner"),
        ("plate", "left"),
    ]
    between = section_at(study, AT, "left", 700.0)  # the plate goes on between the blocks
    assert [o.role for o in between.outlines] == ["beam", "rail", "rail", "plate"]
    assert [o.role for o in section_at(study, AT, "left", 1200.0).outlines] == ["beam", "rail", "rail"]


def test_a_box_has_a_hollow():
    box = [o for o in section_at(opened(), AT, "cross", 500.0).outlines if o.role == "beam"]
    assert [o.name for o in box] == ["cross", "cross inside"]
    assert np.ptp(box[0].points_mm, axis=0) == pytest.approx([BOX.width_mm, BOX.depth_mm])
    assert np.ptp(box[1].points_mm, axis=0) == pytest.approx([92.0, 52.0])


def test_the_web_bends_as_its_channel_opens():
    beam = make_beam("one", BACKED, [0, 0, 0], [0, 1500, 0])
    frame = make_frame((beam,), rails_of(beam, -40.0, 40.0), ())
    section = section_at(make_study(frame, known={("opening", "one"): polynomial(1.0)}), {}, "one", 700.0)
    beam_outline = section.outlines[0]
    top = beam_outline.points_mm[:, 1] == 0.0
    web = top & (np.abs(beam_outline.points_mm[:, 0]) < 55.0)
    t, up = beam_outline.points_mm[web, 0], beam_outline.displacement["opening"][web, 1]
    assert web.sum() >= 7
    assert up == pytest.approx(t**2 / 120.0)  # constant curvature: t² / width, µm a mrad


def test_the_gap_across_a_block_is_its_roll_in_the_demo():
    study = load(DEMO, "as_found", 50)
    positions = resolve_positions(study.frame, {}, worst_positions(study))
    assessed = study.assessment("left")
    at = int(np.argmin(np.abs(assessed.stations_mm - positions["left"])))
    for block in assessed.blocks:
        gap = gap_of(study, assessed.carriage, block.block, positions["left"])
        roll = block.misfit[2, at]  # of the block against its rail, mrad
        assert (gap.left_um - gap.right_um) == pytest.approx(roll * 32.0, abs=3.0)
        assert abs(gap.left_um - gap.right_um) > 40.0


def test_a_station_off_the_beam_is_its_end():
    assert section_at(opened(), AT, "left", 5000.0).station_mm == 1500.0


def test_triangles_cover_a_channel():
    outline = section_at(opened(), AT, "left", 700.0).outlines[0].points_mm
    cut = triangles(outline)
    assert len(cut) == len(outline) - 2
    a, b, c = (outline[[t[i] for t in cut]] for i in range(3))
    area = 0.5 * np.abs((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0])
    assert area.sum() == pytest.approx(2 * 60.0 * 5.0 + 110.0 * 5.0)


def test_notes_in_a_row_keep_apart_and_inside():
    xs = spread([50.0, 52.0, 190.0], [40.0, 40.0, 40.0], 0.0, 200.0, 5.0)
    assert xs[0] >= 0.0
    assert xs[1] >= xs[0] + 45.0
    assert xs[2] == pytest.approx(160.0)


def test_the_sheet_leaves_out_the_beams_own_shift_and_is_never_torn():
    bowed = make_study(known={("bow_lateral", "left"): polynomial(400.0)})
    section = section_at(bowed, AT, "left", 1200.0)
    assert all(um == pytest.approx(np.zeros_like(um), abs=1e-9) for um in settled(section, CAUSES))
    assert own_magnification(section, CAUSES, 300.0) == 300.0
    torn = section_at(make_study(known={("opening", "left"): polynomial(20.0)}), AT, "left", 1200.0)
    assert 1.0 <= own_magnification(torn, CAUSES, 300.0) < 30.0
