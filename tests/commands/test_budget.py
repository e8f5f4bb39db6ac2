"""`framevis budget` as a user runs it, on the demo."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

DEMO = Path(__file__).parents[2] / "demo_frames" / "glazing_table"


def run(*arguments: object) -> str:
    command = [sys.executable, "-m", "framevis", "budget", *map(str, arguments)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=300)
    assert (done.returncode, done.stderr) == (0, "")
    return done.stdout


def test_text_names_every_sweep_and_its_u() -> None:
    text = run(DEMO, "--stage", "as_found")
    rows = {line.split()[0]: line for line in text.splitlines() if line.count("–") + line.count("µm") >= 5}
    assert "2.0 µm" in rows["left_outer_lateral"]
    assert "0.020 mrad" in rows["left_outer_roll"]
    assert "1 suspect reading is set aside" in text
    assert "What dominates the risk's uncertainty" in text
    assert "Caution: power off" in text


def test_json_field_by_field() -> None:
    found = json.loads(run(DEMO, "--stage", "as_left", "--json"))
    assert list(found) == ["format", "frame", "stage", "sweeps", "risk"]
    sweep = next(each for each in found["sweeps"] if each["sweep"] == "left_spacing")
    assert sweep["u_stated_um"] == 2.0
    assert sweep["advice"] in ("fits", "less", "more")
    assert sweep["repeats"] > 10
    parts = {part["name"]: part for part in sweep["components"]}
    assert parts["resolution"]["u_um"] == pytest.approx(1.0 / 12.0**0.5)  # written down to 1 µm
    scatter = parts["repeatability"]["u_um"]
    assert sweep["u_found_um"] == pytest.approx(max(scatter, parts["resolution"]["u_um"]))
    level = next(each for each in found["sweeps"] if each["sweep"] == "left_outer_roll")
    assert level["u_stated_mrad"] == 0.02
    assert level["u_found_mrad"] is None
    for block in found["risk"]:
        takes = list(block["half_u_takes"].values())
        assert takes == sorted(takes, reverse=True)
        assert all(0.0 < share <= 0.75 for share in takes)  # half of u leaves a quarter of the variance at least
        assert max(takes, default=0.0) <= block["all_halved_take"] + 1e-9 <= 0.75 + 1e-6
