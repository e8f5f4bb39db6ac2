"""`framevis shims` as a user runs it: text, JSON field by field, entries for frame.toml, what it says of bad input."""

from __future__ import annotations

import json
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from commands.test_assess import run
from framevis.rail_shims import known_at
from framevis.reading.frame_file import read_frame
from machines import Tree, changed, measure, portal, shape, write

STOCK = "[shim_stock]\nthickness_um = [10, 20, 40]\ncount = [10, 20, 20]\nmax_layers = 3\n"
DRAWS = ("--draws", 100)
OPENED = {("opening", "left"): lambda x: np.full_like(x, 3.0)}
TWISTED = {("own_roll", "a"): lambda x: 1.6 * np.clip(x - 0.4, 0.0, None)}


def half_portal() -> Tree:
    """One channel with two rails and the small carriage."""
    tree = changed(portal())
    tree["stages"] = ["now", "after"]
    del tree["beam"]["right"], tree["rail"]["c"], tree["carriage"]["wide"], tree["section"]["box"]
    tree["sweep"] = {name: sweep for name, sweep in tree["sweep"].items() if "c" not in name.split("_")[0]}
    tree["shim"] = [shim for shim in tree["shim"] if shim["spot"].startswith("small")]
    return tree


def machine(
    folder: Path, functions: Any = OPENED, more: str = STOCK, change: Callable[[Tree], object] = lambda tree: None
) -> Path:
    tree = half_portal()
    change(tree)
    frame = read_frame(write(folder / "drawn", tree, {}))
    shutil.rmtree(folder / "drawn")
    placed = write(folder / "machine", tree, measure(frame, shape(frame, functions), 50.0, 0.2))
    with (placed / "frame.toml").open("a", encoding="utf-8") as file:
        file.write("\n" + more)
    return placed


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return machine(tmp_path_factory.mktemp("opened"))


def planned(folder: Path, *more: object) -> dict[str, Any]:
    done = run("shims", folder, "--stage", "now", "--json", *DRAWS, *more)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.fixture(scope="module")
def plan(opened: Path) -> dict[str, Any]:
    return planned(opened)


def blocks(answer: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {block["name"]: block for block in answer["blocks"]}


def test_json_field_by_field(plan: dict[str, Any]) -> None:
    fixed = {"format", "stage", "spots", "pieces", "before", "after", "optimal", "expected"}
    assert fixed <= set(plan)
    assert (plan["format"], plan["stage"]) == (1, "now")
    assert isinstance(plan["optimal"], bool)
    for spot in plan["spots"]:
        assert set(spot) == {"spot", "layers_um", "total_um", "now_um"}
        assert spot["total_um"] == sum(spot["layers_um"])
        assert spot["layers_um"] == sorted(spot["layers_um"], reverse=True)
    assert plan["pieces"] == sum(len(spot["layers_um"]) for spot in plan["spots"]) > 0
    assert set(blocks(plan["before"])) == set(blocks(plan["after"])) == {"a+", "a-", "b+", "b-"}
    for block in (*plan["before"]["blocks"], *plan["after"]["blocks"]):
        assert {"name", "verdict", "p_tight", "p_binding", "drag_ratio_max", "carriage"} == set(block)
    for row in plan["expected"]:
        assert {"sweep", "station_mm"} <= set(row)
        assert {"reading_um", "u_um"} <= set(row) or {"reading_mrad", "u_mrad"} <= set(row)
    assert {row["sweep"] for row in plan["expected"]} == set(half_portal()["sweep"])


def test_blocks_of_an_opened_channel_are_shimmed_free(plan: dict[str, Any]) -> None:
    assert {block["verdict"] for block in plan["before"]["blocks"]} == {"binding"}
    assert {block["verdict"] for block in plan["after"]["blocks"]} == {"free"}
    assert all(spot["spot"].startswith("small/") for spot in plan["spots"])
    stock = {10.0: 10, 20.0: 20, 40.0: 20}
    used = {row["thickness_um"]: row["count"] for row in plan["used"]}
    left = {row["thickness_um"]: row["count"] for row in plan["left"]}
    assert {size: used[size] + left[size] for size in used} == stock


def test_before_is_what_assess_says(opened: Path, plan: dict[str, Any]) -> None:
    done = run("assess", opened, "--stage", "now", "--json", *DRAWS)
    (small,) = json.loads(done.stdout)["carriages"]
    for block in small["blocks"]:
        mine = blocks(plan["before"])[block["name"]]
        for key in ("verdict", "p_tight", "p_binding"):
            assert mine[key] == block[key]
        assert mine["drag_ratio_max"] == pytest.approx(max(block["drag_ratio"]), abs=1e-5)


def test_two_runs_print_the_same(opened: Path, plan: dict[str, Any]) -> None:
    assert planned(opened) == plan


def taken_out(text: str, entries: str) -> str:
    """frame.toml with what the entries' comments ask for: out_at beside what comes out."""
    for line in entries.splitlines():
        if line.startswith("# "):
            spot, todo = line[2:].split(": ", 1)
            assert todo == 'add out_at = "after" to its entries so far'
            assert f'spot = "{spot}"\n' in text
            text = text.replace(f'spot = "{spot}"\n', f'spot = "{spot}"\nout_at = "after"\n', 1)
    return text


def test_entries_enter_the_plan(opened: Path, plan: dict[str, Any], tmp_path: Path) -> None:
    """Block shims change no reading: the same readings with the entries pasted give the plan's after."""
    done = run("shims", opened, "--stage", "now", "--entries", "after", *DRAWS)
    assert done.returncode == 0, done.stderr
    folder = tmp_path / "done"
    shutil.copytree(opened, folder)
    text = taken_out((folder / "frame.toml").read_text(encoding="utf-8"), done.stdout)
    (folder / "frame.toml").write_text(text + "\n" + done.stdout, encoding="utf-8")
    shutil.copytree(folder / "readings" / "now", folder / "readings" / "after")
    assessed = run("assess", folder, "--stage", "after", "--json", *DRAWS)
    assert assessed.returncode == 0, assessed.stderr
    (small,) = json.loads(assessed.stdout)["carriages"]
    for block in small["blocks"]:
        promised = blocks(plan["after"])[block["name"]]
        assert block["verdict"] == promised["verdict"]
        assert block["p_tight"] == pytest.approx(promised["p_tight"], abs=1e-9)
        assert max(block["drag_ratio"]) == pytest.approx(promised["drag_ratio_max"], abs=1e-4)


def test_entries_of_rails_and_pushes_are_the_plan(tmp_path: Path) -> None:
    """Pasted in, the shims and pushes of the new stage are those of the plan, spot by spot."""

    def loosen(tree: Tree) -> None:
        tree["guide"] = {
            "g": tree["guide"]["g"] | {"screw_clearance_um": 60.0, "rail_width": 30.0, "block_width": 60.0}
        }
        tree["shim"] = []

    bowed = TWISTED | {("own_lateral", "b"): lambda x: 100.0 * x * (1.0 - x)}
    folder = machine(tmp_path, bowed, change=loosen)
    found = planned(folder)
    assert any("@" in spot["spot"] for spot in found["spots"])
    assert found["pushes"]
    done = run("shims", folder, "--stage", "now", "--entries", "after", *DRAWS)
    with (folder / "frame.toml").open("a", encoding="utf-8") as file:
        file.write("\n" + done.stdout)
    frame = read_frame(folder)
    fitted = {str(shim.spot): shim.thickness_um for shim in frame.shims_at("after")}
    assert fitted == {spot["spot"]: spot["total_um"] for spot in found["spots"]}
    pushed = {(push.rail, push.screw): push.push_um for push in frame.pushes_at("after")}
    assert pushed == {(push["rail"], push["screw"]): push["push_um"] for push in found["pushes"]}
    assert known_at(frame, "now") == {}
    assert ("push_lateral", "b") in known_at(frame, "after")
    said = run("shims", folder, "--stage", "now", *DRAWS).stdout
    assert "Rail b, screw by screw:" in said
    assert "push it screw by screw against an indicator" in said


def test_the_text_says_what_to_do(opened: Path, plan: dict[str, Any]) -> None:
    done = run("shims", opened, "--stage", "now", *DRAWS)
    assert done.returncode == 0, done.stderr
    said = " ".join(done.stdout.split())
    assert said.startswith("portal · stage now · shim plan Shims to fit: ")
    for heading in ("In the order of work", "Blocks before and after, the same draws", "Pieces after it:"):
        assert heading in said
    assert "one at a time, the carriage held; the screws of all its other blocks stay tight." in said
    assert "Measure every stack with a micrometer" in said
    assert "Caution: power off and locked out" in said
    assert "No reading of this stage's sweeps would notice" in said  # block shims
    for name in blocks(plan["after"]):
        assert f"small/{name}" in said


def test_only_and_anyway(opened: Path) -> None:
    rails = planned(opened, "--only", "rails")
    assert all("@" in spot["spot"] for spot in rails["spots"])
    assert planned(opened, "--only", "blocks", "--anyway")["spots"]


def test_all_free_says_leave_it(tmp_path: Path) -> None:
    folder = machine(tmp_path, {}, change=lambda tree: tree.update(shim=[]))
    done = run("shims", folder, "--stage", "now", *DRAWS)
    assert done.returncode == 0
    assert "Every block runs free: leave it as it is (--anyway plans for the least misfit)." in " ".join(
        done.stdout.split()
    )
    assert planned(folder)["spots"] == []
    assert run("shims", folder, "--stage", "now", "--entries", "after", *DRAWS).stdout.strip() == ""


# --- bad input


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (
            ("--stage", "nov"),
            'framevis: frame.toml, stages: there is no stage "nov" in frame.toml: did you mean "now"?',
        ),
        (
            ("--stage", "now", "--entries", "now"),
            "framevis: --entries: 'now' is no later stage: name one that is listed",
        ),
        (("--stage", "now", "--entries", "later"), "framevis: --entries: 'later' is no later stage: name one"),
        (("--stage", "now", "--entries", "after", "--json"), "framevis: --entries: goes not with --json: ask for one"),
        (("--only", "plates"), "framevis: "),
    ],
)
def test_bad_options_are_one_sentence(opened: Path, words: tuple[str, ...], sentence: str) -> None:
    done = run("shims", opened, *words, *DRAWS)
    assert done.returncode == 2
    assert done.stdout == ""
    assert sentence in done.stderr
    assert "Traceback" not in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1


def test_no_shim_stock_is_said(tmp_path: Path) -> None:
    done = run("shims", machine(tmp_path, more=""), "--stage", "now", *DRAWS)
    assert done.returncode == 2
    assert "there is no [shim_stock], and no guide has a screw_clearance_um" in done.stderr
    assert "thickness_um = [20, 40]" in done.stderr


# --- units, names, imports


def in_inches(tree: Tree) -> None:
    """The same machine in inches: every plain length."""
    tree["length_unit"] = "in"
    lengths = {"width", "depth", "wall", "rail_width", "rail_height", "block_length", "block_width", "block_height",
               "ball_height", "ball_diameter", "row_spacing", "screw_pitch", "seat", "first_screw", "along", "start",
               "end", "travel", "centre", "bolted_at", "base"}  # fmt: skip

    def turn(node: Any) -> None:
        for key, value in list(node.items()):
            if isinstance(value, dict):
                turn(value)
            elif key in lengths:
                node[key] = [v / 25.4 for v in value] if isinstance(value, list) else value / 25.4
            elif key == "blocks":
                for block in value:
                    turn(block)

    turn(tree)


def test_an_inch_frame_says_thou(tmp_path: Path) -> None:
    more = "[shim_stock]\nthickness_um = [25.4, 50.8]\nmax_layers = 3\n"
    done = run("shims", machine(tmp_path, more=more, change=in_inches), "--stage", "now", *DRAWS)
    assert done.returncode == 0, done.stderr
    assert "thou" in done.stdout
    assert "µm" not in done.stdout
    assert " mm" not in done.stdout


@pytest.mark.parametrize("name", ["[bold red]hall[/]", "<b>&amp;</b>", "[link=x]"])
def test_names_with_markup_are_printed_as_they_are(tmp_path: Path, name: str) -> None:
    plain = name.replace("/", "")  # a spot is CARRIAGE/BLOCK/PART

    def rename(tree: Tree) -> None:
        tree["name"], tree["shim"] = name, []
        tree["carriage"] = {plain: tree["carriage"]["small"]}

    done = run("shims", machine(tmp_path, change=rename), "--stage", "now", *DRAWS)
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[0].startswith(f"{name} · stage now")
    assert f"{plain}/a+" in done.stdout


def test_nothing_that_draws_is_loaded(opened: Path) -> None:
    import subprocess

    code = (
        "import sys; from framevis.cli import app; "
        f"app(['shims', {str(opened)!r}, '--stage', 'now', '--json', '--draws', '20'], result_action='return_value'); "
        "bad = {m.split('.')[0] for m in sys.modules} & {'vtkmodules', 'vtk', 'pyvista', 'matplotlib', 'trimesh'}; "
        "print(sorted(bad), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, encoding="utf-8", timeout=120)
    assert done.returncode == 0, done.stderr
    assert done.stderr.strip().splitlines()[-1] == "[]"
