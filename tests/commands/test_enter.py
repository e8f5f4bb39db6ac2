"""`framevis enter` as a user runs it: from a pipe, at a terminal, twice at once, on a medium that can't be written."""

from __future__ import annotations

import os
import pty
import signal
import subprocess
import sys
import time

import pytest

from framekit import SAMPLE_TOML, write_frame
from framevis.reading.frame_file import read_frame
from framevis.reading.readings import read_stage

SWEEP = "left_outer_lateral"


@pytest.fixture
def folder(tmp_path):
    return write_frame(tmp_path / "frame", readings={})


def command(folder, *more):
    return [sys.executable, "-m", "framevis", "enter", str(folder), "--stage", "as_found", *more]


def run(folder, typed, *more, raw=False):
    environment = os.environ | {"PYTHONIOENCODING": "utf-8"}
    done = subprocess.run(
        command(folder, *more), input=typed if raw else typed.encode(), capture_output=True, env=environment, timeout=60
    )
    return done.returncode, done.stdout.decode(), done.stderr.decode()


def csv_of(folder, sweep=SWEEP):
    return folder / "readings" / "as_found" / f"{sweep}.csv"


def test_a_new_sweep_gets_its_stations_and_goes_on_the_next_time(folder):
    code, shown, said = run(folder, "\nleft\n+\n1,5\n0.002 mm\nn burr\nq\n", "--sweep", SWEEP)
    assert (code, said) == (0, "")
    assert "plus is left" in shown
    assert f"2 of {shown.split('of ')[-1].split(' ')[0]} readings stand in readings/as_found/{SWEEP}.csv" in shown
    first = csv_of(folder).read_text()
    assert "written: " in shown
    code, shown, said = run(folder, "\n\n2.5\n", "--sweep", SWEEP)  # the lines end: nothing is lost
    assert code == 0
    (found,) = read_stage(read_frame(folder), "as_found").sweeps
    assert list(found.values) == [1.5, 2.0, 2.5]
    assert found.station_mm[0] < found.station_mm[1] < found.station_mm[2]
    assert csv_of(folder).read_text().startswith(first.split("n burr")[0][:60])


def test_all_sweeps_of_a_stage_one_after_another(folder):
    code, shown, _ = run(folder, "nonsense\nleft_mouth\n\n0.01\nq\n3\nmm\ns\n1\nq\nq\n")
    assert code == 0
    assert 'there is no sweep "nonsense"' in shown
    assert "   1  not begun       left_outer_lateral" in shown
    sweeps = {each.sweep.name for each in read_stage(read_frame(folder), "as_found").sweeps}
    assert sweeps == {"left_mouth", "left_spacing"}


def test_bytes_that_are_no_text_stop_nothing(folder):
    code, shown, said = run(folder, b"\ns\n1.5\xb5m\n\xff\xfe\x00\n2\n", "--sweep", SWEEP, raw=True)
    assert (code, said) == (0, "")
    (found,) = read_stage(read_frame(folder), "as_found").sweeps
    assert list(found.values) == [1.5, 2.0]
    assert "is not a number" in shown


def test_names_in_any_language(tmp_path):
    name = "links außen ↕ 左"
    folder = write_frame(tmp_path / "frame", SAMPLE_TOML.replace(f"[sweep.{SWEEP}]", f'[sweep."{name}"]'), {})
    code, shown, _ = run(folder, "\ns\n1\nn \x1b[31mred\x07\n", "--sweep", name)
    assert code == 0
    assert "[31mred" in csv_of(folder, name).read_text(encoding="utf-8")
    assert f"{name} · as_found" in shown
    assert "\x1b" not in shown + csv_of(folder, name).read_text(encoding="utf-8")


def test_the_second_program_is_told_in_one_sentence(folder):
    first = subprocess.Popen(command(folder, "--sweep", SWEEP), stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    first.stdout.readline()
    code, _, said = run(folder, "\n", "--sweep", SWEEP)
    assert code == 2
    assert said == (
        f"framevis: readings/as_found/{SWEEP}.csv: another program is entering this sweep (process {first.pid}): "
        "finish there first, or take another sweep\n"
    )
    assert run(folder, "q\n", "--sweep", "left_mouth")[0] == 0
    first.kill()
    first.communicate()
    assert run(folder, "\ns\n1\n", "--sweep", SWEEP)[0] == 0


def test_a_keyboard_at_a_terminal_and_ctrl_c(folder):
    ours, its = pty.openpty()
    running = subprocess.Popen(
        command(folder, "--sweep", SWEEP), stdin=its, stdout=its, stderr=its, close_fds=True, start_new_session=True,
        env=os.environ | {"PYTHONIOENCODING": "utf-8", "TERM": "xterm"},
    )  # fmt: skip
    os.close(its)
    seen = b""

    def wait_for(words):
        nonlocal seen
        seen = b""
        end = time.monotonic() + 30
        while words not in seen:
            assert time.monotonic() < end, seen
            seen += os.read(ours, 4096)

    wait_for(b"instrument show")
    for line, words in (
        (b"\n", b"Sign check"),
        (b"s\n", b"reading in"),
        (b"1.5\r", b"written: "),
        (b"2,5\r", b"= 2.5"),
    ):
        os.write(ours, line)
        wait_for(words)
    assert b"\x1b[2J" in seen  # a fresh screen each time, with the station in large digits
    assert b"######" in seen
    running.send_signal(signal.SIGINT)
    wait_for(b"is on the disk")
    assert running.wait(30) == 130
    os.close(ours)
    (found,) = read_stage(read_frame(folder), "as_found").sweeps
    assert list(found.values) == [1.5, 2.5]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("station_mm,reading_um\n100,x\n", 'line 2: reading "x" is not a number'),
        ("# nothing\n", "has no stations"),
        ("station_mm,reading_um\n", "has no stations"),
        ("station_mm,reading_n\n1,\n", "reads a length"),
    ],
)
def test_a_file_that_is_wrong_is_said_and_left_alone(folder, text, words):
    csv_of(folder).parent.mkdir(parents=True)
    csv_of(folder).write_text(text)
    code, _, said = run(folder, "\n1\n", "--sweep", SWEEP)
    assert code == 2
    assert words in said
    assert csv_of(folder).read_text() == text


def test_unknown_stage_and_sweep(folder):
    code, _, said = run(folder, "", "--sweep", "left_outer_latteral")
    assert (code, said.count("\n")) == (2, 1)
    assert 'there is no sweep "left_outer_latteral" in frame.toml: did you mean "left_outer_lateral"?' in said
    words = [sys.executable, "-m", "framevis", "enter", str(folder), "--stage", "as_fuond"]
    done = subprocess.run(words, capture_output=True, encoding="utf-8", timeout=60)
    assert done.returncode == 2
    assert 'there is no stage "as_fuond" in frame.toml: did you mean "as_found"?' in done.stderr
    assert not (folder / "readings").exists()


def test_nothing_heavy_is_loaded(folder):
    program = (
        "import sys; sys.argv = ['framevis', 'enter', sys.argv[1], '--stage', 'as_found', '--sweep', 'left_mouth']\n"
        "import framevis.cli\n"
        "try:\n    framevis.cli.main()\n"
        "finally:\n    heavy = {'scipy', 'vtk', 'pyvista', 'rich', 'openpyxl', 'matplotlib'}\n"
        "    print(sorted(heavy & set(sys.modules)), file=sys.stderr)\n"
    )
    done = subprocess.run([sys.executable, "-c", program, folder], input=b"\n1\n", capture_output=True, timeout=60)
    assert done.stderr.decode().strip() == "[]"
