"""`framevis assess` of many frames: a process each, JSON line by line, the table of the worst, bad input beside it."""

from __future__ import annotations

import io
import json
import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from rich.console import Console

import manykit
from framevis.archive import Summary, Task, Worst, frames_in, work_on
from framevis.cli import app
from framevis.errors import BadInput
from framevis.job import study_of
from framevis.processes import in_processes
from framevis.reading.frame_file import read_frame
from framevis.report_archive import print_archive, worst_first
from framevis.report_json import assessment
from machines import Tree, measure, portal, rough, write

DRAWS = 30


def run(*words: object, cwd: Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "framevis", "assess", *map(str, words), "--draws", str(DRAWS)]
    environment = os.environ | {"PYTHONIOENCODING": "utf-8"}
    return subprocess.run(command, capture_output=True, encoding="utf-8", cwd=cwd, env=environment, timeout=120)


def light() -> Tree:
    """A short frame of one beam and one carriage: most of what is tested here is not its numbers."""
    tree = portal(500.0)
    kept = {"beam": ("left",), "rail": ("a", "b"), "carriage": ("small",),
            "sweep": ("a_lateral", "a_height", "ab_lateral", "a_roll", "b_roll", "ab_roll")}  # fmt: skip
    tree |= {kind: {name: tree[kind][name] for name in names} for kind, names in kept.items()}
    for rail in tree["rail"].values():
        rail["screws"] = 12
    return tree | {"shim": []}


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with an archive of three frames, one of them unreadable, and a fourth frame beside it."""
    root = tmp_path_factory.mktemp("shop")
    for name, size in (("archive/mild", 0.05), ("archive/rough", 1.0), ("bench", 0.05)):
        (root / name).mkdir(parents=True)
        tree = light() | {"name": f"{Path(name).name} one"}
        frame = read_frame(write(root / name / "empty", tree, {}))
        write(root / name / "frame", tree, measure(frame, rough(frame, 4, size), 150.0))
        (root / name / "frame").rename(root / "made")
        for each in (root / "made").iterdir():
            each.rename(root / name / each.name)
        (root / "made").rmdir()
    (root / "archive" / "broken").mkdir()
    (root / "archive" / "broken" / "frame.toml").write_text("format = 1\nname = 3\n")
    (root / "archive" / "papers").mkdir()
    (root / "archive" / ".old").mkdir()
    (root / "archive" / ".old" / "frame.toml").write_text("format = 1\n")
    return root


def alone(folder: Path, seed: int = 0) -> dict[str, object]:
    return json.loads(json.dumps(assessment(study_of(read_frame(folder), draws=DRAWS, seed=seed))))


def test_json_is_a_line_a_frame_in_the_order_given(shop: Path) -> None:
    done = run("bench", "nowhere", "archive", "--json", "--seed", 7, cwd=shop)
    assert done.returncode == 2
    found = [json.loads(line) for line in done.stdout.splitlines()]
    assert [each.pop("folder") for each in found] == ["bench", "archive/mild", "archive/rough"]
    assert found == [alone(shop / name, 7) for name in ("bench", "archive/mild", "archive/rough")]
    lines = done.stderr.splitlines()
    assert lines[0].startswith('framevis: nowhere: frame.toml: there is no folder "nowhere"')
    assert "framevis: archive/broken: frame.toml, line 2, name: 3 is not a text: put it between double quotes" in lines
    assert all(line.startswith("framevis: archive/broken: frame.toml, ") for line in lines[1:])


def test_the_table_names_the_worst_first_and_says_how_to_see_one(shop: Path) -> None:
    done = run("archive/mild", "archive/rough", cwd=shop)
    assert (done.returncode, done.stderr) == (0, "")
    lines = done.stdout.splitlines()
    rows = [line for line in lines if line.startswith("archive/")]
    assert [row.split()[0] for row in rows] == ["archive/rough", "archive/mild"]
    blocks = [block for carriage in alone(shop / "archive/rough")["carriages"] for block in carriage["blocks"]]
    binding = sum(block["verdict"] == "binding" for block in blocks)
    assert binding > 0
    assert f" {binding} binding" in rows[0]
    worst = max(blocks, key=lambda block: (block["p_binding"], block["p_tight"], max(block["drag_ratio"])))
    assert f"/{worst['name']} " in rows[0]
    assert f"{100 * worst['p_binding']:.0f} %" in rows[0]
    assert f"{worst['worst_station_mm']:.0f} mm" in rows[0]
    assert lines[0].startswith("2 frames, by the worst block of each: 1 binding, 1 ")
    assert "framevis assess archive/rough --stage now" in done.stdout
    assert done.stdout.count("Caution: power off and locked out") == 1


def test_an_archive_without_frames_is_told_as_any_folder_without_one(shop: Path) -> None:
    folder = shop / "archive" / "papers"
    said = f'frame.toml: there is none in the folder "{folder}": give the folder in which frame.toml stands'
    with pytest.raises(BadInput, match=f"^{re.escape(said)}$"):
        app(["assess", str(folder)], exit_on_error=False, print_error=False)


def test_what_a_frame_lacks_is_its_own_problem(shop: Path) -> None:
    task = Task(shop / "bench", "later", as_json=True, calibrated=False, draws=DRAWS, seed=0)
    no_stage, no_pull = work_on(task), work_on(replace(task, stage=None, calibrated=True))
    assert no_stage.problems[0].startswith('frame.toml, stages: there is no stage "later"')
    assert "pull" in no_pull.problems[0]
    assert no_stage.folder == no_pull.folder == str(shop / "bench")
    assert said(refused=2) == "2 frames, by the worst block of each: 2 can't be used\n"


def test_processes_have_one_thread_each_and_load_nothing_to_draw(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever the user has set for BLAS: with two cores or more, threads would show as such."""
    monkeypatch.setenv("OPENBLAS_NUM_THREADS", "2")
    tasks = [Task(shop / name, None, False, False, 400, 0) for name in ("bench", "archive/rough")]
    told = list(in_processes(manykit.assess_and_tell, tasks, manykit.lost))
    assert os.getpid() not in {each["process"] for each in told}
    assert [each["answer"].frame for each in told] == ["bench one", "rough one"]
    assert {(each["threads"], each["cores"], *each["drawing"]) for each in told} == {(1, 1)}
    assert all(each["deaf"] for each in told)  # Ctrl-C is their parent's affair


def test_a_killed_process_costs_only_what_was_not_done_and_answers_keep_the_order() -> None:
    first, second, third, fourth = in_processes(manykit.killed_at_three, [1, 2, 3, 4], manykit.lost)
    assert (first, second, third) == ("1 done", "2 done", "3 lost")
    assert fourth in ("4 done", "4 lost")


def test_an_interrupt_ends_all_processes_without_a_word(shop: Path) -> None:
    """As from a terminal: all processes get the signal."""
    command = [sys.executable, "-m", "framevis", "assess", *["bench"] * 40, "--json", "--draws", "4000"]
    with subprocess.Popen(command, stdout=-1, stderr=-1, cwd=shop, start_new_session=True) as running:
        assert running.stdout is not None
        first = running.stdout.readline()
        os.killpg(running.pid, signal.SIGINT)
        out, error = running.communicate(timeout=20)
    assert json.loads(first)["folder"] == "bench"
    assert out.count(b"\n") < 39
    assert (running.returncode, error) == (130, b"")
    assert not list(still_working(running.pid))


def still_working(session: int) -> Iterator[str]:
    """Processes of a session that have not ended."""
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            words = path.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(words[3]) == session and words[0] not in "ZX":
            command = (path.parent / "cmdline").read_text()
            if "spawn_main" in command:
                yield command


def test_which_folders_are_frames(shop: Path) -> None:
    archive = shop / "archive"
    assert frames_in([archive]) == [archive / name for name in ("broken", "mild", "rough")]
    assert frames_in([shop / "bench", archive / "papers"]) == [shop / "bench", archive / "papers"]
    assert frames_in([shop / "bench"]) == [shop / "bench"]  # a frame is no archive, whatever lies in it
    assert (shop / "bench" / "empty" / "frame.toml").exists()
    assert frames_in([shop / "nowhere", archive / "broken" / "frame.toml"]) == [
        shop / "nowhere", archive / "broken" / "frame.toml",
    ]  # fmt: skip


def summed(folder: str, binding: int = 0, tight: int = 0, unsure: int = 0, p: float = 0.0, **more) -> Summary:
    counts = {"binding": binding, "tight": tight, "unsure": unsure, "free": 2}
    worst = Worst("c/b", p, p, 1.0 + p, "3 in")
    return Summary(folder, folder.upper(), "now", counts, worst, **{"suspects": 0, "doubts": (), **more})


def said(*summaries: Summary, refused: int = 0) -> str:
    console = Console(file=io.StringIO(), width=160)
    print_archive(summaries, refused, console)
    return console.file.getvalue()  # type: ignore[attr-defined]


def test_the_worst_first_is_by_verdict_then_by_chance_then_as_given() -> None:
    frames = [summed("a"), summed("b", tight=1, p=0.4), summed("c", unsure=3, p=0.45), summed("d", binding=1, p=0.6),
              summed("e", binding=1, p=0.9), summed("f")]  # fmt: skip
    assert [each.folder for each in worst_first(frames)] == ["e", "d", "b", "c", "a", "f"]
    assert "6 frames, by the worst block of each: 2 binding, 1 tight, 1 unsure, 2 free\n" in said(*frames)
    assert "7 frames, by the worst block of each: 2 binding, 1 tight, 1 unsure, 2 free, 1 can't be used\n" in said(
        *frames, refused=1
    )


def test_doubts_and_suspects_are_told_and_names_do_nothing() -> None:
    text = said(summed("[bold]my frame", unsure=1, suspects=5, doubts=("level reads as if its sign were turned",)))
    assert "[bold]my frame: level reads as if its sign were turned" in text
    assert "1 unsure, 2 free" in text
    row = next(line for line in text.splitlines() if "c/b" in line)
    assert row.split()[-3:] == ["3", "in", "5"]
    assert "framevis assess '[bold]my frame' --stage now" in text
    assert text.startswith("1 frame, by")
