"""How long `framevis shims` takes, whole process, and how that grows with length (not part of the test run).

python -m pytest tests/benchmarks/test_plan_speed.py -s
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from time import perf_counter

import numpy as np
import pytest

from framevis.reading.frame_file import read_frame
from machines import GUIDE, Tree, measure, shape, write

MOST_S = 5.0  # for 1.5 m on two quiet cores
STOCK = "[shim_stock]\nthickness_um = [10, 20, 40, 100]\ncount = [60, 60, 20, 8]\nmax_layers = 3\n"
LENGTHS_MM = (750.0, 1500.0, 3000.0, 6000.0)
TWISTED = {
    ("twist", "left"): lambda x: 2.5 * np.clip(x - 0.45, 0.0, None) ** 1.5,
    ("own_roll", "outer"): lambda x: 0.25 * np.sin(5.0 * x),
    ("opening", "left"): lambda x: 0.5 + 0.1 * x,
}


def two_carriages(length: float) -> Tree:
    """A channel with two rails, 2 × 37 screws at 1.5 m, and two carriages of four blocks on them."""
    rail = {"beam": "left", "guide": "g", "first_screw": 20.0, "screws": int((length - 20.0) // 40.0)}
    ends = [(end, on, sign * 45.0) for on in ("outer", "inner") for end, sign in (("far", 1), ("near", -1))]
    blocks = [{"name": f"{end}_{on}", "rail": on, "along": along} for end, on, along in ends]
    line, level = {"kind": "indicator", "u_um": 1.5}, {"kind": "level_across", "instrument": "level", "u_mrad": 0.02}
    ridden = {"blocks": blocks, "mass_kg": 6.0, "bolted_at": 300.0}
    return {
        "format": 1, "name": "long beam", "length_unit": "mm", "stages": ["now"],
        "section": {"channel": {"shape": "channel", "width": 120.0, "depth": 60.0, "wall": 6.0,
                                "mouth": "toward_rails", "material": "aluminium"}},
        "guide": {"g": GUIDE},
        "beam": {"left": {"section": "channel", "start": [0.0, 0.0, 0.0], "end": [0.0, length, 0.0],
                          "normal": [0.0, 0.0, 1.0]}},
        "rail": {"outer": {**rail, "seat": 57.5}, "inner": {**rail, "seat": -57.5}},
        "carriage": {"one": {**ridden, "travel": [80.0, length - 260.0]},
                     "other": {**ridden, "travel": [260.0, length - 80.0]}},
        "sweep": {
            "lateral": {**line, "rail": "outer", "direction": "lateral"},
            "height": {**line, "rail": "outer", "direction": "height"},
            "outer_roll": {**level, "rail": "outer"}, "inner_roll": {**level, "rail": "inner"},
            "across": {**level, "rails": ["outer", "inner"]},
            "spacing": {"kind": "bridge", "rails": ["outer", "inner"], "direction": "lateral", "u_um": 1.5},
            "between": {"kind": "bridge", "rails": ["outer", "inner"], "direction": "height", "u_um": 1.5,
                        "absolute": True},
        },
    }  # fmt: skip


def machine(folder: Path, length: float) -> Path:
    tree = two_carriages(length)
    frame = read_frame(write(folder / "drawn", tree, {}))
    placed = write(folder / "machine", tree, measure(frame, shape(frame, TWISTED), 40.0, 1.0))
    with (placed / "frame.toml").open("a", encoding="utf-8") as file:
        file.write("\n" + STOCK)
    return placed


def seconds(folder: Path, *words: str) -> tuple[float, str]:
    command = [sys.executable, "-m", "framevis", *words, str(folder)]
    start = perf_counter()
    done = subprocess.run(command, capture_output=True, encoding="utf-8", check=True)
    return perf_counter() - start, done.stdout


def test_whole_process_and_growth(tmp_path: Path) -> None:
    took = {}
    for length in LENGTHS_MM:
        placed = machine(tmp_path / f"{length:.0f}", length)
        took[length], said = min((seconds(placed, "shims") for _ in range(2)), key=lambda each: each[0])
        assess, _ = seconds(placed, "assess")
        screws = int((length - 20.0) // 40.0)
        print(f"\n{length:.0f} mm, 2 × {screws} screws: {took[length]:.1f} s, of which assess {assess:.1f} s; {said.split('shim plan')[1].strip().splitlines()[0]}")  # noqa: E501  # fmt: skip
    exponent = np.polyfit(np.log(LENGTHS_MM), np.log([took[length] for length in LENGTHS_MM]), 1)[0]
    print(f"\ngrowth with length: exponent {exponent:.2f}; load {os.getloadavg()[0]:.1f}")
    assert took[1500.0] < MOST_S or pytest.fail(f"1.5 m takes {took[1500.0]:.1f} s")
