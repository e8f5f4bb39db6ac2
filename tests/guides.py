"""The 15 mm four-point guide of the tests, as a record."""

from __future__ import annotations

from framevis.frame import Guide

# design example of a 15 mm four-point guide: light preload, blocks 32 mm wide
GUIDE_15 = Guide(
    name="15 mm four-point",
    arrangement="gothic",
    rail_width_mm=15.0,
    rail_height_mm=10.0,
    block_length_mm=43.0,
    block_width_mm=32.0,
    block_height_mm=16.0,
    ball_height_mm=6.5,
    ball_diameter_mm=3.175,
    balls_per_row=7,
    row_spacing_mm=14.4,
    row_gap_mm=0.0,
    contact_angle_deg=45.0,
    conformity=0.53,
    preload_interference_um=1.5,
    friction=0.004,
    seal_drag_n=1.0,
    screw="M3",
    screw_pitch_mm=40.0,
)
