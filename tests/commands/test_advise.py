"""`framevis advise` as a user runs it: text, JSON, bad input, nothing drawn."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from framevis.reading.frame_file import read_frame
from machines import measure, portal, rough, write

DEMO = Path(__file__).parents[2] / "demo_frames" / "glazing_table"


def run(*arguments: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "framevis", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=300)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A portal without the readings of the spacing; its names are markup."""
    base = tmp_path_factory.mktemp("advise")
    tree = portal()
    tree["name"] = "[bold]portal[/bold]"
    tree["shim"] = []
    found = measure(frame := read_frame(write(base / "drawn", tree, {})), rough(frame, 1, 0.05), 100.0)
    found.pop("ab_lateral")
    return write(base / "machine", tree, found)


def test_text(folder: Path) -> None:
    done = run("advise", folder, "--draws", 200)
    assert (done.returncode, done.stderr) == (0, "")
    text = " ".join(done.stdout.split())
    assert text.startswith("[bold]portal[/bold] · stage now: what to measure next")
    assert "1 ab_lateral: not taken yet (11 readings)" in text
    assert "Caution: power off" in text


def test_json(folder: Path) -> None:
    done = run("advise", folder, "--draws", 200, "--json")
    found = json.loads(done.stdout)
    keys = "format frame stage draws seed wrong_verdicts_expected worth_from enough readings blocks"
    assert list(found) == keys.split()
    assert (found["format"], found["stage"], found["draws"], found["enough"]) == (1, "now", 200, False)
    first = found["readings"][0]
    assert first["sweeps"] == ["ab_lateral"]
    assert first["how"] == "not taken"
    assert first["station_mm"] is None
    assert first["count"] == 11
    assert first["wrong_verdicts_expected"] < found["wrong_verdicts_expected"] - 0.03
    open_blocks = {(each["carriage"], each["name"]): each["chance_wrong"] for each in found["blocks"]}
    for each in first["settles"]:
        assert each["after"] < each["chance_wrong"] == open_blocks[each["carriage"], each["name"]]


def test_the_demo_as_found_needs_no_more_readings() -> None:
    done = run("advise", DEMO, "--stage", "as_found", "--json")
    assert json.loads(done.stdout)["enough"] is True


@pytest.mark.parametrize("command", ["advise", "budget"])
def test_bad_input_is_one_sentence(folder: Path, command: str) -> None:
    done = run(command, folder, "--stage", "nowhere")
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert 'there is no stage "nowhere"' in done.stderr


@pytest.mark.parametrize("command", ["advise", "budget"])
def test_nothing_that_draws_is_loaded(folder: Path, command: str) -> None:
    code = (
        "import sys\nfrom framevis.cli import main\n"
        f"sys.argv = ['framevis', {command!r}, {str(folder)!r}, '--draws', '20']\nmain()\n"
        "bad = {'vtk', 'vtkmodules', 'pyvista', 'matplotlib', 'trimesh', 'openpyxl'} & set(sys.modules)\n"
        "sys.exit(f'loaded: {bad}' if bad else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, timeout=300)
    assert (done.returncode, done.stderr) == (0, "")
