"""Generic guides by size and arrangement: to begin with, until the maker's data sheet is at hand.

Gives lengths in mm. Proportions that are usual for a rail of that nominal width, chosen for framevis and rounded:
no maker's product. Gothic guides have the low miniature build, O and X the tall one with two rows a side.
"""

from __future__ import annotations

from dataclasses import dataclass

from framevis.frame import Arrangement

SIZES = (9, 12, 15, 20, 25)  # nominal rail width, mm
ARRANGEMENTS: tuple[Arrangement, ...] = ("gothic", "O", "X")


@dataclass(frozen=True)
class GenericGuide:
    """Dimensions (mm) of a rail and its block, the screws of the rail, and what a block drags by its seals (N)."""

    arrangement: Arrangement
    rail_width: float
    rail_height: float
    block_length: float
    block_width: float
    block_height: float
    ball_height: float
    ball_diameter: float
    balls_per_row: int
    row_spacing: float
    row_gap: float
    preload_interference_um: float
    seal_drag_n: float
    screw: str
    screw_pitch: float


# nominal size: diameter, loaded balls in a row, preload interference µm, seal drag N
BALLS = {
    9: (1.6, 11, 1.0, 0.5),
    12: (2.4, 8, 1.0, 0.7),
    15: (3.2, 7, 1.5, 1.0),
    20: (4.0, 9, 2.0, 2.0),
    25: (4.8, 9, 2.5, 3.0),
}
# nominal size: rail height, block length, width, height, ball height
LOW = {
    9: (6, 30, 20, 10, 4),
    12: (8, 35, 27, 13, 5.5),
    15: (10, 43, 32, 16, 6.5),
    20: (13, 60, 42, 22, 8.5),
    25: (16, 70, 52, 27, 10.5),
}
TALL = {
    9: (9, 32, 22, 14, 5.5),
    12: (12, 44, 28, 19, 7.5),
    15: (15, 58, 35, 25, 9.5),
    20: (18, 74, 45, 31, 12),
    25: (22, 84, 52, 38, 14.5),
}
LOW_SCREWS = {9: ("M3", 20.0), 12: ("M3", 25.0), 15: ("M3", 40.0), 20: ("M5", 60.0), 25: ("M6", 60.0)}
TALL_SCREWS = {**LOW_SCREWS, 15: ("M4", 60.0)}


def usual_arrangement(size: int) -> Arrangement:
    """Small rails are mostly gothic, larger ones mostly O."""
    return "gothic" if size <= 15 else "O"


def generic(size: int, arrangement: Arrangement) -> GenericGuide:
    """The generic guide of a nominal size."""
    is_low = arrangement == "gothic"
    rail_height, block_length, block_width, block_height, ball_height = (LOW if is_low else TALL)[size]
    ball, balls, interference, seal = BALLS[size]
    screw, pitch = (LOW_SCREWS if is_low else TALL_SCREWS)[size]
    return GenericGuide(
        arrangement=arrangement,
        rail_width=float(size),
        rail_height=float(rail_height),
        block_length=float(block_length),
        block_width=float(block_width),
        block_height=float(block_height),
        ball_height=float(ball_height),
        ball_diameter=ball,
        balls_per_row=balls,
        row_spacing=round(0.96 * size, 1),
        row_gap=0.0 if is_low else round(0.4 * size, 1),
        preload_interference_um=interference,
        seal_drag_n=seal,
        screw=screw,
        screw_pitch=pitch,
    )
