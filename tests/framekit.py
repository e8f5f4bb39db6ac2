"""A small sample frame for tests, and a way to write a frame with its readings into a folder."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

SAMPLE_TOML = """\
format = 1
name = "Tile glazing table"
length_unit = "mm"                  # of every plain length in this file: mm | in
stages = ["as_found", "as_left"]

[limits]
tight_drag_ratio = 1.5
binding_drag_ratio = 3.0
static_safety = 2.0

[shim_stock]
thickness_um = [20, 40, 100]
count = [20, 20, 8]
max_layers = 3

[section.channel]
shape = "channel"
width = 120.0
depth = 60.0
wall = 5.0
mouth = "toward_rails"
material = "aluminium"

[guide.mini15]
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
section = "channel"
start = [0, 0, 0]
end = [0, 1500, 0]
normal = [0, 0, 1]

[rail.left_outer]
beam = "left"
guide = "mini15"
seat = -35.0
first_screw = 20.0
screws = 37

[rail.left_inner]
beam = "left"
guide = "mini15"
seat = 35.0
first_screw = 20.0

[carriage.left]
travel = [80, 1420]
mass_kg = 6.0
blocks = [
  { name = "front_outer", rail = "left_outer", along =  45 },
  { name = "rear_outer",  rail = "left_outer", along = -45 },
  { name = "front_inner", rail = "left_inner", along =  45 },
  { name = "rear_inner",  rail = "left_inner", along = -45 },
]
bolted_at = 700.0

[sweep.left_outer_lateral]
kind = "indicator"
rail = "left_outer"
direction = "lateral"
reference = "straightedge"
u_um = 2.0

[sweep.left_outer_height]
kind = "indicator"
rail = "left_outer"
direction = "height"
u_um = 2.0

[sweep.left_spacing]
kind = "bridge"
rails = ["left_outer", "left_inner"]
direction = "lateral"
u_um = 3.0

[sweep.left_tops]
kind = "gap"
touches = [["left_outer", "right"], ["left_outer", "left"]]
feeler_at = ["left_inner", "right"]
u_um = 5.0

[sweep.left_mouth]
kind = "mouth"
beam = "left"
depth_at = 5.0
u_um = 10.0

[sweep.left_along]
kind = "level_along"
rail = "left_inner"
base = 150.0
u_mm_per_m = 0.02

[sweep.left_across]
kind = "level_across"
rails = ["left_outer", "left_inner"]
instrument = "frame level"
u_mrad = 0.02

[[shim]]
stage = "as_left"
spot = "left/front_outer/left"
thickness_um = 40
"""

SAMPLE_READINGS: dict[str, dict[str, str]] = {
    "as_found": {
        "left_outer_lateral": "station_mm,reading_um\n100,3.0\n400,-4.5\n700,-6\n1000,-2.5\n1400,1\n",
        "left_outer_height": "station_mm;reading_um;reading_2_um;note\n100;0,5;1,0;start\n700;12,5;;\n1400;2;2,5;\n",
        "left_spacing": "station_in,reading_thou\n4,0.1\n28,-0.4\n55,0.2\n",
        "left_tops": "station_mm,go_um,no_go_um\n100,0,50\n700,50,60\n1400,30,40\n",
        "left_mouth": "station_mm,reading_mm\n100,0.00\n700,0.08\n1400,0.02\n100,0.01\n",
        "left_along": "# level stepped by its own base\nstation_mm,reading_mm_per_m\n100,0.02\n700,0.04\n1400,-0.02\n",
        "left_across": "station_mm,reading_arcsec,temperature_c\n100,4,20.5\n700,12,21.5\n1400,-8,\n",
    },
    "as_left": {"left_outer_lateral": "station_mm,reading_um\n100,1\n700,-2\n1400,0\n"},
}


def write_frame(
    folder: Path,
    toml_text: str = SAMPLE_TOML,
    readings: Mapping[str, Mapping[str, str]] | None = None,
) -> Path:
    """Write a frame into a folder; `readings`: stage → sweep → text of its CSV, those of the sample where None."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "frame.toml").write_text(toml_text, encoding="utf-8")
    for stage, sweeps in (SAMPLE_READINGS if readings is None else readings).items():
        inside = folder / "readings" / stage
        inside.mkdir(parents=True, exist_ok=True)
        for sweep, text in sweeps.items():
            (inside / f"{sweep}.csv").write_text(text, encoding="utf-8")
    return folder
