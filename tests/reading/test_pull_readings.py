"""Pull sweeps: what the frame file and its readings become inside, and each way in which they can't be used."""

import pytest

from framekit import SAMPLE_READINGS, SAMPLE_TOML, write_frame
from framevis.errors import BadInput
from framevis.reading.frame_file import read_frame
from framevis.reading.readings import read_stage

PULL = '\n[sweep.left_pull]\nkind = "pull"\ncarriage = "left"\n'
TOML = SAMPLE_TOML.replace("[[shim]]", PULL + "u_n = 0.2\n\n[[shim]]", 1)
KGF, LBF = 9.80665, 4.4482216152605  # ISO 80000-4; the pound-force by its definition


def _frame(folder, keys):
    return read_frame(write_frame(folder, SAMPLE_TOML.replace("[[shim]]", PULL + keys + "\n[[shim]]", 1)))


def _stage(folder, text, toml=TOML):
    readings = {"as_found": {"left_pull": text, "left_outer_height": SAMPLE_READINGS["as_found"]["left_outer_height"]}}
    return read_stage(read_frame(write_frame(folder, toml, readings)), "as_found")


def _refused(folder, text, toml=TOML):
    with pytest.raises(BadInput) as bad:
        _stage(folder, text, toml)
    return str(bad.value)


@pytest.mark.parametrize(
    ("key", "u_n"), [("u_n = 0.5", 0.5), ("u_kgf = 0.1", 0.1 * KGF), ("u_lbf = 0.1", 0.1 * LBF), ("", 0.3)]
)
def test_uncertainty_of_a_reading(tmp_path, key, u_n):
    frame = _frame(tmp_path, key)
    assert frame.pulls[0].u_n == pytest.approx(u_n, rel=1e-12)
    assert frame.pulls[0].carriage is frame.carriage("left")
    assumed = [text for text in frame.warnings if "left_pull" in text]
    assert assumed == ([] if key else ['sweep "left_pull" gives no u_n: 0.3 N is taken for one reading'])


def test_a_pull_is_no_sweep_of_the_geometry(tmp_path):
    frame = _frame(tmp_path, "")
    assert "left_pull" not in [sweep.name for sweep in frame.sweeps]


def test_bare_blocks_stand_in_the_order_of_the_carriages_blocks(tmp_path):
    frame = _frame(tmp_path, "bare_block_n = { rear_inner = 1.4, front_outer = 1.2 }")
    assert frame.pulls[0].bare_block_n == (1.2, None, None, 1.4)


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        ("u_um = 2", "sweep.left_pull.u_um: a pull sweep reads a force: use one of u_n, u_kgf, u_lbf"),
        ("u_n = 0.2\nu_lbf = 0.1", "has u_lbf and u_n: give the uncertainty of one reading once"),
        ("u_n = 0.0001", "u_n: is 0.0001 N, less than any scale on a shop floor can do"),
        ("u_n = -1", "u_n: is -1: it must be greater than zero"),
        ('direction = "height"', "a pull sweep takes no direction: take it out; its keys are carriage, bare_block_n"),
        ('rail = "left_outer"', "a pull sweep takes no rail"),
        ("bare_block_n = { front_outr = 1 }", 'carriage "left" has no block "front_outr": did you mean "front_outer"'),
        ("bare_block_n = { front_outer = -1 }", "bare_block_n.front_outer: is -1: it must not be negative"),
        ("bare_block_n = 3", "bare_block_n: 3 "),
    ],
)
def test_keys_that_are_refused(tmp_path, keys, says):
    with pytest.raises(BadInput) as bad:
        _frame(tmp_path, keys)
    assert says in str(bad.value)
    assert len(bad.value.problems) == 1


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("", "sweep.left_pull.carriage: is missing: a pull sweep needs it"),
        ('carriage = "lefft"', 'sweep.left_pull.carriage: there is no carriage "lefft": did you mean "left"?'),
        ("carriage = 3", "sweep.left_pull.carriage: 3 "),
    ],
)
def test_the_carriage_must_be_there(tmp_path, line, says):
    toml = TOML.replace('carriage = "left"\n', line + "\n")
    with pytest.raises(BadInput) as bad:
        read_frame(write_frame(tmp_path, toml))
    assert says in str(bad.value)


def test_an_indicator_sweep_takes_no_carriage(tmp_path):
    toml = TOML.replace("[sweep.left_outer_height]\n", '[sweep.left_outer_height]\ncarriage = "left"\n')
    with pytest.raises(BadInput, match="an indicator sweep takes no carriage"):
        read_frame(write_frame(tmp_path, toml))


def test_forces_both_ways_breakaway_and_running(tmp_path):
    text = (
        "station_mm,breakaway_n,running_n,running_2_n,breakaway_back_n,running_back_n,note,temperature_c\n"
        "80,6,5,5.2,,4.8,x,20\n100,,5.5,,6.5,,,22\n"
    )
    got = _stage(tmp_path, text).pulls[0]
    assert got.station_mm.tolist() == [80.0] * 4 + [100.0] * 2
    assert got.force_n.tolist() == [6.0, 5.0, 5.2, 4.8, 5.5, 6.5]
    assert got.breakaway.tolist() == [True, False, False, False, False, True]
    assert got.back.tolist() == [False, False, False, True, False, True]
    assert got.line == (2, 2, 2, 2, 3, 3)
    assert got.temperature_c == 21.0
    assert got.file == "readings/as_found/left_pull.csv"
    assert not got.force_n.flags.writeable


@pytest.mark.parametrize(
    ("text", "force_n", "station_mm"),
    [
        ("station_mm,running_kgf\n100,0.5\n", 0.5 * KGF, 100.0),
        ("station_in,running_lbf\n4,1.5\n", 1.5 * LBF, 101.6),
        ("station_mm;reading_n\n100,0;4,5\n", 4.5, 100.0),
        ("station_mm,breakaway_back_lbf\n100,2\n", 2 * LBF, 100.0),
        ("station_mm,running_n\n79.995,3\n", 3.0, 80.0),  # rounded off the end of the travel
    ],
)
def test_units(tmp_path, text, force_n, station_mm):
    got = _stage(tmp_path, text).pulls[0]
    assert got.force_n.tolist() == pytest.approx([force_n], rel=1e-12)
    assert got.station_mm.tolist() == pytest.approx([station_mm], rel=1e-12)


def test_blank_rows_are_told(tmp_path):
    stage = _stage(tmp_path, "station_mm,running_n\n100,3\n200,\n300,\n")
    assert stage.pulls[0].station_mm.tolist() == [100.0]
    assert stage.warnings == ("readings/as_found/left_pull.csv: 2 rows have no reading yet",)


def test_a_file_without_a_reading_is_left_out(tmp_path):
    stage = _stage(tmp_path, "station_mm,running_n\n100,\n")
    assert stage.pulls == ()
    assert stage.warnings == ("readings/as_found/left_pull.csv: has no readings, the sweep is left out",)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("station_mm,running_um\n100,3\n", '"running_um" is no force, but a pull sweep reads a force: use one of run'),
        ("station_mm,reading_mm\n100,3\n", "use one of reading_n, reading_kgf, reading_lbf"),
        ("station_mm,runing_n\n100,3\n", 'line 1: unknown column "runing_n": did you mean "running_n"?'),
        ("station_mm,go_n\n100,3\n", 'unknown column "go_n"'),
        ("station_mm,\"\",running_n\n100,,3\n", 'unknown column "": name every column'),
        ("station_mm\n100\n", "there is no column of forces: name it running_n or breakaway_n"),
        ("running_n\n3\n", "there is no station column: name it station_mm or station_in"),
        ("station_mm,running_n,running_n\n100,3,3\n", 'the column "running_n" stands twice: keep one of the two'),
        ("station_mm,reading_n,running_n\n100,3,3\n", '"running_n" says the same as "reading_n": keep one'),
        ("station_mm,running_n,running_lbf\n100,3,3\n", '"running_lbf" says the same as "running_n"'),
        ("station_mm,running_n\n100,-3\n", 'line 2: the force "-3" (n) is negative: give its size; pulls the other'),
        ("station_mm,running_n\n100,3 N\n", 'line 2: running "3 N" is not a number: put the unit into the column'),
        ("station_mm,running_n\n100,3,5\n", 'running "3,5" is not a number: with a decimal comma the separators'),
        ("station_mm,running_n\n,3\n", "line 2: the station is empty: give the carriage's position"),
        (
            "station_mm,running_n\n60,3\n",
            'station 60 mm is outside the travel of carriage "left", 80 mm to 1420 mm: give the carriage\'s position',
        ),
        ("station_in,running_n\n100,3\n", 'station 100 in is outside the travel of carriage "left", 3.149606 in to'),
        ("station_mm,running_n\n100\n", "line 2: has 1 cell where the header names 2 columns"),
        ("station_mm,running_n\n100,3\n200,3\n150,4\n200,5\n300,3\n", "give further readings of one station as runn"),
        ("station_mm,running_n\n100,3\n100,3\n200,4\n", "or give further readings as running_2_n"),
        ("station_mm,running_n\n100,30000\n", 'reading "30000" (n) is larger than anything on a machine'),
        ("station_mm,running_n\n100,3\n200,3.1\n300,3\n400,2000\n", 'reading "2000" (n) is more than 1000 times as'),
        ("station_mm,running_n,temperature_c\n100,3,290\n", "290 °C is no temperature of a workshop"),
    ],
)  # fmt: skip
def test_files_that_are_refused(tmp_path, text, says):
    refused = _refused(tmp_path, text)
    assert refused.startswith("readings/as_found/left_pull.csv")
    assert says in refused


def test_pulls_alone_tell_nothing_of_the_shape(tmp_path):
    frame = read_frame(write_frame(tmp_path, TOML, {"as_found": {"left_pull": "station_mm,running_n\n100,3\n"}}))
    with pytest.raises(BadInput) as bad:
        read_stage(frame, "as_found")
    assert str(bad.value) == (
        "readings/as_found: there are only pull readings in this stage, and they tell nothing of the frame's shape by "
        "themselves: put the readings of at least one sweep of the rails or beams there too"
    )


def test_a_pull_and_a_sweep_can_t_share_a_file_name(tmp_path):
    toml = TOML.replace("[sweep.left_pull]", "[sweep.LEFT_ALONG]")
    with pytest.raises(BadInput, match="only in capitals"):
        read_frame(write_frame(tmp_path, toml))
