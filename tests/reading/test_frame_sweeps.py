"""The ways of measuring of a frame file, and each way in which one can't be used."""

import pytest

from framekit import SAMPLE_TOML, write_frame
from framevis.errors import BadInput
from framevis.reading.frame_file import read_frame

BASE = SAMPLE_TOML.split("[sweep.")[0]
GAP = """kind = "gap"
touches = [["left_outer", "right"], ["left_outer", "left"]]
feeler_at = ["left_inner", "right"]
u_um = 5
"""
REFUSED = [
    ('kind = "indicator"\nrail = "left_outer"\ndirection = "height"\nu_um = 0.001', "u_um: is 0.001 µm, less than any"),
    ('kind = "level_across"\nrail = "left_outer"\nu_arcsec = 0.001', "u_arcsec: is 4.85e-06 mrad, less than any"),
    ('kind = "level_along"\nrail = "left_outer"\nbase = 0.1', "base: is 0.1 mm: give the distance between"),
    ('kind = "indicater"', 'kind: "indicater" is not one of the choices: did you mean "indicator"'),
    ('kind = "diagonal"\npoints = [["left", 0], ["left", 1500]]', 'kind: "diagonal" sweeps are not supported yet'),
    ('kind = "indicator"\nrail = "left_outer"', "sweep.x.direction: is missing: an indicator sweep needs it"),
    ('kind = "indicator"\ndirection = "height"', "sweep.x.rail: is missing: an indicator sweep needs it"),
    ('kind = "indicator"\nrail = "left_oter"\ndirection = "height"', 'there is no rail "left_oter": did you mean'),
    ('kind = "indicator"\nrail = "left_outer"\ndirection = "up"', 'direction: "up" is not one of the choices'),
    ('kind = "indicator"\nrail = "left_outer"\ndirection = "height"\nbase = 3', "an indicator sweep takes no base"),
    ('kind = "indicator"\nrail = "left_outer"\ndirection = "height"\nreversed = true', "only a straightedge can be"),
    ('kind = "indicator"\nrail = "left_outer"\ndirection = "height"\nsign = 0', "sign: 0 is not one of the choices"),
    ('kind = "indicator"\nrail = "left_outer"\ndirection = "height"\nu_mrad = 1', "an indicator sweep reads a length"),
    ('kind = "indicator"\nrail = "left_outer"\ndirection = "height"\nu_um = 1\nu_mm = 1', "sweep.x: has u_mm and u_um"),
    ('kind = "indicator"\nrail = "left_outer"\ndirection = "height"\nu_um = -1', "u_um: is -1: it must be greater"),
    ('kind = "indicator"\nrail = "left_outer"\ndirection = "height"\nu_micron = 1', 'unknown key "u_micron"'),
    ('kind = "bridge"\nrails = ["left_outer"]\ndirection = "height"', "rails: has 1 entry: give 2"),
    ('kind = "bridge"\nrails = ["left_outer", "left_outer"]\ndirection = "height"', 'names "left_outer" twice'),
    ('kind = "bridge"\nrails = ["left_outer", "side"]\ndirection = "height"', "face different ways, 90° apart"),
    ('kind = "bridge"\nrails = ["left_outer", "askew"]\ndirection = "height"', "are not parallel"),
    (GAP + "sign = -1", "a gap sweep takes no sign"),
    (GAP.replace('"right"]\n', '"middle"]\n'), r'feeler_at\[2\]: there is no side "middle"'),
    (GAP.replace('"left_inner", "right"', '"left_outer", "right"'), "the right edge of rail .* is named twice"),
    (GAP.replace('"left_inner", "right"', '"side", "right"'), "face different ways"),
    (
        'kind = "gap"\ntouches = [["left_outer", "left"], ["left_inner", "right"]]\n'
        'feeler_at = ["left_inner", "left"]\nspan = 65',
        "touches: both edges stand at the same place across",
    ),
    ('kind = "mouth"\nbeam = "box"', 'the section of beam "box" is a box: only a channel has a mouth'),
    ('kind = "mouth"\nbeam = "left"\ndepth_at = 61', "depth_at: is 61 mm in a section 60 mm deep"),
    ('kind = "mouth"\nrail = "left_outer"', "a mouth sweep takes no rail"),
    ('kind = "level_along"\nrail = "left_outer"', "base: is missing: a level_along sweep needs it"),
    ('kind = "level_along"\nbase = 150', "needs exactly one of beam, rail; it has none"),
    ('kind = "level_along"\nbase = 150\nbeam = "left"\nrail = "left_outer"', "exactly one of .* has beam, rail"),
    ('kind = "level_along"\nbase = 1600\nbeam = "left"', "base: is 1600 mm, longer than the beam"),
    ('kind = "level_across"\nbeam = "left"\nrail = "left_outer"', "one of beam, rail, rails; it has beam, rail"),
    ('kind = "level_across"\nbeam = "left"\nu_in = 0.001', "a level_across sweep reads an angle: use one of u_mrad"),
    ('kind = "level_across"\nbeam = "left"\nabsolute = true', "a level_across sweep takes no absolute"),
    ('kind = "level_across"\nrails = ["left_outer", "above"]', "the two rails stand at the same place across"),
]  # fmt: skip
OTHERS = """
[section.box]
shape = "box"
width = 60
depth = 60
wall = 4
material = "steel"
[beam.box]
section = "box"
start = [500, 0, 0]
end = [505, 1500, 0]
normal = [0, 0, 1]
[beam.upper]
section = "box"
start = [0, 0, 200]
end = [0, 1500, 200]
normal = [0, 0, 1]
[rail.side]
beam = "left"
guide = "mini15"
seat = 0
face_deg = 90
first_screw = 20
[rail.above]
beam = "upper"
guide = "mini15"
seat = -30
first_screw = 20
[rail.askew]
beam = "box"
guide = "mini15"
seat = 0
first_screw = 20
"""


def _frame(tmp_path, sweep, base=BASE):
    return write_frame(tmp_path, f"{base}{OTHERS}\n[sweep.x]\n{sweep}\n", {})


@pytest.mark.parametrize(("sweep", "says"), REFUSED)
def test_refuses(tmp_path, sweep, says):
    _frame(tmp_path, sweep, BASE.replace("seat = -35.0", "seat = -30.0"))
    with pytest.raises(BadInput, match=says) as caught:
        read_frame(tmp_path)
    assert all(str(each).isprintable() for each in caught.value.problems)


@pytest.mark.parametrize(
    ("sweep", "u"),
    [
        ('kind = "indicator"\nrail = "left_outer"\ndirection = "height"\nu_thou = 0.1', 2.54),
        ('kind = "indicator"\nrail = "left_outer"\ndirection = "height"\nu_mm = 0.003', 3.0),
        ('kind = "level_along"\nbeam = "left"\nbase = 200\nu_um = 5', 0.025),  # 5 µm over 200 mm
        ('kind = "level_across"\nbeam = "left"\nu_um = 20', 0.02),  # 20 µm over a metre
        ('kind = "level_across"\nbeam = "left"\nbase = 500\nu_um = 20', 0.04),
        ('kind = "level_across"\nbeam = "left"\nu_mm_per_m = 0.05', 0.05),
    ],
)
def test_uncertainty_in_any_unit(tmp_path, sweep, u):
    frame = read_frame(_frame(tmp_path, sweep))
    assert frame.sweeps[0].u == pytest.approx(u)
    assert not any("is taken" in warning for warning in frame.warnings)


@pytest.mark.parametrize(
    ("sweep", "u", "says"),
    [
        ('kind = "indicator"\nrail = "left_outer"\ndirection = "height"', 2.0, "no u_um: 2 µm is taken"),
        ('kind = "bridge"\nrails = ["left_outer", "left_inner"]\ndirection = "height"', 3.0, "3 µm is taken"),
        (GAP.replace("u_um = 5\n", ""), 5.0, "5 µm is taken"),
        ('kind = "mouth"\nbeam = "left"', 10.0, "10 µm is taken"),
        ('kind = "level_along"\nbeam = "left"\nbase = 200', 0.02, "no u_mrad: 0.02 mrad is taken"),
        ('kind = "level_across"\nrail = "left_outer"', 0.02, "0.02 mrad is taken"),
    ],
)
def test_uncertainty_that_is_assumed_is_said(tmp_path, sweep, u, says):
    frame = read_frame(_frame(tmp_path, sweep))
    assert frame.sweeps[0].u == u
    assert any(says in warning and '"x"' in warning for warning in frame.warnings)


def test_what_a_sweep_refers_to(tmp_path):
    gap = read_frame(_frame(tmp_path, GAP + "span = 30")).sweeps[0]
    assert [rail.name for rail in gap.rails] == ["left_outer", "left_inner"]
    assert (gap.feeler_at.rail.name, gap.feeler_at.side, gap.span_mm) == ("left_inner", "right", 30.0)
    mouth = read_frame(_frame(tmp_path, 'kind = "mouth"\nbeam = "left"\nnominal = 110')).sweeps[0]
    assert (mouth.nominal_um, mouth.depth_at_mm, mouth.beam.name) == (110_000.0, 0.0, "left")
    level = read_frame(_frame(tmp_path, 'kind = "level_across"\nrail = "side"\nsign = -1')).sweeps[0]
    assert (level.sign, level.rails[0].face_deg) == (-1.0, 90.0)


CURVE = 'kind = "indicator"\nrail = "left_outer"\ndirection = "lateral"\nreference = "straightedge"\nerror_csv = "{}"'


def test_error_curve(tmp_path):
    folder = _frame(tmp_path, CURVE.format("edges/long.csv"))
    (folder / "edges").mkdir()
    (folder / "edges/long.csv").write_text("station_in;error_thou\n0;0\n10;0,1\n40;-0,2\n", encoding="utf-8")
    curve = read_frame(folder).sweeps[0].error
    assert curve.station_mm.tolist() == pytest.approx([0.0, 254.0, 1016.0])
    assert curve.error_um.tolist() == pytest.approx([0.0, 2.54, -5.08])


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("../out.csv", "", 'error_csv: "../out.csv" lies outside the frame\'s folder'),
        ("/etc/x.csv", "", "lies outside the frame's folder"),
        ("gone.csv", "", "gone.csv: there is no such file"),
        (".", "", "is a folder"),
        ("e.csv", "", "e.csv: is empty"),
        ("e.csv", "station_mm,error_um\n0,0\n", "e.csv: has fewer than two rows"),
        ("e.csv", "station_mm,error_um\n0,0\n0,1\n", "e.csv, line 3: the stations don't rise"),
        ("e.csv", "station_mm,error\n0,0\n5,1\n", 'e.csv, line 1: unknown column "error": did you mean "error_um"'),
        ("e.csv", "station_mm,error_um\n0,0\n5,x\n", 'e.csv, line 3: error "x" is not a number'),
        ("e.csv", "station_mm,error_um\n0,0\n5\n", 'e.csv, line 3: error "" is not a number'),
        ("e.csv", "station_mm,error_um\n0,0\n5,1e9\n", "e.csv, line 3: the numbers are too large"),
    ],
)
def test_error_curve_that_is_none(tmp_path, name, text, says):
    folder = _frame(tmp_path / "frame", CURVE.format(name))
    (folder / "e.csv").write_text(text, encoding="utf-8")
    with pytest.raises(BadInput, match=says):
        read_frame(folder)


def test_an_error_curve_needs_its_own_reference(tmp_path):
    _frame(tmp_path, CURVE.format("e.csv").replace('"straightedge"', '"face"'))
    with pytest.raises(BadInput, match="an error curve belongs to a reference of its own"):
        read_frame(tmp_path)


def test_an_error_curve_counts_in_both_runs_or_in_none(tmp_path):
    run = CURVE.format("e.csv")
    turned = run.replace('error_csv = "e.csv"', "reversed = true")
    folder = _frame(tmp_path, f"{run}\n[sweep.turned]\n{turned}")
    (folder / "e.csv").write_text("station_mm,error_um\n0,0\n1500,1\n", encoding="utf-8")
    says = r'turned\.error_csv: is missing, and sweep "x" with the same straightedge has it'
    with pytest.raises(BadInput, match=says):
        read_frame(folder)
