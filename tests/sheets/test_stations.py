"""Where stations stand: over the whole reach of the blocks, in round steps, taken by the reader as they are."""

from __future__ import annotations

import tempfile
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from framekit import SAMPLE_TOML, write_frame
from framevis.errors import BadInput
from framevis.frame import Frame, PullSweep
from framevis.reading.frame_file import read_frame
from framevis.reading.readings import read_stage
from framevis.sheets.blank_csv import blank_csv, columns, rows_of
from framevis.sheets.order import STEPS, in_order, rank
from framevis.sheets.stations import run, stations
from framevis.starting.begin import write_new
from framevis.starting.guides import SIZES
from framevis.starting.questions import answered
from framevis.starting.toml_text import toml_text
from sheets.oddframe import odd_frame, sweep_of

MM = {"mm": 1.0, "in": 25.4}


@pytest.fixture
def frame(tmp_path) -> Frame:
    return read_frame(write_frame(tmp_path, SAMPLE_TOML, {}))


def blocks_reach(frame: Frame, rail: str) -> tuple[float, float]:
    """From plain numbers of the file: how far blocks get on a rail of the carriage's own beam."""
    carriage = next(c for c in frame.carriages if any(b.rail.name == rail for b in c.blocks))
    along = [b.along_mm for b in carriage.blocks if b.rail.name == rail]
    return carriage.travel_mm[0] + min(along), carriage.travel_mm[1] + max(along)


def test_both_ends_of_the_blocks_reach_and_every_round_hundred_between(frame):
    """Blocks 45 mm before and behind an origin that goes from 80 to 1420."""
    assert blocks_reach(frame, "left_outer") == (35.0, 1465.0)
    found = stations(frame, sweep_of(frame, "left_outer_lateral"))
    assert found == (35.0, *(100.0 * i for i in range(1, 15)), 1465.0)


def test_indicators_and_bridges_go_out_and_back_levels_gaps_and_mouths_only_out(frame):
    for sweep in frame.sweeps:
        rows, out = run(frame, sweep), stations(frame, sweep)
        if sweep.kind in {"indicator", "bridge"}:
            assert rows == (*out, *reversed(out[:-1]))
        else:
            assert rows == out


def test_a_level_goes_by_its_own_length_with_both_feet_on_the_beam(frame):
    found = stations(frame, sweep_of(frame, "left_along"))
    assert found[0] == 75.0
    assert found[-1] == 1425.0
    assert {round(b - a, 6) for a, b in pairwise(found)} == {150.0}


def test_one_station_at_each_rail_screw(frame):
    """Screws at 20, 60, …, 1460; blocks reach 35 to 1465: the lower end is more than half a pitch from a screw."""
    found = stations(frame, sweep_of(frame, "left_outer_lateral"), "screw")
    assert found == (35.0, *(60.0 + 40.0 * i for i in range(36)))


def test_another_step(frame):
    found = stations(frame, sweep_of(frame, "left_outer_lateral"), 50.0)
    assert found[:4] == (35.0, 50.0, 100.0, 150.0)
    assert stations(frame, sweep_of(frame, "left_outer_lateral"), 5000.0) == (35.0, 1465.0)


def test_a_round_station_near_an_end_gives_way_to_it(tmp_path):
    """Blocks from 80 mm on: 100 is nearer than a quarter of the step; up to 1430: 1400 isn't."""
    toml = SAMPLE_TOML.replace("travel = [80, 1420]", "travel = [125, 1385]")
    frame = read_frame(write_frame(tmp_path, toml, {}))
    found = stations(frame, sweep_of(frame, "left_outer_lateral"))
    assert found[:3] == (80.0, 200.0, 300.0)
    assert found[-3:] == (1300.0, 1400.0, 1430.0)


def test_too_many_stations_are_refused(frame):
    with pytest.raises(BadInput, match=r"--every: 14300 stations .*: give a step with which there are at most 500"):
        stations(frame, sweep_of(frame, "left_outer_lateral"), 0.1)


def test_a_bridge_between_beams_keeps_to_where_both_blocks_get(tmp_path):
    """Blocks on a1 reach 3 to 57 in; the one on b1 stands at the carriage's own 5 to 55 in."""
    odd = odd_frame(tmp_path)
    found = stations(odd, sweep_of(odd, "across"))
    assert (found[0], found[-1]) == (5.0, 55.0)
    assert found[1:-1] == tuple(float(4 * i) for i in range(2, 14) if 6 <= 4 * i <= 54)


def test_a_pull_covers_the_travel(tmp_path):
    odd = odd_frame(tmp_path)
    found = stations(odd, sweep_of(odd, "pp"))
    assert (found[0], found[-1]) == (5.0, 55.0)
    assert run(odd, sweep_of(odd, "pp")) == found


def filled(text: str, value: str) -> str:
    """A blank CSV with one value in every reading."""
    comment, header, *rows = text.splitlines()
    names = header.split(",")
    done = []
    for row in rows:
        cells = row.split(",")
        assert len(cells) == len(names)
        assert set(cells[1:]) == {""}
        kept = [value if "_" in name and name[:4] not in {"stat", "temp"} else "" for name in names[1:]]
        done.append(",".join([cells[0], *kept]))
    return "\n".join([comment, header, *done]) + "\n"


def check_that_the_reader_takes(frame: Frame, stage: str, every: float | None) -> None:
    assert frame.folder is not None
    inside = frame.folder / "readings" / stage
    inside.mkdir(parents=True, exist_ok=True)
    count = {}
    for sweep in in_order(frame):
        rows = run(frame, sweep, every)
        count[sweep.name] = len(rows)
        blank = blank_csv(frame, sweep, rows, "Plus means: left")
        path = inside / f"{sweep.name}.csv"
        path.write_text(blank, encoding="utf-8")
        assert rows_of(path, sweep, frame, path.name) == rows
    with pytest.raises(BadInput, match="there are no readings in this stage"):
        read_stage(frame, stage)
    for path in inside.iterdir():
        path.write_text(filled(path.read_text(encoding="utf-8"), "0.5"), encoding="utf-8")
    read = read_stage(frame, stage)
    assert read.warnings == ()
    for each in read.sweeps:
        assert len(each.values) == count[each.sweep.name]
        first, last = each.station_mm.min(), each.station_mm.max()
        if each.sweep.rails and each.sweep.kind != "level_along":
            low, high = blocks_reach(frame, each.sweep.rails[0].name)
            assert low - 0.01 <= first <= low + 1.3
            assert high - 1.3 <= last <= high + 0.01
    assert {each.pull.name for each in read.pulls} == {pull.name for pull in frame.pulls}


@settings(max_examples=60, deadline=None)
@given(
    unit=st.sampled_from(["mm", "in"]),
    size=st.sampled_from(SIZES),
    section=st.sampled_from(["channel", "box", "plate"]),
    length=st.floats(400.0, 3000.0),
    every=st.none() | st.floats(30.0, 700.0),
)
def test_the_reader_takes_every_station_of_any_single_beam(unit, size, section, length, every):
    given_options = {"unit": unit, "kind": "single", "guide_size": str(size), "section": section}
    answers = answered({**given_options, "length": f"{length / MM[unit]:.4f}"}, None, print)
    with tempfile.TemporaryDirectory() as folder:
        write_new(Path(folder) / "new", toml_text(answers), answers.stage)
        check_that_the_reader_takes(read_frame(Path(folder) / "new"), answers.stage, every)


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_the_reader_takes_every_station_of_a_portal(unit, tmp_path):
    answers = answered({"unit": unit}, None, print)
    write_new(tmp_path / "new", toml_text(answers), answers.stage)
    check_that_the_reader_takes(read_frame(tmp_path / "new"), answers.stage, None)


def test_the_reader_takes_every_station_of_an_odd_machine(tmp_path):
    odd = odd_frame(tmp_path)
    inside = tmp_path / "readings" / "as_found"
    inside.mkdir(parents=True)
    for sweep in in_order(odd):
        text = blank_csv(odd, sweep, run(odd, sweep), "x")
        (inside / f"{sweep.name}.csv").write_text(filled(text, "0.5"), encoding="utf-8")
    read = read_stage(odd, "as_found")
    assert len(read.sweeps) == len(odd.sweeps)
    assert len(read.pulls) == 1


def test_columns_are_in_the_units_of_the_frame(frame, tmp_path):
    odd = odd_frame(tmp_path / "odd")
    assert columns(frame, sweep_of(frame, "left_outer_lateral")) == ("reading_um",)
    assert columns(frame, sweep_of(frame, "left_mouth")) == ("reading_mm",)
    assert columns(frame, sweep_of(frame, "left_tops")) == ("go_um", "no_go_um")
    assert columns(odd, sweep_of(odd, "lbeam")) == ("reading_in_per_ft",)
    assert columns(odd, sweep_of(odd, "pp")) == (
        "breakaway_lbf",
        "running_lbf",
        "breakaway_back_lbf",
        "running_back_lbf",
    )


def test_the_order_of_the_work(tmp_path):
    """Beams that stand before the beam that they carry; twist, heights, spacing, tops (common practice)."""
    answers = answered({}, None, print)
    write_new(tmp_path / "new", toml_text(answers), answers.stage)
    frame = read_frame(tmp_path / "new")
    ordered = in_order(frame)
    assert len(ordered) == len(frame.sweeps) + len(frame.pulls)
    on_cross = [_beam(sweep) == "cross" for sweep in ordered]
    assert on_cross == sorted(on_cross)
    for cross in (False, True):
        ranks = [rank(sweep) for sweep, is_cross in zip(ordered, on_cross, strict=True) if is_cross == cross]
        assert ranks == sorted(ranks)
        assert {STEPS[each] for each in ranks} == set(STEPS)
    names = [sweep.name for sweep in ordered]
    assert names.index("left_outer_lateral") < names.index("left_spacing")


def _beam(sweep) -> str:
    return sweep.carriage.beam.name if isinstance(sweep, PullSweep) else sweep.station_beam.name
