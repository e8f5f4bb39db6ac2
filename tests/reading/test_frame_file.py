"""A frame file that can be used, and each way in which it can't."""

import dataclasses
import re

import numpy as np
import pytest

from framekit import SAMPLE_TOML, write_frame
from framevis.errors import BadInput
from framevis.reading.frame_file import read_frame

SECOND_BEAM = """
[beam.right]
section = "channel"
start = [500, 0, 0]
end = [500, 1200, 0]
normal = [0, 0, 1]
"""
CROSS_BEAM = """
[beam.cross]
section = "channel"
start = [0, 700, 50]
end = [600, 700, 50]
normal = [0, 0, 1]
carried_by = "left"
"""
SHIM_TWICE = "thickness_um = 40\n" + SAMPLE_TOML[SAMPLE_TOML.index("[[shim]]") :]
# What is replaced in the sample, by what, and what the error says.
REFUSED = [
    ("format = 1", "format = 2", "line 1, format: is 2: this program reads format = 1"),
    ("format = 1\n", "", "format: is missing"),
    ('"mm"  ', '"cm"  ', "length_unit: \"cm\" is not one of the choices"),
    ('["as_found", "as_left"]', "[]", "stages: has 0 entries: give at least one"),
    ('["as_found", "as_left"]', '["as_found", "As_Found", "as_left"]', 'stage "As_Found" is listed twice'),
    ('["as_found", "as_left"]', '["..", "as_left"]', r'stages\[1\]: ".." can\'t be the name of a file or folder'),
    ('["as_found", "as_left"]', '["a/b", "as_left"]', '"a/b" can\'t be a name'),
    ('["as_found", "as_left"]', '["a\\\\b", "as_left"]', "can't be the name of a file or folder"),
    ('"Tile glazing table"', '"a\\u001b[2Jb"', r'"a\\x1b\[2Jb" is not a plain text'),
    ('"Tile glazing table"', "nan", "line 2, name: nan is not a text: put it between double quotes"),
    ("format = 1", "format = 1\nup = [0, 0, 0]", "line 2, up: has no direction"),
    ("format = 1", "format = 1\nup = [0, 0]", "up: has 2 entries: give 3"),
    ("format = 1", "format = 1\nformat = 1", "line 2: the same key or table is given a second time"),
    ("[beam.left]", "[guide.mini15]\nx = 1\n[beam.left]", "line 44: the same key or table is given a second time"),
    ('shape = "channel"', "shape = channel", r"line 17: is not valid TOML \(Invalid value"),
    ('shape = "channel"', 'shape = "chanel"', 'section.channel.shape: "chanel" is not .*: did you mean "channel"'),
    ("tight_drag_ratio = 1.5", "tight_drag_ratio = 1.0", "limits.tight_drag_ratio: is 1: it must be more than 1"),
    ("binding_drag_ratio = 3.0", "binding_drag_ratio = 1.5", "limits.binding_drag_ratio: is 1.5, not more than tight"),
    ("static_safety = 2.0", "static_safety = 0", "limits.static_safety: is 0: it must be greater than zero"),
    ("static_safety = 2.0", "static_safty = 2.0", 'unknown key "static_safty": did you mean "static_safety"'),
    ("static_safety = 2.0", "static_safety = nan", "static_safety: is not a finite number"),
    ("static_safety = 2.0", "static_safety = inf", "static_safety: is not a finite number"),
    ("static_safety = 2.0", 'static_safety = "2"', 'static_safety: "2" is not a number: give a number such as 12.5'),
    ("static_safety = 2.0", "static_safety = true", "static_safety: true is not a number"),
    ("[20, 40, 100]", "[20, 20, 100]", "shim_stock.thickness_um: names one thickness twice"),
    ("[20, 20, 8]", "[20, 20]", "shim_stock.count: has 2 entries for 3 thicknesses"),
    ("[20, 40, 100]", "[20, -40, 100]", r"shim_stock.thickness_um\[2\]: is -40"),
    ("wall = 5.0", "wall = 60.0", "section.channel.wall: a wall of 60 mm leaves nothing open in a channel"),
    ("wall = 5.0\n", "", "section.channel.wall: is missing: a channel needs"),
    ('mouth = "toward_rails"\n', "", "section.channel.mouth: is missing: a channel needs mouth"),
    ('shape = "channel"', 'shape = "box"', "section.channel.mouth: a box has no mouth"),
    ('material = "aluminium"', 'material = "aluminum"', 'material: "aluminum" .*: did you mean "aluminium"'),
    ('material = "aluminium"', "material = {E_gpa = 70}", "section.channel.material.alpha_per_k: is missing"),
    ('material = "aluminium"', "material = {e_gpa = 1}", 'unknown key "e_gpa": did you mean "E_gpa"'),
    ("width = 120.0", "width = -120.0", "section.channel.width: is -120: it must be greater than zero"),
    ("ball_diameter = 3.175", "ball_diameter = 0", "guide.mini15.ball_diameter: is 0: it must be greater than zero"),
    ("ball_diameter = 3.175\n", "", "line 24, guide.mini15.ball_diameter: is missing: add this key"),
    ("balls_per_row = 7", "balls_per_row = 7.5", "balls_per_row: 7.5 is not a whole number"),
    ("balls_per_row = 7", "balls_per_row = 0", "balls_per_row: is 0: it must be at least 1"),
    ("balls_per_row = 7", "balls_per_row = 15", "balls_per_row: a row of 15 balls is 46.6725 mm long, more than the"),
    ("contact_angle_deg = 45.0", "contact_angle_deg = 1e-5", "contact_angle_deg: is 1e-05: it is mostly 45 to 60"),
    ("row_spacing = 14.4", "row_spacing = 400.0", "row_spacing: is more than the block's width"),
    ("contact_angle_deg = 45.0", "contact_angle_deg = 90", "contact_angle_deg: is 90: it must lie between 0 and 90"),
    ("contact_angle_deg = 45.0", "contact_angle_deg = 0", "contact_angle_deg: is 0: it must lie between 0 and 90"),
    ("conformity = 0.53", "conformity = 0.5", "conformity: is 0.5: .* must be more than 0.5"),
    ("conformity = 0.53", "conformity = 53", "conformity: is 53: .* is at most 1"),
    ("friction = 0.004", "friction = -0.1", "friction: is -0.1: it must not be negative"),
    ("conformity = 0.53", "conformity = 0.5000001", "conformity: is 0.5000001, a groove that all but wraps the ball"),
    ("row_gap = 0.0", "row_gap = 4", "row_gap: a gothic guide has one row a side"),
    ("ball_height = 6.5", "ball_height = 65", "ball_height: lies above the block's top"),
    ("end = [0, 1500, 0]", "end = [0, 0, 0]", "beam.left.end: start and end are the same place"),
    ("normal = [0, 0, 1]", "normal = [0, 1, 0]", "beam.left.normal: points along the beam"),
    ("normal = [0, 0, 1]", "normal = [0, 0.1, 1]", "beam.left.normal: is 5.7° off square"),
    ("normal = [0, 0, 1]", "normal = [0, 0, 0]", "beam.left.normal: has no direction"),
    ("end = [0, 1500, 0]", "end = [0, 1500]", "beam.left.end: has 2 entries: give 3"),
    ('section = "channel"', 'section = "chanel"', 'beam.left.section: there is no section "chanel": did you mean'),
    ('guide = "mini15"\nseat = -35', 'guide = "mini51"\nseat = -35', 'left_outer.guide: there is no guide "mini51"'),
    ("seat = -35.0", "seat = -60.5", "rail.left_outer.seat: is -60.5 mm, beside a face that is 120 mm wide"),
    ("seat = -35.0", "seat = -35.0\nface_deg = 90", "seat: is -35 mm, beside a face that is 60 mm wide"),
    ("seat = -35.0", "seat = -35.0\nface_deg = 45", "face_deg: is 45: a section has four faces"),
    ("screws = 37", "screws = 39", "rail.left_outer.screws: the last of 39 screws stands at 1540 mm, the beam ends"),
    ("first_screw = 20.0\nscrews", "first_screw = -1\nscrews", "first_screw: is -1 mm, off a beam 1500 mm long"),
    ("screw_pitch = 40.0", "screw_pitch = 0.01", "screws: 148001 screws would fit on this beam"),
    ("[80, 1420]", "[1420, 80]", "carriage.left.travel: runs from 1420 mm to 80 mm"),
    ("[80, 1420]", "[80, 1480]", 'at 1480 mm block "front_outer" stands 25 mm beyond the end of beam "left"'),
    ("[80, 1420]", "[40, 1420]", 'at 40 mm block "rear_outer" stands 5 mm before the start of beam "left"'),
    ('"rear_outer",', '"front_outer",', r'blocks\[2\].name: there are two blocks "front_outer"'),
    ('rail = "left_inner", along =  45', 'rail = "left_iner", along =  45', r'line 69, carriage.left.blocks\[3\].rail'),
    ("along = -45 },\n  { name = \"front_i", "along = 5 },\n  { name = \"front_i", "overlap: 40 mm apart on one"),
    ("bolted_at = 700.0", "bolted_at = 70.0", "bolted_at: is 70 mm, outside the travel"),
    ("bolted_at = 700.0", "seat_stiffness = {roll_nm_per_mrad = 0}", "roll_nm_per_mrad: is 0: it must be greater than"),
    ("bolted_at = 700.0", "seat_stiffness = {rol_nm_per_mrad = 1}", "did you mean \"roll_nm_per_mrad\""),
    ("mass_kg = 6.0", "mass_kg = -6.0", "mass_kg: is -6: it must not be negative"),
    ('stage = "as_left"', 'stage = "as_lef"', r'shim\[1\].stage: there is no stage "as_lef": did you mean "as_left"'),
    ("left/front_outer/left", "left/front_outer", 'shim.*spot: "left/front_outer" is not a spot'),
    ("left/front_outer/left", "left/front_outer/both", 'there is no part "both": use one of "full", "left", "right"'),
    ("left/front_outer/left", "lef/front_outer/left", 'there is no carriage "lef": did you mean "left"'),
    ("left/front_outer/left", "left/front/left", 'there is no block "front": .*"front_'),
    ("left/front_outer/left", "left_outer@38/full", 'rail "left_outer" has no screw 38: count .* to 37'),
    ("left/front_outer/left", "left_uter@3/full", 'there is no rail "left_uter": did you mean "left_outer"'),
    ("thickness_um = 40\n", "thickness_um = 0\n", r"shim\[1\].thickness_um: is 0"),
    ("thickness_um = 40\n", SHIM_TWICE, "spot .* has two entries for one stage"),
    ("normal = [0, 0, 1]", 'normal = [0, 0, 1]\ncarried_by = "lef"', 'carried_by: there is no carriage "lef"'),
    ("normal = [0, 0, 1]", 'normal = [0, 0, 1]\ncarried_by = "left"', "carried_by: the beam is carried by a carriage"),
    ("normal = [0, 0, 1]", "normal = [0, 0, 1]\ncarried_at = 5", "carried_at: nothing carries this beam"),
    ("[rail.left_outer]", CROSS_BEAM + "carried_at = 5\n[rail.left_outer]", "carried_at: is 5 mm, outside the travel"),
    ("[beam.left]", "[beam.'a/b']", r'beam."a/b": "a/b" can\'t be a name'),
    ("[rail.left_outer]", "[rails.left_outer]", 'unknown key "rails": did you mean "rail"'),
    ("[sweep.left_mouth]", "[sweep.'..']", "can't be the name of a file or folder"),
    ("[sweep.left_mouth]", "[sweep.Left_Tops]", 'differs from sweep "left_tops" only in capitals'),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "says"), REFUSED)
def test_refuses(tmp_path, old, new, says):
    assert old in SAMPLE_TOML
    write_frame(tmp_path, SAMPLE_TOML.replace(old, new, 1), {})
    with pytest.raises(BadInput, match=says) as caught:
        read_frame(tmp_path)
    assert all("\n" not in str(each) and str(each).isprintable() for each in caught.value.problems)


def test_the_sample_loads(tmp_path):
    frame = read_frame(write_frame(tmp_path))
    assert [rail.name for rail in frame.rails] == ["left_outer", "left_inner"]
    assert frame.rail("left_inner").screws == 38  # (1500 − 20) / 40 + 1
    assert len(frame.warnings) == 2
    assert 'rail "left_outer" is seated over the mouth' in frame.warnings[0]
    assert frame.carriage("left").seat_stiffness is None
    assert str(frame.shims[0].spot) == "left/front_outer/left"
    assert {sweep.kind for sweep in frame.sweeps} == {
        "indicator", "bridge", "gap", "mouth", "level_along", "level_across",
    }  # fmt: skip


def _plain_values(frame):
    return [dataclasses.astuple(each) for each in (frame.limits, frame.beams[0].section, frame.rails[0].guide)]


def test_inches_give_the_same_frame(tmp_path):
    lengths = re.compile(
        r"^((?:width|depth|wall|rail_\w+|block_\w+|ball_height|ball_diameter|row_spacing|seat|first_screw|screw_pitch"
        r"|base|depth_at|bolted_at) *= *)(-?[\d.]+)$", re.MULTILINE,
    )  # fmt: skip
    inches = lengths.sub(lambda found: f"{found[1]}{float(found[2]) / 25.4!r}", SAMPLE_TOML)
    inches = inches.replace('"mm"  ', '"in"  ').replace("[0, 1500, 0]", f"[0, {1500 / 25.4!r}, 0]")
    inches = inches.replace("[80, 1420]", f"[{80 / 25.4!r}, {1420 / 25.4!r}]")
    inches = re.sub(r"along = +(-?45)", lambda found: f"along = {float(found[1]) / 25.4!r}", inches)
    one, other = read_frame(write_frame(tmp_path / "mm")), read_frame(write_frame(tmp_path / "in", inches))
    assert _plain_values(one)[0] == _plain_values(other)[0]
    for a, b in zip(_plain_values(one), _plain_values(other), strict=True):
        numbers = [(x, y) for x, y in zip(a, b, strict=True) if isinstance(x, float)]
        assert [y for _, y in numbers] == pytest.approx([x for x, _ in numbers])
    assert other.sweeps[5].base_mm == pytest.approx(150.0)
    assert other.carriages[0].travel_mm == pytest.approx((80.0, 1420.0))


def test_lengths_in_errors_are_in_the_unit_of_the_file(tmp_path):
    write_frame(tmp_path, SAMPLE_TOML.replace('"mm"  ', '"in"  ').replace("seat = -35.0", "seat = -60.5"), {})
    with pytest.raises(BadInput, match=r"is -60.5 in, beside a face that is 120 in wide"):
        read_frame(tmp_path)


def test_all_problems_are_raised_at_once_in_the_order_of_lines(tmp_path):
    text = SAMPLE_TOML.replace("wall = 5.0", "wall = 60.0").replace("friction = 0.004", "frict = 0.004")
    text = text.replace("bolted_at = 700.0", "bolted_at = 70.0").replace('stage = "as_left"', 'stage = "x"')
    write_frame(tmp_path, text, {})
    with pytest.raises(BadInput, match="wall") as caught:
        read_frame(tmp_path)
    fields = [each.field for each in caught.value.problems]
    assert fields == ["section.channel.wall", "guide.mini15.frict", "carriage.left.bolted_at", "shim[1].stage"]


def test_a_broken_shim_leaves_the_lines_of_the_others_right(tmp_path):
    more = '[[shim]]\nstage = "as_left"\nspot = "left/nobody/full"\nthickness_um = 20\n'
    write_frame(tmp_path, SAMPLE_TOML.replace("thickness_um = 40\n", "thickness_um = '40'\n") + more, {})
    with pytest.raises(BadInput, match=r'shim\[2\].spot: there is no block "nobody"') as caught:
        read_frame(tmp_path)
    lines = (SAMPLE_TOML + more).split("\n")
    assert [lines[p.line - 1] for p in caught.value.problems] == ["thickness_um = 40", 'spot = "left/nobody/full"']


@pytest.mark.parametrize("kind", ["beam", "rail", "carriage"])
def test_a_frame_needs_its_parts(tmp_path, kind):
    kept = [part for part in SAMPLE_TOML.split("\n[") if not part.startswith(f"{kind}.")]
    write_frame(tmp_path, "\n[".join(kept), {})
    with pytest.raises(BadInput, match=f"frame.toml, {kind}: there is no {kind}: describe at least one"):
        read_frame(tmp_path)


def test_own_material_up_and_square_normal(tmp_path):
    text = SAMPLE_TOML.replace('"aluminium"', "{E_gpa = 45, alpha_per_k = 26e-6}")
    text = text.replace("format = 1", "format = 1\nup = [0, 2, 0]").replace("[0, 0, 1]", "[0, 0.01, 1]")
    frame = read_frame(write_frame(tmp_path, text, {}))
    assert frame.beams[0].section.material.e_gpa == 45.0
    assert frame.up.tolist() == [0.0, 1.0, 0.0]
    assert np.allclose(frame.beams[0].axes @ frame.beams[0].axes.T, np.eye(3), atol=1e-12)


def test_a_plate_is_all_wall(tmp_path):
    text = SAMPLE_TOML.replace('shape = "channel"', 'shape = "plate"').replace('mouth = "toward_rails"\n', "")
    text = text.replace("wall = 5.0\n", "").split("[sweep.")[0]
    assert read_frame(write_frame(tmp_path, text, {})).beams[0].section.wall_mm == 60.0


def test_carriages_on_two_beams_and_carried_beams(tmp_path):
    two = SAMPLE_TOML.replace("[rail.left_outer]", SECOND_BEAM + CROSS_BEAM + "\n[rail.left_outer]")
    two = two.replace('[rail.left_inner]\nbeam = "left"', '[rail.left_inner]\nbeam = "right"')
    write_frame(tmp_path, two, {})
    with pytest.raises(BadInput, match=r'block "front_inner" stands 265 mm beyond the end of beam "right"'):
        read_frame(tmp_path)
    write_frame(tmp_path, two.replace("[80, 1420]", "[80, 1120]"), {})
    assert read_frame(tmp_path).beam("cross").carried_by == ("left",)
    write_frame(tmp_path, two.replace("[500, 1200, 0]", "[503, 1200, 0]"), {})
    with pytest.raises(BadInput, match=r'blocks\[3\].rail: block "front_inner" rides a beam that is not parallel'):
        read_frame(tmp_path)


def test_no_carrier_in_a_circle(tmp_path):
    text = SAMPLE_TOML.replace("normal = [0, 0, 1]", 'normal = [0, 0, 1]\ncarried_by = ["across"]', 1)
    text += CROSS_BEAM + (
        '[rail.bridge]\nbeam = "cross"\nguide = "mini15"\nseat = 0\nfirst_screw = 20\n'
        '[carriage.across]\ntravel = [100, 500]\nblocks = [{name = "only", rail = "bridge", along = 0}]\n'
    )
    write_frame(tmp_path, text, {})
    with pytest.raises(BadInput, match=r"beam.left.carried_by: the beam is carried by a carriage that rides on it"):
        read_frame(tmp_path)
    write_frame(tmp_path, text.replace('\ncarried_by = ["across"]', ""), {})
    assert read_frame(tmp_path).carriage("across").mass_kg == 0.0


def test_no_drag_to_compare_with(tmp_path):
    text = SAMPLE_TOML.replace("seal_drag_n = 1.0", "seal_drag_n = 0").replace("mass_kg = 6.0\n", "")
    write_frame(tmp_path, text.replace("_um = 1.5", "_um = 0"), {})
    with pytest.raises(BadInput, match='block "front_outer" has no drag to compare with'):
        read_frame(tmp_path)
    read_frame(write_frame(tmp_path, text, {}))
    write_frame(tmp_path, text.replace("friction = 0.004", "friction = 0"), {})
    with pytest.raises(BadInput, match="friction: with no friction and no seal drag there is no drag"):
        read_frame(tmp_path)


def test_files_that_are_no_frames(tmp_path):
    with pytest.raises(BadInput, match=r"frame.toml: there is no folder .*gone"):
        read_frame(tmp_path / "gone")
    with pytest.raises(BadInput, match=r"frame.toml: there is none in the folder"):
        read_frame(tmp_path)
    file = tmp_path / "frame.toml"
    for raw, says in [
        (b"", "frame.toml: is empty"),
        (b"# \xe4", "frame.toml, line 1: is not UTF-8 text"),
        (b"a\x00b", "frame.toml: is not a text file"),
        (b"\xff\xfea\x00", "frame.toml: is UTF-16 text: save it as UTF-8"),
        (b"x = " + b"[" * 5000, "frame.toml.*: is (nested too deeply|not valid TOML)"),
        (b"x = " + b"9" * 5000, "frame.toml.*: is not valid TOML"),
        (b"x" * 2_100_000, "frame.toml: has 2 MB"),
    ]:
        file.write_bytes(raw)
        with pytest.raises(BadInput, match=says):
            read_frame(tmp_path)
    with pytest.raises(BadInput, match="is not a folder: give the folder"):
        read_frame(file)
    file.unlink()
    file.mkdir()
    with pytest.raises(BadInput, match=r"frame.toml: is a folder"):
        read_frame(tmp_path)


def test_byte_order_mark_and_windows_line_ends(tmp_path):
    (tmp_path / "frame.toml").write_bytes(b"\xef\xbb\xbf" + SAMPLE_TOML.replace("\n", "\r\n").encode())
    assert read_frame(tmp_path).name == "Tile glazing table"
