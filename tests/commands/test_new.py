"""`framevis new` as a user runs it: with options, asked on a terminal, stopped half way, on what it must not touch."""

from __future__ import annotations

import os
import pty
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from framevis import outfile
from framevis.errors import BadInput
from framevis.reading.frame_file import read_frame
from framevis.starting.begin import write_new

FRAMEVIS = [sys.executable, "-m", "framevis"]


def run(*arguments: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*FRAMEVIS, *arguments], cwd=cwd, capture_output=True, text=True, stdin=subprocess.DEVNULL, check=False
    )


def everything_in(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*"))


def test_without_a_terminal_the_usual_is_taken_and_assess_says_that_readings_are_missing(tmp_path):
    done = run("new", "mill", "--kind", "single", "--name", 'Big "B"', "--length", "1200,5", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    assert "framevis sheets mill --stage as_found" in done.stdout
    assert everything_in(tmp_path / "mill") == ["frame.toml", "readings", "readings/as_found"]
    frame = read_frame(tmp_path / "mill")
    assert (frame.name, frame.warnings) == ('Big "B"', ())
    assert frame.beams[0].length_mm == 1200.5
    assessed = run("assess", "mill", cwd=tmp_path)
    assert assessed.returncode == 2
    assert assessed.stderr == ("framevis: readings: no stage has readings yet: put CSV files into readings/STAGE/\n")


def test_nothing_is_overwritten(tmp_path):
    (tmp_path / "frame.toml").write_text("mine")
    done = run("new", ".", cwd=tmp_path)
    assert done.returncode == 2
    assert "frame.toml: is there already: nothing is overwritten: name a new folder" in done.stderr
    assert (tmp_path / "frame.toml").read_text() == "mine"
    assert everything_in(tmp_path) == ["frame.toml"]


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["a/b/c"], "there is no folder"),
        (["file"], "is not a folder"),
        (["new", "--width", "4"], "--width: 4 mm is too little"),
        (["new", "--kind", "tripod"], '--kind: "tripod" is not one of the answers: give one of portal, single'),
        (["n" * 300], "can't be"),
        (["new", "--stage", "s" * 79 + "é" * 2], "can't be a name"),
    ],
)
def test_bad_input_is_one_sentence_and_writes_nothing(arguments, says, tmp_path):
    (tmp_path / "file").write_text("x")
    done = run("new", *arguments, cwd=tmp_path)
    assert done.returncode == 2
    assert says in done.stderr
    assert done.stderr.count("\n") == 1
    assert everything_in(tmp_path) == ["file"]


def on_a_terminal(folder: Path, *arguments: str) -> tuple[subprocess.Popen[bytes], int]:
    """The command on a pseudo-terminal, and the end of it that the person has."""
    mine, its = pty.openpty()
    running = subprocess.Popen(
        [*FRAMEVIS, "new", *arguments], cwd=folder, stdin=its, stdout=its, stderr=its, start_new_session=True
    )
    os.close(its)
    return running, mine


def heard(mine: int, until: str, text: str = "") -> str:
    """Everything printed up to a text, or to the end."""
    stop = time.monotonic() + 60.0
    while until not in text and time.monotonic() < stop:
        try:
            text += os.read(mine, 4096).decode()
        except OSError:  # the other end is closed
            break
    assert until in text
    return text


def test_on_a_terminal_it_asks_only_for_what_was_not_given(tmp_path):
    running, mine = on_a_terminal(tmp_path, "mill", "--unit", "mm", "--section", "box", "--kind", "single")
    typed = ["Werkbank №1\n", "\n", "\n", "zwei\n", "1000\n", "\n", "\n", "\n", "\n"]
    expected = ["Name", "Size", "balls", "Length", "Length", "Width", "Depth", "Wall", "stage"]
    text = ""
    for prompt, line in zip(expected, typed, strict=True):
        text = heard(mine, prompt, "")
        while not text.rstrip().endswith(":"):
            text += os.read(mine, 4096).decode()
        os.write(mine, line.encode())
    rest = heard(mine, "framevis assess mill")
    assert running.wait(60) == 0
    os.close(mine)
    assert "is written" in rest
    frame = read_frame(tmp_path / "mill")
    assert (frame.name, frame.beams[0].length_mm, frame.beams[0].section.shape) == ("Werkbank №1", 1000.0, "box")


def test_an_end_of_the_input_writes_nothing(tmp_path):
    running, mine = on_a_terminal(tmp_path, "mill")
    heard(mine, "[mm]: ")
    os.write(mine, b"in\n")
    heard(mine, "New frame")
    os.write(mine, b"\x04")
    text = heard(mine, "nothing was written")
    assert running.wait(60) == 2
    assert "Traceback" not in text
    os.close(mine)
    assert everything_in(tmp_path) == []


def test_an_interrupt_writes_nothing(tmp_path):
    running, mine = on_a_terminal(tmp_path, "mill")
    heard(mine, "[mm]: ")
    running.send_signal(signal.SIGINT)
    text = heard(mine, "nothing was written")
    assert running.wait(60) == 130
    assert "Traceback" not in text
    os.close(mine)
    assert everything_in(tmp_path) == []


def test_a_disk_that_fails_leaves_nothing_behind(tmp_path, monkeypatch):
    def full(self: Path, *args: object, **kwargs: object) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_text", full)
    with pytest.raises(BadInput, match="can't be written: No space left on device"):
        write_new(tmp_path / "mill", "text", "as_found")
    assert everything_in(tmp_path) == []


def test_a_frame_that_appears_meanwhile_is_kept(tmp_path, monkeypatch):
    """Somebody else writes frame.toml between the first look and the last."""
    plain = outfile.check_target

    def slow(path: Path, *rest: object) -> None:
        plain(path, *rest)
        path.write_text("theirs")

    monkeypatch.setattr("framevis.starting.begin.check_target", slow)
    with pytest.raises(BadInput, match="is there already"):
        write_new(tmp_path / "mill", "mine", "as_found")
    assert (tmp_path / "mill" / "frame.toml").read_text() == "theirs"


def test_new_draws_nothing_and_loads_nothing_that_draws(tmp_path):
    code = (
        "import sys; sys.argv = ['framevis', 'new', 'mill']\n"
        "from framevis.cli import main; main()\n"
        "assert not {'vtk', 'vtkmodules', 'pyvista', 'matplotlib', 'trimesh', 'scipy'} & set(sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        stdin=subprocess.DEVNULL,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
