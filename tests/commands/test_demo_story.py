"""The demo from as found to fit for torque: its plan, what was entered of it, and what the checks say afterwards."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

DEMO = Path(__file__).parents[2] / "demo_frames" / "glazing_table"


def run(*arguments: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "framevis", *map(str, arguments)], capture_output=True, text=True, timeout=300
    )


def entries_of(text: str) -> list[tuple[str, str, float]]:
    """Stage, spot and amount of every [[shim]] and [[push]]."""
    pattern = r'\[\[(?:shim|push)\]\]\nstage = "(.*)"\nspot = "(.*)"\n(?:thickness_um|push_um) = (.*)'
    return [(stage, spot, float(amount)) for stage, spot, amount in re.findall(pattern, text)]


def test_as_left_follows_the_plan_of_as_found() -> None:
    planned = run("shims", DEMO, "--stage", "as_found", "--entries", "as_left")
    assert planned.returncode == 0
    entered = entries_of((DEMO / "frame.toml").read_text(encoding="utf-8"))
    assert len(entered) > 40
    assert entries_of(planned.stdout) == entered


def test_the_correction_did_what_it_should() -> None:
    done = run("compare", DEMO, "as_found", "as_left")
    assert done.returncode == 0
    assert "The correction did what it should" in done.stdout


def test_it_is_fit_for_torque_only_as_left() -> None:
    before, after = run("torque", DEMO, "--stage", "as_found"), run("torque", DEMO, "--stage", "as_left")
    assert (before.returncode, after.returncode) == (1, 0)
    assert "NOT FIT for final torque" in before.stdout
    assert "FIT for final torque" in after.stdout
    assert "NOT FIT" not in after.stdout


def test_calibrated_finds_the_friction_that_was_put_in() -> None:
    done = run("assess", DEMO, "--stage", "as_found", "--calibrated", "--draws", 200)
    assert done.returncode == 0
    found = re.search(r"friction of guide mini15: (0\.00\d+) ± (0\.00\d+)", " ".join(done.stdout.split()))
    assert found is not None
    friction, u = map(float, found.groups())
    assert abs(friction - 0.005) < 3.0 * u
