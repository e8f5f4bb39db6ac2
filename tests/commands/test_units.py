"""A frame in inches is answered in inches and thou: no length in mm or µm in what the commands say."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from inchkit import inch_frame

STOCK = "\n[shim_stock]\nthickness_um = [12.7, 25.4, 50.8]\ncount = [20, 20, 20]\nmax_layers = 4\n"
METRIC = re.compile(r"µm|\bum\b|(?<!N·)(?<![A-Za-z/·_])mm\b(?!/m)|_mm\b")


def said(*arguments: str | Path) -> str:
    command = [sys.executable, "-m", "framevis", *map(str, arguments), "--draws", "60"]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=300)
    assert done.returncode in (0, 1), done.stderr
    assert done.stderr == ""
    return done.stdout


@pytest.fixture(scope="module")
def frames(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """An inch frame that binds, with a later stage, and one of which much is open."""
    base = tmp_path_factory.mktemp("inches")
    whole = inch_frame(base / "whole", 1.0, more=STOCK)
    shutil.copytree(whole / "readings" / "now", whole / "readings" / "later")
    (whole / "readings" / "now" / "a_height.csv").write_text(_spoilt(whole / "readings" / "now" / "a_height.csv"))
    toml = (whole / "frame.toml").read_text()
    (whole / "frame.toml").write_text(re.sub(r"u_um = 3\.0\n", "", toml, count=1))  # a warning: u is assumed
    return {"whole": whole, "open": inch_frame(base / "open", 0.05, ("ab_lateral", "a_roll", "ab_roll"))}


def _spoilt(file: Path) -> str:
    """One reading far out, and the way back."""
    head, *rows = file.read_text().splitlines()
    station, value = rows[4].split(",")
    rows[4] = f"{station},{float(value) + 4.0}"
    return "\n".join([head, *rows, *rows[::-1]]) + "\n"


@pytest.mark.parametrize(
    ("which", "command"),
    [
        ("whole", ["assess", "--stage", "now"]),
        ("open", ["assess"]),
        ("whole", ["torque", "--stage", "now"]),
        ("whole", ["torque", "--stage", "later"]),
        ("whole", ["budget", "--stage", "now"]),
        ("open", ["budget"]),
        ("open", ["advise"]),
        ("whole", ["compare", "now", "later"]),
        ("whole", ["shims", "--stage", "later"]),
    ],
    ids=lambda each: each if isinstance(each, str) else " ".join(each),
)
def test_no_metric_length(frames: dict[str, Path], which: str, command: list[str]) -> None:
    name, *rest = command
    text = said(name, frames[which], *rest)
    assert "thou" in text or " in" in text
    assert [line for line in text.splitlines() if METRIC.search(line)] == []


def test_the_check_sees_metric_lengths() -> None:
    for text in ("worst at 40 mm", "± 3 µm", "11 um", "station_mm"):
        assert METRIC.search(text)
    for text in ("0.02 mm/m", "5 N·mm", "3 thou at 4.20 in"):
        assert not METRIC.search(text)
