"""An odd machine for the sheets: inches, a channel open upward, a beam that runs backward, rails on its side and under
it, an upright beam, every kind of sweep, signs turned."""

from __future__ import annotations

from pathlib import Path

from framekit import write_frame
from framevis.frame import Frame, PullSweep, Sweep
from framevis.reading.frame_file import read_frame

ODD = r"""
format = 1
name = "Odd <one> \"quoted\" & 桌"
length_unit = "in"
stages = ["as_found"]
[section.channel]
shape = "channel"
width = 5
depth = 2.5
wall = 0.25
mouth = "toward_rails"
material = "aluminium"
[section.box]
shape = "box"
width = 4
depth = 3
wall = 0.2
material = "aluminium"
[guide.g]
arrangement = "O"
rail_width = 0.6
rail_height = 0.6
block_length = 2.3
block_width = 1.4
block_height = 1.0
ball_height = 0.37
ball_diameter = 0.125
balls_per_row = 7
row_spacing = 0.57
row_gap = 0.24
seal_drag_n = 1.0
preload_interference_um = 1.0
screw_pitch = 2.4
[beam.a]
section = "channel"
start = [0,0,0]
end = [0,60,0]
normal = [0,0,1]
[beam.b]
section = "box"
start = [36,60,0]
end = [36,0,0]
normal = [0,0,1]
[beam.up]
section = "box"
start = [80,0,0]
end = [80,0,40]
normal = [0,-1,0]
[rail.a1]
beam = "a"
guide = "g"
seat = 2.35
first_screw = 1
[rail.b1]
beam = "b"
guide = "g"
seat = 0.0
first_screw = 1
[rail.bs]
beam = "b"
guide = "g"
seat = 0
first_screw = 1
face_deg = 90
[rail.bu]
beam = "b"
guide = "g"
seat = 0
first_screw = 1
face_deg = 180
[rail.u1]
beam = "up"
guide = "g"
seat = 1
first_screw = 1
[carriage.c]
travel = [5, 55]
blocks = [ {name="x", rail="a1", along=2}, {name="y", rail="a1", along=-2}, {name="z", rail="b1", along=0} ]
[carriage.s]
travel = [5, 55]
blocks = [ {name="x", rail="bs", along=2}, {name="y", rail="bs", along=-2} ]
[carriage.u]
travel = [5, 35]
blocks = [ {name="x", rail="u1", along=2}, {name="y", rail="u1", along=-2} ]
[carriage.under]
travel = [5, 55]
blocks = [ {name="x", rail="bu", along=2}, {name="y", rail="bu", along=-2} ]
[sweep.across]
kind="bridge"
rails=["a1","b1"]
direction="lateral"
absolute=true
u_thou=0.1
sign=-1
[sweep.acrossh]
kind="bridge"
rails=["a1","b1"]
direction="height"
u_thou=0.1
[sweep.face]
kind="indicator"
rail="a1"
direction="lateral"
reference="face"
u_thou=0.1
[sweep.faceh]
kind="indicator"
rail="a1"
direction="height"
reference="face"
u_thou=0.1
[sweep.wire]
kind="indicator"
rail="b1"
direction="lateral"
reference="wire"
sign=-1
u_thou=0.1
[sweep.st]
kind="indicator"
rail="b1"
direction="lateral"
reference="straightedge"
u_thou=0.1
[sweep.rev]
kind="indicator"
rail="b1"
direction="lateral"
reference="straightedge"
reversed=true
u_thou=0.1
[sweep.side]
kind="indicator"
rail="bs"
direction="lateral"
u_thou=0.1
[sweep.under]
kind="indicator"
rail="bu"
direction="height"
sign=-1
u_thou=0.1
[sweep.upr]
kind="indicator"
rail="u1"
direction="lateral"
u_thou=0.1
[sweep.la]
kind="level_along"
rail="a1"
base=6
u_in_per_ft=0.0003
[sweep.lbeam]
kind="level_across"
beam="a"
sign=-1
u_in_per_ft=0.0003
[sweep.lpair]
kind="level_across"
rails=["a1","b1"]
u_in_per_ft=0.0003
[sweep.mm]
kind="mouth"
beam="a"
depth_at=0.25
u_thou=0.5
[sweep.gp]
kind="gap"
touches=[["a1","left"],["a1","right"]]
feeler_at=["b1","left"]
u_thou=0.1
[sweep.pp]
kind="pull"
carriage="c"
u_lbf=0.1
"""


def odd_frame(folder: Path) -> Frame:
    return read_frame(write_frame(folder, ODD, {}))


def sweep_of(frame: Frame, name: str) -> Sweep | PullSweep:
    return next(each for each in (*frame.sweeps, *frame.pulls) if each.name == name)
