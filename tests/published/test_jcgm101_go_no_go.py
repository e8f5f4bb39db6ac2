"""GUM (JCGM 100) 4.3.7 and JCGM 101, 6.4.2: what lies somewhere in an interval is rectangular, u = width / √12.

A feeler that goes and one that doesn't say just that of a gap. The sweep's own uncertainty adds in squares.
"""

from __future__ import annotations

from math import sqrt
from pathlib import Path

import pytest

from framevis.reading.frame_file import read_frame
from framevis.reading.readings import read_stage

FRAME = """\
format = 1
name = "Feelers"
length_unit = "mm"
stages = ["as_found"]

[section.box]
shape = "box"
width = 120.0
depth = 60.0
wall = 5.0
material = "aluminium"

[guide.g15]
arrangement = "gothic"
rail_width = 15.0
rail_height = 10.0
block_length = 43.0
block_width = 32.0
block_height = 16.0
ball_height = 6.5
ball_diameter = 3.175
balls_per_row = 7
row_spacing = 14.4
row_gap = 0.0
contact_angle_deg = 45.0
conformity = 0.53
preload_interference_um = 1.5
friction = 0.004
seal_drag_n = 1.0
screw = "M3"
screw_pitch = 40.0

[beam.left]
section = "box"
start = [0, 0, 0]
end = [0, 1500, 0]
normal = [0, 0, 1]

[rail.outer]
beam = "left"
guide = "g15"
seat = 35.0
first_screw = 20.0

[rail.inner]
beam = "left"
guide = "g15"
seat = -35.0
first_screw = 20.0

[carriage.left]
travel = [80, 1420]
blocks = [
  { name = "a", rail = "outer", along = 45 },
  { name = "b", rail = "outer", along = -45 },
  { name = "c", rail = "inner", along = 45 },
  { name = "d", rail = "inner", along = -45 },
]

[sweep.tops]
kind = "gap"
touches = [["outer", "right"], ["inner", "left"]]
feeler_at = ["inner", "right"]
u_um = 3.0
"""
GO_NO_GO_UM = [(100.0, 50.0, 60.0), (500.0, 0.0, 50.0), (900.0, 30.0, 40.0), (1300.0, 40.0, 40.0)]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "frame.toml").write_text(FRAME, encoding="utf-8")
    inside = tmp_path / "readings" / "as_found"
    inside.mkdir(parents=True)
    lines = ["station_mm,go_um,no_go_um", *(f"{s:g},{go:g},{no_go:g}" for s, go, no_go in GO_NO_GO_UM)]
    (inside / "tops.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return tmp_path


def test_go_and_no_go_are_a_rectangular_distribution(folder):
    (tops,) = read_stage(read_frame(folder), "as_found").sweeps
    # of a rectangular distribution half its width over √3 is the standard deviation
    expected = [sqrt(3.0**2 + ((no_go - go) / 2.0 / sqrt(3.0)) ** 2) for _, go, no_go in GO_NO_GO_UM]
    assert tops.values == pytest.approx([(go + no_go) / 2.0 for _, go, no_go in GO_NO_GO_UM])
    assert tops.u == pytest.approx(expected)
