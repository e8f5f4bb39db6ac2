"""`framevis import` as a user runs it: what it shows, asks, writes, keeps and refuses."""

from __future__ import annotations

import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest

from framekit import write_frame
from framevis.reading.frame_file import read_frame
from framevis.reading.readings import read_stage, stages_present

GAUGE = "Station [mm];Anzeige [mm];Remark\n100;0,012;start\n700;-0,003;\n1400;0,010;\n"
SWEEP = "left_outer_lateral"
READINGS = "station_mm,reading_um\n100,1\n700,2\n"


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "gauge ä.txt").write_text(GAUGE, encoding="cp1252")
    return write_frame(tmp_path / "frame", readings={})


def command(folder, *more):
    words = [folder, folder.parent / "gauge ä.txt", "--stage", "as_found", "--sweep", SWEEP, *more]
    return [sys.executable, "-m", "framevis", "import", *map(str, words)]


def run(folder, *more):
    environment = os.environ | {"PYTHONIOENCODING": "utf-8"}
    return subprocess.run(
        command(folder, *more),
        capture_output=True,
        encoding="utf-8",
        env=environment,
        stdin=subprocess.DEVNULL,
        timeout=60,
    )


def at_a_terminal(folder, answer):
    """The command with a terminal of its own, and what was seen there."""
    ours, its = pty.openpty()
    with subprocess.Popen(command(folder), stdin=its, stdout=its, stderr=its, close_fds=True) as running:
        os.close(its)
        os.write(ours, answer)
        seen = b""
        try:
            while part := os.read(ours, 4096):
                seen += part
        except OSError:  # the other end has gone
            pass
        os.close(ours)
        return running.wait(), seen.decode()


def stage_of(folder) -> Path:
    return folder / "readings" / "as_found"


def test_it_shows_what_it_understood_writes_it_and_keeps_the_original(folder):
    done = run(folder, "--yes")
    assert done.returncode == 0, done.stderr
    for words in ("decimal comma", 'stations from column 1 "Station [mm]"', "0.012  start", "mm along mm: o",
                  "3 readings at 3 stations, from -0.003 to 0.012 mm"):  # fmt: skip
        assert words in done.stdout
    written = (stage_of(folder) / f"{SWEEP}.csv").read_text(encoding="utf-8").splitlines()
    assert written[1:] == ["station_mm,reading_mm,note", "100,0.012,start", "700,-0.003,", "1400,0.010,"]
    assert (stage_of(folder) / "originals" / "gauge ä.txt").read_bytes() == GAUGE.encode()
    assert sorted(path.name for path in stage_of(folder).iterdir()) == [f"{SWEEP}.csv", "originals"]


def test_the_reader_passes_over_the_originals(folder):
    (folder.parent / "gauge ä.txt").rename(folder.parent / "left_outer_lateral.csv")
    words = [folder, folder.parent / "left_outer_lateral.csv", "--stage", "as_found", "--sweep", SWEEP, "--yes"]
    subprocess.run([sys.executable, "-m", "framevis", "import", *map(str, words)], check=True, capture_output=True)
    frame = read_frame(folder)
    assert (stage_of(folder) / "originals" / "left_outer_lateral.csv").exists()
    (found,) = read_stage(frame, "as_found").sweeps
    assert list(found.values) == [12.0, -3.0, 10.0]
    assert stages_present(frame) == ("as_found",)


def test_without_a_terminal_it_asks_for_yes_and_writes_nothing(folder):
    done = run(folder)
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert "run it again with --yes" in done.stderr
    assert "3 readings at 3 stations" in done.stdout
    assert not list(stage_of(folder).iterdir())


@pytest.mark.parametrize(("answer", "taken"), [(b"y\n", True), (b"\n", False), (b"n\n", False)])
def test_at_a_terminal_it_asks(folder, answer, taken):
    code, seen = at_a_terminal(folder, answer)
    assert code == 0
    assert "Is that right? [y/N]" in seen
    assert (stage_of(folder) / f"{SWEEP}.csv").exists() == taken
    assert ("Nothing was written" in seen) != taken


def test_readings_that_are_there_stay_unless_replaced_and_are_then_kept(folder):
    target = stage_of(folder) / f"{SWEEP}.csv"
    target.parent.mkdir(parents=True)
    target.write_text(READINGS)
    refused = run(folder, "--yes")
    assert refused.returncode == 2
    assert "holds readings already: give --replace" in refused.stderr
    assert target.read_text() == READINGS
    done = run(folder, "--yes", "--replace")
    assert done.returncode == 0, done.stderr
    assert (target.parent / "originals" / target.name).read_text() == READINGS
    assert "700,-0.003" in target.read_text()


def test_a_prepared_sheet_without_readings_gives_way_and_is_kept(folder):
    target = stage_of(folder) / f"{SWEEP}.csv"
    target.parent.mkdir(parents=True)
    target.write_text("station_mm,reading_um\n100,\n700,\n")
    assert run(folder, "--yes").returncode == 0
    assert (target.parent / "originals" / target.name).read_text().endswith("700,\n")


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (["--unit", "N"], '--unit: "N" is no unit of this sweep'),
        (["--station", "Ort"], '--station: there is no column "Ort"'),
        (["--step", "50"], "--step: goes with --start"),
        (["--separator", "bar"], "holds no readings"),
        (["--worksheet", "x"], "is no spreadsheet"),
        (["--station-unit", "m"], 'line 2: station 100000 mm is off the beam'),
    ],
)  # fmt: skip
def test_bad_wishes_end_with_a_sentence(folder, more, words):
    done = run(folder, "--yes", *more)
    assert done.returncode == 2
    assert words in done.stderr
    assert "Traceback" not in done.stderr
    assert not (stage_of(folder) / f"{SWEEP}.csv").exists()


def test_a_number_that_can_mean_two_things_needs_a_word(folder):
    (folder.parent / "gauge ä.txt").write_text("100;1,234\n700;1,210\n")
    done = run(folder, "--yes", "--unit", "mm")
    assert done.returncode == 2
    assert '"1,234" is taken for a decimal comma; --decimal , says so' in done.stderr
    assert run(folder, "--yes", "--unit", "mm", "--decimal", ",").returncode == 0


@pytest.mark.parametrize("name", ["a\x1b[2J\n# b.txt", '左 \u202eb,".csv', os.fsdecode(b"no-utf8-\xff.txt")])
def test_any_name_of_a_file_is_escaped_on_screen_and_kept_as_it_is(folder, name):
    source = folder.parent / name
    source.write_text(GAUGE)
    words = [
        sys.executable,
        "-m",
        "framevis",
        "import",
        folder,
        source,
        "--stage",
        "as_found",
        "--sweep",
        SWEEP,
        "--yes",
    ]
    environment = os.environ | {"PYTHONIOENCODING": "utf-8"}
    done = subprocess.run(words, capture_output=True, encoding="utf-8", env=environment, timeout=60)
    assert done.returncode == 0, done.stderr
    assert all(line.isprintable() for line in done.stdout.splitlines())
    assert (stage_of(folder) / "originals" / name).read_text() == GAUGE
    written = (stage_of(folder) / f"{SWEEP}.csv").read_text(encoding="utf-8").splitlines()
    assert written[0].startswith("# imported from ")
    assert written[1].startswith("station_mm")
    assert len(read_stage(read_frame(folder), "as_found").sweeps) == 1


def test_a_sweep_that_is_being_entered_is_not_imported(folder):
    words = [sys.executable, "-m", "framevis", "enter", str(folder), "--stage", "as_found", "--sweep", SWEEP]
    with subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as entering:
        entering.stdout.readline()
        done = run(folder, "--yes")
        assert done.returncode == 2
        assert "another program is entering this sweep" in done.stderr
        entering.communicate(b"q\n")


def test_unknown_stage_and_sweep(folder):
    source = folder.parent / "gauge ä.txt"
    for stage, sweep in (("as_fuond", SWEEP), ("as_found", "left_outer_latteral")):
        words = [
            sys.executable,
            "-m",
            "framevis",
            "import",
            folder,
            source,
            "--stage",
            stage,
            "--sweep",
            sweep,
            "--yes",
        ]
        done = subprocess.run(words, capture_output=True, encoding="utf-8", timeout=60)
        assert done.returncode == 2
        assert done.stderr.count("\n") == 1
        assert "did you mean" in done.stderr
