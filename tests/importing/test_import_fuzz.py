"""Whatever stands in a file: it is understood and the reader takes it, or `BadInput` in printable lines says why."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_understanding_files import PULL, VALUES, read_source, sweep_named, understand, workbook, write_frame

from framekit import SAMPLE_TOML
from framevis.errors import BadInput
from framevis.importing import placing
from framevis.importing.echo import echo
from framevis.importing.wishes import Wishes
from framevis.reading.frame_file import read_frame
from framevis.reading.readings import problems_of
from fuzzkit import cases, soon

SWEEPS = ["left_outer_lateral", "left_tops", "left_across", "left_mouth", "left_pull"]
BOOK = workbook([["Station [mm]", "Reading [mm]"], *([station, float(value)] for station, value in VALUES)])
MANY = settings(max_examples=cases(300), deadline=None)


@pytest.fixture(scope="module")
def ground(tmp_path_factory):
    folder = tmp_path_factory.mktemp("fuzz")
    frame = read_frame(write_frame(folder / "frame", SAMPLE_TOML + PULL, {}))
    stage = folder / "frame" / "readings" / "as_found"
    stage.mkdir(parents=True)
    return frame, {name: sweep_named(folder / "frame", name) for name in SWEEPS}, folder, stage


def looked_at(path, frame, sweep, target, wishes):
    wishes.check()
    source = read_source(path, alone=wishes.start is not None, decimal=wishes.decimal)
    found = understand(source, frame, sweep, wishes)
    assert all(line.isprintable() for line in echo(found, sweep.name, "as_found", 80))
    placing.check(found, sweep, target, replacing=False)
    return found


def tried(ground, raw, name, sweep, wishes):
    """Whether a file was taken; a refusal must be in printable sentences."""
    frame, sweeps, folder, stage = ground
    path, target = folder / name, stage / f"{sweep}.csv"
    path.write_bytes(raw)
    target.unlink(missing_ok=True)
    found, wrong = None, ()
    try:
        with soon():
            found = looked_at(path, frame, sweeps[sweep], target, wishes)
    except BadInput as bad:
        wrong = bad.problems
    assert (found is None) == bool(wrong)
    assert all(str(each).isprintable() for each in wrong)
    assert not target.exists()
    if found is None:
        return False
    placing.place(found, target)
    assert problems_of(target, sweeps[sweep], "x") == ()
    return True


WISHES = st.builds(
    Wishes,
    station=st.none() | st.sampled_from(["1", "2", "station"]),
    readings=st.just(()) | st.lists(st.sampled_from(["1", "2", "3", "x"]), max_size=3).map(tuple),
    unit=st.none() | st.sampled_from(["um", "mm", "N", "mm/m", "x"]),
    station_unit=st.none() | st.sampled_from(["mm", "in", "m"]),
    decimal=st.none() | st.sampled_from([".", ","]),
    reverse=st.booleans(),
    start=st.none() | st.floats(-10, 2000) | st.just(float("nan")),
    step=st.none() | st.floats(-100, 200),
)
CELL = st.one_of(
    st.integers(-20, 1500).map(str), st.decimals(-5, 5, places=2).map(str),
    st.sampled_from(["", "x", "0,5", "1.234,5"]),
    st.sampled_from(["12 mm", "3µm", "1e9", "nan", '"', "\x1b[2J", "12:30", "25.11.2026", "#", "mm", "Station [mm]"]),
    st.text(max_size=6),
)  # fmt: skip


@MANY
@given(raw=st.binary(max_size=300), sweep=st.sampled_from(SWEEPS), wishes=WISHES)
def test_any_bytes(ground, raw, sweep, wishes):
    tried(ground, raw, "any.bin", sweep, wishes)


@MANY
@given(
    rows=st.lists(st.lists(CELL, min_size=1, max_size=4), max_size=12),
    separator=st.sampled_from([",", ";", "\t", " ", "|"]),
    encoding=st.sampled_from(["utf-8", "utf-16", "cp1252"]), sweep=st.sampled_from(SWEEPS), wishes=WISHES,
)  # fmt: skip
def test_any_table(ground, rows, separator, encoding, sweep, wishes):
    text = "\n".join(separator.join(row) for row in rows)
    tried(ground, text.encode(encoding, errors="replace"), "any.csv", sweep, wishes)


@settings(max_examples=cases(200), deadline=None)
@given(
    rows=st.lists(st.tuples(st.integers(100, 1400), st.one_of(st.decimals(0, 9, places=2).map(str), CELL)), max_size=9),
    head=st.sampled_from(["", "station mm;reading mm\n", "s;force N\n", "at [in];go um;no-go um\n", "x;mm/m\n"]),
    sweep=st.sampled_from(SWEEPS), decimal=st.sampled_from(".,"), unit=st.sampled_from([None, "mm", "N", "mrad"]),
)  # fmt: skip
def test_tables_that_are_nearly_right(ground, rows, head, sweep, decimal, unit):
    text = head + "".join(f"{station};{cell.replace('.', decimal)}\n" for station, cell in rows)
    tried(ground, text.encode(errors="replace"), "any.csv", sweep, Wishes(unit=unit))


@settings(max_examples=cases(60), deadline=None)
@given(
    flips=st.lists(st.tuples(st.integers(0, len(BOOK) - 1), st.integers(0, 255)), max_size=3), cut=st.integers(0, 40)
)
def test_a_damaged_spreadsheet(ground, flips, cut):
    raw = bytearray(BOOK)
    for at, byte in flips:
        raw[at] = byte
    tried(ground, bytes(raw[: len(raw) - max(0, cut - 30)]), "any.xlsx", "left_outer_lateral", Wishes())


def test_the_fuzz_reaches_files_that_are_taken(ground):
    assert tried(ground, BOOK, "any.xlsx", "left_outer_lateral", Wishes())
    assert tried(ground, b"100;0,5\n200;0,6\n", "any.csv", "left_mouth", Wishes(unit="mm"))
    assert tried(ground, b"100;5\n200;6\n", "any.csv", "left_pull", Wishes(unit="N"))
