"""Whatever stands in the files: a frame comes out, or `BadInput` in printable lines; nothing else."""

import datetime
import json
import subprocess
import sys
import tomllib

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from framekit import SAMPLE_READINGS, SAMPLE_TOML, write_frame
from framevis.errors import BadInput
from framevis.reading.csv_table import MOST_BYTES
from framevis.reading.door import Door
from framevis.reading.error_curve import read_error_curve
from framevis.reading.frame_file import MOST_BYTES as MOST_FRAME_BYTES
from framevis.reading.frame_file import read_frame
from framevis.reading.readings import read_stage
from fuzzkit import cases, soon

RAW = SAMPLE_TOML.encode()
CSV_SWEEPS = sorted(SAMPLE_READINGS["as_found"])
QUICK = settings(max_examples=cases(60), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def _say(bad):
    assert bad.problems
    assert all(str(each).isprintable() for each in bad.problems)


def _try_frame(folder, raw):
    (folder / "frame.toml").write_bytes(raw)
    try:
        with soon():
            read_frame(folder)
    except BadInput as bad:
        _say(bad)


def _toml(value):
    """TOML text of a value."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(key)} = {_toml(each)}" for key, each in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_toml(each) for each in value) + "]"
    if isinstance(value, datetime.date):
        return value.isoformat()
    return json.dumps(value).replace("NaN", "nan").replace("Infinity", "inf")


def _places(value, path=()):
    children = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, child in children:
        yield (*path, key)
        yield from _places(child, (*path, key))


PLACES = list(_places(tomllib.loads(SAMPLE_TOML)))
JUNK = st.one_of(
    st.sampled_from([0, -1, 1, 2, 1e-300, 1e300, -1e6, 10**30, 0.5, 1e-6, 1e6, float("nan"), float("inf"), True]),
    st.sampled_from(["", "left", "left_outer", "left/front_outer/full", "left_inner@1/left", "\x1b[2J", "a" * 500]),
    st.sampled_from([[], {}, [[]], [{}], {"x": 1}, [0, 0, 0], [1, 2], ["left_outer"], datetime.date(2024, 1, 1)]),
    st.integers(-(10**12), 10**12),
    st.floats(width=32),
    st.text(st.characters(codec="utf-8", exclude_categories=["Cs"]), max_size=12),
)


@pytest.mark.parametrize("junk", [b"", b"\x00", b"\xff" * 20, b"[" * 3000, b"a.b.c = 1", b"shim = 1", b"beam = 3\n"])
def test_short_junk(tmp_path, junk):
    _try_frame(tmp_path, junk)


@QUICK
@given(cut=st.integers(0, len(RAW)))
def test_truncated_anywhere(tmp_path, cut):
    _try_frame(tmp_path, RAW[:cut])


@QUICK
@given(flips=st.lists(st.tuples(st.integers(0, len(RAW) - 1), st.integers(0, 255)), min_size=1, max_size=4))
def test_changed_bytes(tmp_path, flips):
    raw = bytearray(RAW)
    for at, byte in flips:
        raw[at] = byte
    _try_frame(tmp_path, bytes(raw))


@settings(QUICK, max_examples=cases(200))
@given(path=st.sampled_from(PLACES), junk=JUNK)
def test_any_value_replaced(tmp_path, path, junk):
    tree = tomllib.loads(SAMPLE_TOML)
    inside = tree
    for key in path[:-1]:
        inside = inside[key]
    inside[path[-1]] = junk
    _try_frame(tmp_path, "\n".join(f"{key} = {_toml(value)}" for key, value in tree.items()).encode())


@settings(QUICK, max_examples=cases(40))
@given(path=st.sampled_from(PLACES))
def test_any_value_taken_out(tmp_path, path):
    tree = tomllib.loads(SAMPLE_TOML)
    inside = tree
    for key in path[:-1]:
        inside = inside[key]
    del inside[path[-1]]
    _try_frame(tmp_path, "\n".join(f"{key} = {_toml(value)}" for key, value in tree.items()).encode())


@pytest.fixture(scope="module")
def frame(tmp_path_factory):
    return read_frame(write_frame(tmp_path_factory.mktemp("frame")))


def _try_csv(frame, sweep, raw):
    file = frame.folder / "readings" / "as_found" / f"{sweep}.csv"
    before = file.read_bytes()
    file.write_bytes(raw)
    try:
        with soon():
            stage = read_stage(frame, "as_found")
        assert all(len(each.values) == len(each.line) > 0 for each in stage.sweeps)
    except BadInput as bad:
        _say(bad)
    finally:
        file.write_bytes(before)


@QUICK
@given(data=st.data())
def test_csv_changed_bytes(frame, data):
    sweep = data.draw(st.sampled_from(CSV_SWEEPS))
    raw = bytearray(SAMPLE_READINGS["as_found"][sweep].encode())
    for _ in range(data.draw(st.integers(1, 4))):
        raw[data.draw(st.integers(0, len(raw) - 1))] = data.draw(st.integers(0, 255))
    _try_csv(frame, sweep, bytes(raw[: data.draw(st.integers(1, len(raw)))]))


CELL = st.one_of(
    st.sampled_from(["", "100", "200", "0,03", "1e308", "-5", "nan", '"', "#", "1.5,3", "3mm", "٣", "\u202e"]),
    st.floats().map(str),
    st.text(max_size=6),
)
COLUMN = st.sampled_from(["station_mm", "station_in", "reading_um", "reading_2_mm", "go_um", "no_go_um", "note", ""])


@settings(QUICK, max_examples=cases(120))
@given(
    sweep=st.sampled_from(CSV_SWEEPS),
    header=st.one_of(st.just(["station_mm", "reading_um"]), st.lists(COLUMN, max_size=5)),
    rows=st.lists(st.lists(CELL, max_size=4), max_size=6),
    separator=st.sampled_from([",", ";", "\t"]),
)
def test_csv_of_junk(frame, sweep, header, rows, separator):
    text = "\n".join(separator.join(cells) for cells in [header, *rows])
    _try_csv(frame, sweep, text.encode("utf-8", "surrogatepass"))


@settings(QUICK, max_examples=cases(40))
@given(raw=st.binary(max_size=80))
def test_csv_of_any_bytes(frame, raw):
    _try_csv(frame, CSV_SWEEPS[0], raw)


PULL_TOML = """
[sweep.left_pull]
kind = "pull"
carriage = "left"
u_n = 0.3
"""
PULL_COLUMN = st.sampled_from(
    ["station_mm", "running_n", "running_back_n", "breakaway_kgf", "running_2_n", "reading_lbf", "note", ""]
)


@pytest.fixture(scope="module")
def pulled(tmp_path_factory):
    folder = write_frame(tmp_path_factory.mktemp("pulled"))
    with (folder / "frame.toml").open("a", encoding="utf-8") as file:
        file.write(PULL_TOML)
    (folder / "readings/as_found/left_pull.csv").write_text("station_mm,running_n\n300,4\n")
    return read_frame(folder)


@settings(QUICK, max_examples=cases(80))
@given(
    header=st.one_of(st.just(["station_mm", "running_n"]), st.lists(PULL_COLUMN, max_size=5)),
    rows=st.lists(st.lists(CELL, max_size=4), max_size=6),
    separator=st.sampled_from([",", ";", "\t"]),
)
def test_pulls_of_junk(pulled, header, rows, separator):
    text = "\n".join(separator.join(cells) for cells in [header, *rows])
    _try_csv(pulled, "left_pull", text.encode("utf-8", "surrogatepass"))


@settings(QUICK, max_examples=cases(80))
@given(
    header=st.sampled_from([["station_mm", "error_um"], ["station_in", "error_thou", "note"], ["error_um"], [""]]),
    rows=st.lists(st.lists(CELL, max_size=4), max_size=6),
    separator=st.sampled_from([",", ";"]),
)
def test_error_curves_of_junk(tmp_path, header, rows, separator):
    text = "\n".join(separator.join(cells) for cells in [header, *rows])
    (tmp_path / "error.csv").write_bytes(text.encode("utf-8", "surrogatepass"))
    door = Door("frame.toml")
    with soon():
        curve = read_error_curve(tmp_path, "error.csv", ("sweep", "x", "error_csv"), door)
    assert (curve is None) == bool(door.problems)
    assert all(str(each).isprintable() for each in door.problems)


BIG = {
    "rows": b"100,3\n",
    "stations": None,
    "empty": b"\n",
    "wide": b"1," * 1000 + b"\n",
    "wide characters": "\U0001f600".encode() * 20 + b"\n",
    "comments": b"#\n",
    "one line": b"7",
    "open quotes": b'"\n',
    "quoted": b'"1,2";"3"\n',
    "separators": b",\n",
}


@pytest.mark.parametrize("kind", BIG)
def test_the_largest_csv_that_is_read_takes_no_time(frame, kind):
    line, head = BIG[kind], b"station_mm,reading_um\n"
    if line is None:
        body = b"".join(b"%.3f,%d\n" % (0.014 * i, i % 7) for i in range(100_000))
    else:
        body = line * ((MOST_BYTES - len(head)) // len(line))
    _try_csv(frame, "left_outer_lateral", head + body)


@pytest.mark.parametrize("line", [b"x = 1\n", b"[[a]]\n", b"#\n", b"\n", b'"', b"[a", b"x = [[[[", b"{x = ", b"\xff"])
def test_the_largest_frame_file_that_is_read_takes_no_time(tmp_path, line):
    _try_frame(tmp_path, line * (MOST_FRAME_BYTES // len(line)))


HUNDRED_MB = 100_000_000


def test_a_hundred_megabytes_take_no_memory(tmp_path):
    """Every reader of the frame's folder, in a process that may have 1 GB."""
    folder = write_frame(tmp_path)
    for name in ("frame.toml", "readings/as_found/left_outer_lateral.csv", "error.csv"):
        code = f"""
from pathlib import Path
from framevis.errors import BadInput
from framevis.reading.csv_table import MOST_BYTES
from framevis.reading.door import Door
from framevis.reading.error_curve import read_error_curve
from framevis.reading.frame_file import read_frame
from framevis.reading.readings import read_stage
folder = Path({str(folder)!r})
if {name!r} == "error.csv":
    door = Door("frame.toml")
    read_error_curve(folder, "error.csv", ("sweep",), door)
    assert "100 MB" in str(door.problems[0])
else:
    try:
        read_stage(read_frame(folder), "as_found")
    except BadInput as bad:
        assert "100 MB" in str(bad)
    else:
        raise AssertionError
status = Path("/proc/self/status")  # ru_maxrss would count what the test's own process had before exec
if status.exists():
    peak = int(next(line.split()[1] for line in status.read_text().splitlines() if line.startswith("VmHWM")))
    assert 10_000 < peak < 1_000_000, peak
"""
        file = folder / name
        before = file.read_bytes() if file.exists() else None
        with file.open("ab") as grown:
            grown.truncate(HUNDRED_MB)
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, timeout=120)
        assert done.returncode == 0, done.stderr
        if before is None:
            file.unlink()
        else:
            file.write_bytes(before)
