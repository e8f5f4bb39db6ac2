"""A cut across the beams of one sweep, seen from the zero end with the face up: where the instrument goes, and plus.

Takes a frame and a sweep; gives SVG. Left is left. Beams far apart are drawn nearer to each other, with a break.
"""

from __future__ import annotations

import numpy as np

from framevis.frame import Floats, Frame
from framevis.pictures.geometry import Profile, block_profile, rail_profile
from framevis.sheets.cut import Placed, beams_of, block_corners, cut_of, placed, profile_points
from framevis.sheets.instruments import instrument
from framevis.sheets.overview import rails_of
from framevis.sheets.paper import Paper, svg
from framevis.sheets.stations import AnySweep
from framevis.sheets.words import plus, title

WIDTH, HEIGHT, MARGIN = 88.0, 62.0, 3.5


def cross_section(frame: Frame, sweep: AnySweep) -> str:
    """The cut with the instrument of the sweep in it."""
    cut = cut_of(sweep)
    beams, own = beams_of(sweep), [placed(cut, rail) for rail in rails_of(sweep)]
    beside = [placed(cut, rail) for rail in frame.rails if rail.beam in beams]
    solid = [profile_points(cut, beam) for beam in beams]
    held = instrument(sweep, cut, own)
    metal = np.concatenate([points for points, _ in solid])
    around = [block_corners(each) for each in (*beside, *own)]
    bodies = np.concatenate([metal, *around])
    paper = Paper.fitted(np.concatenate([bodies, held.reach(np.inf)]), WIDTH, HEIGHT, MARGIN)
    paper = Paper.fitted(np.concatenate([bodies, held.reach(0.85 * paper.scale)]), WIDTH, HEIGHT, MARGIN)
    parts = [_filled(paper, points, profile, "metal") for points, profile in solid]
    parts += [_body(paper, each, rail_profile(each.rail.guide), "rail") for each in beside]
    parts += [_body(paper, each, block_profile(each.rail.guide), "block") for each in own]
    parts += [_break(paper, at, metal) for at in cut.breaks]
    parts += held.drawn(paper)
    parts += [
        paper.letter(each.place(0.0, -1.1 * each.rail.guide.rail_height_mm), letter)
        for each, letter in zip(own, "AB", strict=False)
    ]
    parts += [paper.corner("left", True), paper.corner("right", False)]
    says = f"Cut across, seen from 0 with the face up. {title(sweep)}. {plus(frame, sweep)}"
    return svg(WIDTH, HEIGHT, says, "".join(parts))


def _body(paper: Paper, each: Placed, profile: Profile, style: str) -> str:
    return _filled(paper, each.points(profile.points), profile, style)


def _filled(paper: Paper, points: Floats, profile: Profile, style: str) -> str:
    """A section: its cells filled, its outline drawn."""
    inside = "".join(paper.outline(points[quad], f"{style} cell") for quad in profile.quads)
    return inside + paper.lines([points[list(pair)] for pair in profile.outline], f"{style} rim")


def _break(paper: Paper, across: float, points: Floats) -> str:
    """Two wavering lines where something is left out."""
    low, high = float(points[:, 1].min()), float(points[:, 1].max())
    up = np.linspace(high + 0.15 * (high - low), low - 0.15 * (high - low), 7)
    wave = 0.8 / paper.scale * np.array([0.0, 1.0, -1.0, 1.0, -1.0, 1.0, 0.0])
    lines = [np.column_stack([across + by / paper.scale + wave, up]) for by in (-0.7, 0.7)]
    return paper.lines(lines, "thin")
