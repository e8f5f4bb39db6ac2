"""Readings of a stage: what they become inside, and each way in which a file can't be used."""

from math import hypot, sqrt

import pytest

from framekit import SAMPLE_TOML, write_frame
from framevis.errors import BadInput
from framevis.reading.frame_file import read_frame
from framevis.reading.readings import read_stage, stages_present

LATERAL, HEIGHT, TOPS = "left_outer_lateral", "left_outer_height", "left_tops"
ALONG, ACROSS, MOUTH, SPACING = "left_along", "left_across", "left_mouth", "left_spacing"


def _stage(folder, sweep, text, toml=SAMPLE_TOML):
    frame = read_frame(write_frame(folder, toml, {"as_found": {sweep: text}}))
    return read_stage(frame, "as_found")


def _one(folder, sweep, text, toml=SAMPLE_TOML):
    return _stage(folder, sweep, text, toml).sweeps[0]


def test_the_sample(tmp_path):
    frame = read_frame(write_frame(tmp_path))
    stage = read_stage(frame, "as_found")
    assert [each.sweep.name for each in stage.sweeps] == [sweep.name for sweep in frame.sweeps]
    assert stages_present(frame) == ("as_found", "as_left")
    assert stage.warnings == ()
    assert not stage.sweeps[0].values.flags.writeable


def test_each_reading_of_a_row_is_its_own_entry(tmp_path):
    text = "station_mm,reading_um,reading_3_um,note\n# at rest\n100,1,2,x\n\n200,3,,y # late\n300,,4\n"
    got = _one(tmp_path, LATERAL, text)
    assert got.station_mm.tolist() == [100, 100, 200, 300]
    assert got.values.tolist() == [1, 2, 3, 4]
    assert got.order.tolist() == [0, 0, 1, 2]
    assert got.line == (3, 3, 5, 6)
    assert got.u.tolist() == [2.0] * 4
    assert got.file == "readings/as_found/left_outer_lateral.csv"


@pytest.mark.parametrize(
    ("sweep", "unit", "text", "inside"),
    [
        (LATERAL, "um", "3", 3.0),
        (LATERAL, "mm", "0.003", 3.0),
        (LATERAL, "thou", "1", 25.4),
        (LATERAL, "in", "0.001", 25.4),
        (LATERAL, "um", "+.5e1", 5.0),
        (LATERAL, "um", "−3", -3.0),  # a true minus sign, as spreadsheets write it
        (ACROSS, "mrad", "1", 1.0),
        (ACROSS, "mm_per_m", "1", 1.0),
        (ACROSS, "arcsec", "206.26480625", 1.0),  # 648 000 / 1000 π, to its last digit
        (ACROSS, "deg", "0.0572957795", 1.0),
        (ACROSS, "in_per_ft", "0.012", 1.0),
    ],
)
def test_units(tmp_path, sweep, unit, text, inside):
    got = _one(tmp_path, sweep, f"station_mm,reading_{unit}\n700,{text}\n")
    assert got.values.tolist() == pytest.approx([inside], rel=1e-9)


def test_a_feeler_gap_is_the_middle_with_the_uncertainty_of_a_rectangle(tmp_path):
    got = _one(tmp_path, TOPS, "station_mm,go_um,no_go_mm,reading_um\n100,40,0.05,\n200,,,30\n300,,,\n")
    assert got.values.tolist() == [45, 30]
    assert got.u.tolist() == pytest.approx([hypot(5, 10 / sqrt(12)), 5])
    warnings = _stage(tmp_path, TOPS, "station_mm,go_um,no_go_mm,reading_um\n100,40,0.05,\n200,,,30\n300,,,\n").warnings
    assert warnings == ("readings/as_found/left_tops.csv: 1 row has no reading yet",)


def test_decimal_commas_come_with_semicolons(tmp_path):
    got = _one(tmp_path, LATERAL, "station_mm;reading_mm\n100,5;0,03\n200;-,04\n300;1e-2\n")
    assert got.values.tolist() == pytest.approx([30, -40, 10])
    assert got.station_mm[0] == 100.5
    points = _one(tmp_path, LATERAL, "station_mm;reading_mm\n100.5;0.03\n")
    assert points.values.tolist() == pytest.approx([30])


def test_quotes_byte_order_mark_and_line_ends(tmp_path):
    frame = read_frame(write_frame(tmp_path))
    file = tmp_path / "readings/as_found/left_outer_lateral.csv"
    file.write_bytes(b'\xef\xbb\xbf"station_mm" , reading_um,note,,\r\n "100", 1 ,"screw #3, ""warm""",,\r\n200,2\r\n')
    assert read_stage(frame, "as_found").sweeps[0].values.tolist() == [1, 2]
    file.write_bytes(b"station_mm,reading_um\r100,5\r")
    assert read_stage(frame, "as_found").sweeps[0].values.tolist() == [5]


def test_stations_in_inches_rounded_past_the_end_are_on_the_beam(tmp_path):
    got = _one(tmp_path, LATERAL, "station_in,reading_um\n0,1\n59.0552,2\n")  # the beam: 59.05512 in
    assert got.station_mm.tolist() == [0.0, 1500.0]


def test_mean_temperature(tmp_path):
    got = _one(tmp_path, LATERAL, "station_mm,reading_um,temperature_c\n0,1,20\n5,1,23\n9,1,\n")
    assert got.temperature_c == 21.5
    assert _one(tmp_path, LATERAL, "station_mm,reading_um\n0,1\n").temperature_c is None


@pytest.mark.parametrize(
    "stations",
    [
        [0, 100, 200, 0],  # the first one again
        [0, 100, 0, 200, 0, 300],
        [0, 100, 200, 100, 0],  # out and back
        [0, 100, 200, 200, 100, 0],
        [200, 100, 0, 100, 200, 200],
        [300, 0, 100, 200],  # any order
    ],
)
def test_stations_that_may_come_again(tmp_path, stations):
    rows = "".join(f"{station},1\n" for station in stations)
    assert _one(tmp_path, LATERAL, "station_mm,reading_um\n" + rows).station_mm.tolist() == stations


@pytest.mark.parametrize(
    ("stations", "says"),
    [
        ([0, 100, 300, 400, 200, 300], r"line 7: station 300 mm appears twice \(lines 4 and 7\): give further"),
        ([0, 100, 100, 200], r"station 100 mm appears twice \(lines 3 and 4\)"),
        ([0, 100, 200, 200], r"station 200 mm appears twice \(lines 4 and 5\)"),
        ([0, 200, 100, 200], r"station 200 mm appears twice \(lines 3 and 5\)"),
    ],
)
def test_stations_that_may_not_come_again(tmp_path, stations, says):
    rows = "".join(f"{station},1\n" for station in stations)
    with pytest.raises(BadInput, match=says):
        _stage(tmp_path, LATERAL, "station_mm,reading_um\n" + rows)


HEAD = "station_mm,reading_um\n"
REFUSED = [
    # headers
    (LATERAL, "reading_um\n1\n", "line 1: there is no station column: name it station_mm or station_in"),
    (LATERAL, "station_mm\n1\n", "line 1: there is no reading column: name it reading_um"),
    (LATERAL, "station_mm,readng_um\n1,1\n", 'unknown column "readng_um": did you mean "reading_um"'),
    (LATERAL, "Station_mm,reading_um\n1,1\n", 'unknown column "Station_mm": did you mean "station_mm"'),
    (LATERAL, "station,reading_um\n1,1\n", 'unknown column "station": did you mean "station_'),
    (LATERAL, "station_mm,,reading_um\n1,1,1\n", 'unknown column "": name every column'),
    (LATERAL, "station_mm,reading_um,reading_um\n1,1,1\n", 'the column "reading_um" stands twice'),
    (LATERAL, "station_mm,reading_um,reading_mm\n1,1,1\n", '"reading_mm" says the same as "reading_um"'),
    (LATERAL, "station_mm,station_in,reading_mm\n1,1,1\n", '"station_in" says the same as "station_mm"'),
    (LATERAL, "station_mm,go_um,no_go_um\n1,1,1\n", "go and no-go readings belong to a gap sweep"),
    (TOPS, "station_mm,go_um\n1,1\n", "there is a go column without its partner"),
    (TOPS, "station_mm,no_go_um\n1,1\n", "there is a no_go column without its partner"),
    (ALONG, "station_mm,reading_um\n100,1\n", '"reading_um" is a length, but a level_along sweep reads an angle'),
    (LATERAL, "station_mm,reading_mrad\n100,1\n", '"reading_mrad" is an angle, but an indicator sweep reads a length'),
    (LATERAL, "station_mm,reading_kgf\n100,1\n", '"reading_kgf" is a force, but an indicator sweep reads a length'),
    (LATERAL, "station_mm\treading_um\n100\t1\n", "line 1: the columns are separated by tabs: save the file with"),
    (LATERAL, '"station_mm,reading_um\n100,1\n', "line 1: a quotation mark is not closed"),
    # cells
    (LATERAL, HEAD + "# x\n100,1\n200,0,03\n", 'line 4: reading "0,03" is not a number: with a decimal comma the sep'),
    (LATERAL, HEAD + '100,"0,03"\n', 'line 2: reading "0,03" is not a number: with a decimal comma the'),
    (LATERAL, HEAD + "100,5,0,03\n", 'line 2: station "100,5" is not a number: with a decimal comma the separators'),
    (LATERAL, HEAD + "100,1,2\n", 'line 2: reading "1,2" is not a number: with a decimal comma'),
    (LATERAL, HEAD + "100,1.5,2\n", 'line 2: station "100,1.5"|line 2: has 3 cells where the header names 2 columns'),
    (LATERAL, HEAD + "100\n", "line 2: has 1 cell where the header names 2 columns"),
    (LATERAL, HEAD + ",1\n", "line 2: the station is empty"),
    (LATERAL, HEAD + "100,1.2.3\n", 'line 2: reading "1.2.3" is not a number'),
    (LATERAL, HEAD + "100,nan\n", 'line 2: reading "nan" is not a finite number'),
    (LATERAL, HEAD + "100,-Inf\n", 'line 2: reading "-Inf" is not a finite number'),
    (LATERAL, HEAD + "100,1e999\n", 'line 2: reading "1e999" is not a finite number'),
    (LATERAL, HEAD + "100,0.03mm\n", 'line 2: reading "0.03mm" is not a number: put the unit into the column'),
    (LATERAL, HEAD + "100,3 µm\n", 'line 2: reading "3 µm" is not a number: put the unit into the column'),
    (LATERAL, HEAD + "1'400,3\n", "line 2: station \"1'400\" is not a number: write thousands without a separator"),
    (LATERAL, HEAD + "1 400,3\n", 'line 2: station "1 400" is not a number: write thousands without a separator'),
    (LATERAL, HEAD + '"1,400.5",3\n', 'line 2: station "1,400.5" is not a number: write thousands without a sep'),
    (LATERAL, HEAD + "100;0\n", "line 2: has 1 cell where"),
    (LATERAL, HEAD + "100;0,03\n", 'line 2: station "100;0" is not a number: the header has commas as separators'),
    (LATERAL, HEAD + '100,"3\n', "line 2: a quotation mark is not closed: close it on the same line"),
    (LATERAL, HEAD + "100,\x1b[2J\n", r'line 2: reading "\\x1b\[2J" is not a number'),
    (LATERAL, "station_mm;reading_mm\n100;0,03\n200;1.5\n", 'line 3: reading "1.5" has a decimal point'),
    (LATERAL, "station_mm;reading_mm\n100;0,03\n1.200,5;1\n", 'line 3: station "1.200,5" is not a number: write'),
    (LATERAL, "station_mm,reading_um,temperature_c\n1,1,293\n", "line 2: 293 °C is no temperature of a workshop"),
    (TOPS, "station_mm,go_um,no_go_um\n100,60,50\n", 'line 2: go "60" is more than no_go "50"'),
    (TOPS, "station_mm,go_um,no_go_um\n100,60,\n", "line 2: only one of go and no-go is given"),
    (TOPS, "station_mm,go_um,no_go_um\n100,-60,50\n", 'line 2: the gap "-60" is negative'),
    (TOPS, "station_mm,reading_um\n100,-60\n", 'line 2: the gap "-60" is negative'),
    # places
    (LATERAL, HEAD + "-1,3\n", "line 2: station -1 mm is off the beam, which is 1500 mm long"),
    (LATERAL, HEAD + "1501,3\n", "line 2: station 1501 mm is off the beam, which is 1500 mm long"),
    (LATERAL, "station_in,reading_um\n100,3\n", "line 2: station 100 in is off the beam, which is 59.055118 in long"),
    (ALONG, "station_mm,reading_mrad\n74,1\n", "at station 74 mm a foot of the level .150 mm long. stands off"),
    (ALONG, "station_mm,reading_mrad\n1600,1\n", "station 1600 mm is off the beam"),
    # values
    (LATERAL, HEAD + "0,1\n100,2\n200,3\n300,15000\n400,2\n", "line 5: reading \"15000\" .um. is more than 1000 times"),
    (LATERAL, HEAD + "0,1\n100,1e9\n", 'line 3: reading "1e9" .um. is larger than anything on a machine: is it in the'),
    (LATERAL, HEAD + "0,1\n100,30000\n200,1\n", "line 1: the readings spread over 30.0 mm: is the unit in the column"),
    (MOUTH, HEAD + "0,110000\n100,140000\n200,110000\n", "line 1: the readings spread over 30.0 mm"),
    (ACROSS, "station_mm,reading_deg\n0,95\n", 'reading "95" .deg. is larger than anything'),
    (ACROSS, "station_mm,reading_mrad\n0,.1\n100,.2\n200,.3\n300,300\n", 'reading "300" .mrad. is more than 1000'),
]  # fmt: skip


@pytest.mark.parametrize(("sweep", "text", "says"), REFUSED)
def test_refuses(tmp_path, sweep, text, says):
    with pytest.raises(BadInput, match=says) as caught:
        _stage(tmp_path, sweep, text)
    assert all(each.file == f"readings/as_found/{sweep}.csv" for each in caught.value.problems)
    assert all(str(each).isprintable() for each in caught.value.problems)


def test_the_error_for_a_decimal_comma_word_for_word(tmp_path):
    rows = "0,1\n1,1\n2,1\n3,1\n4,1\n5,0,03\n"
    with pytest.raises(BadInput) as caught:
        _stage(tmp_path, LATERAL, HEAD + rows)
    assert str(caught.value) == (
        'readings/as_found/left_outer_lateral.csv, line 7: reading "0,03" is not a number: '
        "with a decimal comma the separators must be semicolons"
    )


def test_a_large_level_and_slope_are_no_slip_of_the_unit(tmp_path):
    rows = "".join(f"{100 * i},{5000 * i + 100_000}\n" for i in range(10))  # 5 mm each 100 mm: not yet set parallel
    assert len(_one(tmp_path, LATERAL, HEAD + rows).values) == 10


def test_two_beams_must_stand_beside_each_other(tmp_path):
    beam = '[beam.right]\nsection = "channel"\nstart = [500, 200, 0]\nend = [500, 1400, 0]\nnormal = [0, 0, 1]\n'
    toml = SAMPLE_TOML.replace("[rail.left_outer]", beam + "[rail.left_outer]").replace("[80, 1420]", "[300, 1300]")
    toml = toml.replace('[rail.left_inner]\nbeam = "left"', '[rail.left_inner]\nbeam = "right"')
    assert _one(tmp_path, SPACING, HEAD + "200,1\n1400,1\n", toml).station_mm.tolist() == [200, 1400]
    with pytest.raises(BadInput, match="line 3: station 100 mm has nothing beside it on the other rail's beam"):
        _stage(tmp_path, SPACING, HEAD + "200,1\n100,1\n", toml)


@pytest.mark.parametrize("text", ["# nothing yet\n", HEAD, HEAD + "100,\n200, # later\n"])
def test_a_file_without_readings_is_left_out_and_said(tmp_path, text):
    frame = read_frame(write_frame(tmp_path, readings={"as_found": {LATERAL: text, HEIGHT: HEAD + "100,1\n"}}))
    stage = read_stage(frame, "as_found")
    assert [each.sweep.name for each in stage.sweeps] == [HEIGHT]
    assert "readings/as_found/left_outer_lateral.csv: has no readings, the sweep is left out" in stage.warnings


def test_files_and_folders_that_are_wrong(tmp_path):
    frame = read_frame(write_frame(tmp_path, readings={"as_left": {LATERAL: HEAD + "100,1\n"}}))
    with pytest.raises(BadInput, match='readings/as_found: there is no such folder; stages with readings: "as_left"'):
        read_stage(frame, "as_found")
    with pytest.raises(BadInput, match=r'there is no stage "as_fond" in frame.toml: did you mean "as_found"'):
        read_stage(frame, "as_fond")
    inside = tmp_path / "readings/as_found"
    inside.mkdir()
    (inside / "notes.txt").write_text("x", encoding="utf-8")
    (inside / ".hidden.csv").write_text("x", encoding="utf-8")
    with pytest.raises(BadInput, match="readings/as_found: there are no readings in this stage: put the readings"):
        read_stage(frame, "as_found")
    assert stages_present(frame) == ("as_left",)
    (inside / "left_outer_latera.csv").write_text(HEAD, encoding="utf-8")
    (inside / "left_tops.csv").mkdir()
    (inside / "left_along.csv").write_bytes(b"station_mm,reading_mrad\n100,\xe4\n")
    (inside / "left_across.csv").write_bytes(b"station_mm\x00")
    (inside / "left_mouth.CSV").write_text(HEAD + "100,1\n", encoding="utf-8")
    with pytest.raises(BadInput, match=r'latera.csv: there is no sweep "left_outer_latera" in') as caught:
        read_stage(frame, "as_found")
    assert sorted(each.what for each in caught.value.problems) == [
        "is a folder", "is not UTF-8 text", "is not a text file", 'there is no sweep "left_outer_latera" in frame.toml',
    ]  # fmt: skip


def test_too_large_a_file_is_not_read(tmp_path):
    frame = read_frame(write_frame(tmp_path, readings={"as_found": {LATERAL: HEAD}}))
    with (tmp_path / "readings/as_found/left_outer_lateral.csv").open("r+b") as file:
        file.truncate(60_000_000)
    with pytest.raises(BadInput, match=r"lateral.csv: has 60 MB: at most 4 MB are read"):
        read_stage(frame, "as_found")


def test_many_problems_are_counted(tmp_path):
    rows = "".join(f"{i},x{i}\n" for i in range(100))
    frame = read_frame(write_frame(tmp_path, readings={"as_found": {LATERAL: HEAD + rows, HEIGHT: HEAD + "1,y\n"}}))
    with pytest.raises(BadInput, match="there are 80 more problems: correct these first") as caught:
        read_stage(frame, "as_found")
    assert len(caught.value.problems) == 22  # 20 and the count of one file, one of the other


def test_names_of_files_are_shown_escaped(tmp_path):
    frame = read_frame(write_frame(tmp_path))
    (tmp_path / "readings/as_found/bad\x1b[2J\nname.csv").write_text(HEAD, encoding="utf-8")
    with pytest.raises(BadInput, match=r"bad\\x1b\[2J") as caught:
        read_stage(frame, "as_found")
    assert str(caught.value).isprintable()


@pytest.mark.parametrize("text", ["", "\n\n", "  "])
def test_an_empty_file_is_refused(tmp_path, text):
    with pytest.raises(BadInput, match=r"left_outer_lateral\.csv: is empty: put its header and readings in"):
        _stage(tmp_path, LATERAL, text)
