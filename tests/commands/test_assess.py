"""`framevis assess` as a user runs it, on the demo frame: its story, its JSON, what it says of bad input."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

DEMO = Path(__file__).parents[2] / "demo_frames" / "glazing_table"


def run(*words: object, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "framevis", *map(str, words)]
    environment = os.environ | {"PYTHONIOENCODING": "utf-8"}
    return subprocess.run(command, capture_output=True, encoding="utf-8", cwd=cwd, env=environment, timeout=120)


def assessed(stage: str, *more: object) -> dict[str, Any]:
    done = run("assess", DEMO, "--stage", stage, "--json", *more)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.fixture(scope="module")
def as_found() -> dict[str, Any]:
    return assessed("as_found")


@pytest.fixture(scope="module")
def as_left() -> dict[str, Any]:
    return assessed("as_left")


def carriage(answer: dict[str, Any], name: str) -> dict[str, Any]:
    return next(carriage for carriage in answer["carriages"] if carriage["name"] == name)


def test_the_left_carriage_binds_at_the_far_end_and_runs_free_at_the_near_end(as_found) -> None:
    left = carriage(as_found, "left")
    station = np.array(left["stations_mm"])
    for block in left["blocks"]:
        ratio = np.array(block["drag_ratio"])
        assert block["verdict"] == "binding"
        assert ratio[station > 1300.0].min() > 2.5
        assert np.array(block["drag_ratio_p95"])[station < 500.0].max() < 1.5
        assert block["worst_station_mm"] > 1300.0


def test_the_bowed_rail_makes_the_right_carriage_tight_in_the_middle(as_found) -> None:
    right = carriage(as_found, "right")
    assert {block["verdict"] for block in right["blocks"]} == {"tight"}
    assert all(500.0 < block["worst_station_mm"] < 1000.0 for block in right["blocks"])
    assert {block["verdict"] for block in carriage(as_found, "head")["blocks"]} == {"free"}


def test_as_left_is_better(as_found, as_left) -> None:
    for name in ("left", "right"):
        before, after = carriage(as_found, name)["blocks"], carriage(as_left, name)["blocks"]
        for a, b in zip(before, after, strict=True):
            assert max(b["drag_ratio"]) < 0.7 * max(a["drag_ratio"])
            assert b["p_tight"] < 0.5
            assert b["p_binding"] == 0.0


def test_the_bad_reading_is_named(as_found, as_left) -> None:
    suspects = [row for row in as_found["residuals"] if row["suspect"]]
    assert [(row["sweep"], row["station_mm"]) for row in suspects] == [("left_outer_lateral", 650.0)]
    assert any("left_outer_lateral at 650 mm" in text for text in as_found["warnings"])
    assert not any(row["suspect"] for row in as_left["residuals"])


def test_the_json_has_every_field_of_the_format(as_found) -> None:
    assert {key: as_found[key] for key in ("format", "frame", "stage", "draws", "seed")} == {
        "format": 1, "frame": "Tile glazing table", "stage": "as_found", "draws": 1000, "seed": 0,
    }  # fmt: skip
    for each in as_found["carriages"]:
        count = len(each["stations_mm"])
        for block in each["blocks"]:
            assert block["verdict"] in ("binding", "tight", "unsure", "free")
            assert 0.0 <= block["p_binding"] <= block["p_tight"] <= 1.0
            assert block["worst_station_mm"] in each["stations_mm"]
            assert set(block["misfit"]) == {"lateral_um", "height_um", "roll_mrad", "pitch_mrad", "yaw_mrad"}
            arrays = [*block["misfit"].values(), *(block[key] for key in (
                "drag_n", "drag_ratio", "drag_ratio_p95", "peak_pressure_mpa", "static_safety"))]  # fmt: skip
            assert all(len(array) == count for array in arrays)
    for rail in as_found["deviations"]:
        keys = ("lateral_um", "lateral_u_um", "height_um", "height_u_um", "roll_mrad", "roll_u_mrad")
        assert all(len(rail[key]) == len(rail["stations_mm"]) for key in keys)
        line = np.polyfit(rail["stations_mm"], rail["lateral_um"], 1)
        np.testing.assert_allclose(line, 0.0, atol=1e-6)
    for beam in as_found["beams"]:
        keys = ("bow_lateral_um", "bow_height_um", "twist_mrad", "opening_mrad")
        assert all(len(beam[key]) == len(beam["stations_mm"]) for key in keys)
    opening = {beam["beam"]: max(beam["opening_mrad"]) for beam in as_found["beams"]}
    assert opening["left"] == pytest.approx(2.75, abs=0.2)  # what the invented shape has
    assert opening["right"] < 0.3
    assert set(as_found["residuals"][0]) >= {"sweep", "station_mm", "reading_um", "standardised", "suspect"}
    for assumed in as_found["assumptions"]:
        assert set(assumed) == {"assumed", "errs", "why", "checked"}
        assert assumed["errs"] in ("safe side", "unsafe side", "either way")
        assert isinstance(assumed["checked"], bool)
        assert assumed["why"].endswith(".")


def test_what_is_assumed_is_of_this_frame_and_stage(as_found, as_left) -> None:
    """The demo's seats are given and all of it is measured; only as left it lies on shims."""
    found, left = ({each["assumed"] for each in answer["assumptions"]} for answer in (as_found, as_left))
    assert {"rigid plate, blocks and beams", "slow, steady motion", "no lubricant film", "flat flanges"} <= found
    assert not found & {"rigid seats", "blocks at their drawn spacing", "ordinary tolerances where unmeasured"}
    assert left - found == {"rails down on all their shims"}


def test_seed_and_draws_are_as_asked(as_found) -> None:
    same, other = assessed("as_found", "--draws", 50, "--seed", 7), assessed("as_found", "--draws", 50, "--seed", 8)
    assert (same["draws"], same["seed"]) == (50, 7)
    assert same == assessed("as_found", "--draws", 50, "--seed", 7)
    blocks = [carriage(answer, "left")["blocks"][0] for answer in (same, other, as_found)]
    assert blocks[0]["drag_ratio_p95"] != blocks[1]["drag_ratio_p95"]
    assert blocks[0]["drag_n"] == blocks[2]["drag_n"]  # the mean doesn't depend on draws


def test_the_text_says_verdicts_reasons_causes_and_cautions() -> None:
    done = run("assess", DEMO, "--stage", "as_found")
    assert done.returncode == 0
    text = " ".join(done.stdout.split())
    assert "Carriage left: 4 of 4 blocks bind beyond" in text
    assert "mrad against its pair far_inner" in text
    assert "across the block's width, worst at 1420 mm" in text
    assert "left beam's channel has opened 2.7 mrad under the block" in text
    assert "EXY" in text  # ISO 230-1 name of a lateral error motion along Y
    assert "left_outer_lateral at 650 mm (line 8)" in text
    assert "Assumed, on the safe side (drag too high): rigid plate, blocks and beams." in text
    assert "Assumed, on the unsafe side (too low): no waves as short as screws stand apart; slow," in text
    assert text.count("Caution: power off and locked out") == 1
    assert "\x1b" not in done.stdout  # no colours where nobody looks


def test_the_latest_stage_is_the_default() -> None:
    assert "stage as_left" in run("assess", DEMO).stdout.splitlines()[0]


def test_a_command_that_draws_nothing_never_loads_vtk() -> None:
    program = (
        "import sys; sys.argv = ['framevis', 'assess', sys.argv[1], '--json', '--draws', '20']\n"
        "from framevis.cli import main\n"
        "try: main()\n"
        "except SystemExit: pass\n"
        "loaded = {name.split('.')[0] for name in sys.modules}\n"
        "print(sorted(loaded & {'vtk', 'vtkmodules', 'pyvista', 'matplotlib', 'trimesh'}), file=sys.stderr)\n"
    )
    done = subprocess.run([sys.executable, "-c", program, str(DEMO)], capture_output=True, text=True, timeout=120)
    assert json.loads(done.stdout)["draws"] == 20
    assert done.stderr.strip() == "[]"


BAD: list[tuple[str, tuple[object, ...]]] = [
    ('there is no folder ".*nowhere"', ("assess", "nowhere")),
    ('there is no stage "before"', ("assess", DEMO, "--stage", "before")),
    ('there is no stage ""', ("assess", DEMO, "--stage", "")),
    ("only a GIF", ("picture", DEMO, "a.png", "--travel", "left")),
    ("--draws", ("assess", DEMO, "--draws", "many")),
    ("--draws", ("assess", DEMO, "--draws", "0")),
    ("Unknown command", ("assay", DEMO)),
    ("FOLDER", ("assess",)),
    ("is not a size", ("picture", DEMO, "a.png", "--size", "wide")),
    ("out of range", ("picture", DEMO, "a.png", "--size", "20x20")),
    ("is not CARRIAGE=POSITION", ("picture", DEMO, "a.png", "--at", "left")),
    ('did you mean "left"', ("picture", DEMO, "a.png", "--at", "lift=300")),
    ("placed twice", ("picture", DEMO, "a.png", "--at", "left=300", "--at", "left=400")),
    ("--cause", ("picture", DEMO, "a.png", "--cause", "gremlins")),
    ("--magnify", ("picture", DEMO, "a.png", "--magnify", "-3")),
    ("--magnify", ("view", DEMO, "--magnify", "3001")),
    ("--magnify", ("export", DEMO, "a.glb", "--magnify", "nan")),
    (r"\.png", ("picture", DEMO, "a.jpg")),
    ('did you mean "left"', ("picture", DEMO, "a.gif", "--travel", "lift")),
    ('there is no stage "before"', ("page", DEMO, "a.html", "--stage", "before")),
    (r"\.html", ("page", DEMO, "a.txt")),
    (r"\.glb", ("export", DEMO, "a.obj")),
    ("no/such", ("export", DEMO, "no/such/a.csv")),
]


@pytest.mark.parametrize(("sentence", "words"), BAD)
def test_bad_input_ends_with_2_and_a_sentence(sentence: str, words: tuple[object, ...], tmp_path: Path) -> None:
    done = run(*words, cwd=tmp_path)
    assert done.returncode == 2
    assert done.stdout == ""
    assert re.search(sentence, done.stderr)
    assert "Traceback" not in done.stderr
    assert all(line.startswith("framevis: ") for line in done.stderr.splitlines())
    assert list(tmp_path.iterdir()) == []


def test_all_errors_of_a_file_come_at_once(tmp_path: Path) -> None:
    shutil.copytree(DEMO, tmp_path / "frame")
    toml = tmp_path / "frame" / "frame.toml"
    text = toml.read_text().replace("conformity = 0.53", "conformity = 0.4")
    toml.write_text(text.replace('beam = "left"', 'beam = "lefd"', 1))
    done = run("assess", tmp_path / "frame")
    assert done.returncode == 2
    lines = done.stderr.splitlines()
    assert any("guide.mini15.conformity: is 0.4" in line and "line" in line for line in lines)
    assert any('did you mean "left"' in line for line in lines)


def test_all_errors_of_all_readings_come_at_once(tmp_path: Path) -> None:
    shutil.copytree(DEMO, tmp_path / "frame")
    folder = tmp_path / "frame" / "readings" / "as_found"
    (folder / "left_spacing.csv").write_text("station_mm,reading_um\n50,0,03\n")
    (folder / "left_outer_roll.csv").write_text("station_mm,reading_um\n50,1\n")
    done = run("assess", tmp_path / "frame", "--stage", "as_found")
    assert done.returncode == 2
    assert "readings/as_found/left_spacing.csv, line 2" in done.stderr
    assert "separators must be semicolons" in done.stderr
    assert "readings/as_found/left_outer_roll.csv, line 1" in done.stderr


def test_inch_frames_answer_in_inches_and_thou(tmp_path: Path) -> None:
    from framekit import SAMPLE_TOML, write_frame

    text = SAMPLE_TOML.replace('length_unit = "mm" ', 'length_unit = "in" ')
    lengths = ("width", "depth", "wall", "rail_width", "rail_height", "block_length", "block_width", "block_height",
               "ball_height", "ball_diameter", "row_spacing", "screw_pitch", "seat", "first_screw", "bolted_at",
               "depth_at", "base")  # fmt: skip
    rows = []
    for row in text.splitlines():
        key, equals, value = row.partition(" = ")
        if key.strip() in lengths and equals:
            row = f"{key} = {float(value.split('#')[0]) / 25.4!r}"
        rows.append(row)
    text = "\n".join(rows).replace("[0, 1500, 0]", "[0, 59.0551, 0]").replace("[80, 1420]", "[3.2, 55.8]")
    text = text.replace("along =  45", "along =  1.77").replace("along = -45", "along = -1.77")
    folder = write_frame(tmp_path / "inches", text)
    done = run("assess", folder, "--stage", "as_found", "--draws", 20)
    assert done.returncode == 0, done.stderr
    assert " in" in done.stdout
    assert "thou" in done.stdout
    assert " mm " not in done.stdout


@pytest.mark.parametrize(
    ("words", "files"),
    [
        (("picture", "a.png", "--size", "400x300", "--at", "left=300"), {"a.png"}),
        (("page", "a.html", "--draws", "50"), {"a.html"}),
        (("export", "a.csv", "--draws", "50"), {"a.csv", "a_blocks.csv"}),
        (("export", "a.glb", "--draws", "50"), {"a.glb"}),
    ],
)
def test_commands_that_write_say_where(words: tuple[str, ...], files: set[str], tmp_path: Path) -> None:
    done = run(words[0], DEMO, *words[1:], cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.strip() == words[1]
    assert {path.name for path in tmp_path.iterdir()} == files


def test_view_writes_a_picture_where_there_is_no_screen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    done = run("view", DEMO, "--stage", "as_found", "--size", "500x400", cwd=tmp_path)
    assert done.returncode == 0
    assert f"a picture was written instead: {tmp_path / 'glazing_table_as_found.png'}" in done.stdout
    assert (tmp_path / "glazing_table_as_found.png").stat().st_size > 5000


def test_a_full_disk_is_said_and_a_reader_that_leaves_is_not(tmp_path: Path) -> None:
    words = [sys.executable, "-m", "framevis", "assess", str(DEMO), "--draws", "20", "--json"]
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(words, stdout=full, stderr=subprocess.PIPE, encoding="utf-8", timeout=120)
    assert done.returncode == 2
    assert done.stderr.splitlines() == [done.stderr.strip()]
    assert "No space left on device" in done.stderr
    gone = subprocess.run(f"{' '.join(words)} | head -c 10", shell=True, capture_output=True, text=True, timeout=120)
    assert (gone.stdout, gone.stderr) == ('{"format":', "")


def test_a_console_without_our_signs_still_gets_the_words() -> None:
    words = [sys.executable, "-m", "framevis", "assess", str(DEMO), "--draws", "20"]
    environment = os.environ | {"PYTHONIOENCODING": "ascii"}
    done = subprocess.run(words, capture_output=True, encoding="ascii", env=environment, timeout=120)
    assert done.returncode == 0
    assert "Carriage left" in done.stdout


def test_where_safety_fails_no_stretch_is_called_free(tmp_path: Path) -> None:
    shutil.copytree(DEMO, tmp_path / "frame")
    toml = tmp_path / "frame" / "frame.toml"
    toml.write_text(toml.read_text().replace("static_safety = 2.0", "static_safety = 21"))
    text = " ".join(run("assess", tmp_path / "frame", "--stage", "as_left", "--draws", 200).stdout.split())
    assert "free up to 1420 mm" not in text
    assert "overloaded rather than out of line: static safety" in text
