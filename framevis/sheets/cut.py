"""The view of a cut across the beams of one sweep, from its zero end with the face up: what lies where on the drawing.

Takes a sweep; gives places in the view, mm to the right and up. Axes are those of the sweep's first rail (or beam).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from framevis.frame import Beam, Floats, PullSweep, Rail
from framevis.pictures.geometry import Profile, beam_profile
from framevis.sheets.order import beam_of
from framevis.sheets.overview import rails_of
from framevis.sheets.stations import AnySweep

FAR = 0.9  # times the beams' width: a gap between beams wider than this is broken
BREAK = 0.5  # what is left of it


@dataclass(frozen=True, eq=False)
class Cut:
    """The view of a cut: origin and axes (2, 3) in the machine, and by how much each beam is moved across (mm)."""

    origin: Floats
    axes: Floats  # across to the RIGHT on paper, and up
    shift: dict[str, float] = field(default_factory=dict)
    breaks: tuple[float, ...] = ()  # places across at which a gap is broken

    def of(self, points: Floats, beam: Beam) -> Floats:
        """Points (N, 3) or (3,) mm of the machine that go with a beam, in the view."""
        seen = (points - self.origin) @ self.axes.T
        return np.asarray(seen + np.array([self.shift.get(beam.name, 0.0), 0.0]))


@dataclass(frozen=True, eq=False)
class Placed:
    """A rail in the cut. In the view: `at` its seat, `left` and `up` unit vectors of its own face, `top` a block's."""

    rail: Rail
    at: Floats
    left: Floats
    up: Floats

    @property
    def top(self) -> Floats:
        return self.place(0.0, self.rail.guide.block_height_mm)

    def place(self, left_mm: float, up_mm: float) -> Floats:
        return np.asarray(self.at + left_mm * self.left + up_mm * self.up)

    def points(self, across_up: Floats) -> Floats:
        """Points (N, 2) given to the left and up from the seat."""
        return np.asarray(self.at + across_up @ np.array([self.left, self.up]))


def beams_of(sweep: AnySweep) -> tuple[Beam, ...]:
    """The beams that are cut, the one along which stations count first."""
    if isinstance(sweep, PullSweep):
        named = [block.rail.beam for block in sweep.carriage.blocks]
    else:
        named = [beam_of(sweep), *(rail.beam for rail in sweep.rails)]
    return tuple({beam.name: beam for beam in named}.values())


def cut_of(sweep: AnySweep) -> Cut:
    """The view of a sweep's cut; wide gaps between its beams are broken."""
    beams, rails = beams_of(sweep), rails_of(sweep)
    _, t, n = rails[0].axes if rails else beams[0].axes
    plain = Cut(beams[0].point(beams[0].length_mm / 2.0), np.array([-t, n]))
    spans = sorted(((*span_of(plain, beam), beam.name) for beam in beams), key=lambda each: each[0])
    shift, breaks, moved = dict[str, float](), list[float](), 0.0
    for (low, high, name), (_, before, _) in zip(spans, [spans[0], *spans[:-1]], strict=True):
        room = low - before
        if room > FAR * (high - low):
            moved -= room - BREAK * (high - low)
            breaks.append(low + moved - BREAK * (high - low) / 2.0)
        shift[name] = moved
    return Cut(plain.origin, plain.axes, shift, tuple(breaks))


def span_of(cut: Cut, beam: Beam) -> tuple[float, float]:
    """From where to where a beam reaches across in the view."""
    across = cut.of(corners(beam), beam)[:, 0]
    return float(across.min()), float(across.max())


def corners(beam: Beam) -> Floats:
    """The corners (4, 3) of a beam's section half way along, machine coordinates."""
    half, depth = beam.section.width_mm / 2.0, beam.section.depth_mm
    middle = beam.length_mm / 2.0
    return np.array([beam.point(middle, side, up) for side in (-half, half) for up in (0.0, -depth)])


def placed(cut: Cut, rail: Rail) -> Placed:
    middle = rail.point(rail.beam.length_mm / 2.0)
    left, up = cut.axes @ rail.axes[1], cut.axes @ rail.axes[2]
    return Placed(rail, cut.of(middle, rail.beam), left, up)


def profile_points(cut: Cut, beam: Beam) -> tuple[Floats, Profile]:
    """A beam's true section in the view."""
    profile = beam_profile(beam.section)
    middle = beam.length_mm / 2.0
    corners = np.array([beam.point(middle, float(t), float(n)) for t, n in profile.points])
    return cut.of(corners, beam), profile


def block_corners(each: Placed) -> Floats:
    """The corners (4, 2) of a block in the view."""
    half, top = each.rail.guide.block_width_mm / 2.0, each.rail.guide.block_height_mm
    return np.array([each.place(side, up) for side in (-half, half) for up in (0.0, top)])
