"""What temperature does to a beam with steel rails screwed to it: lengths that differ, and the bow that comes of it.

Takes a beam and its rails, gives length (µm) and curvature (1/mm) per kelvin. Every part is a set of rectangles across
the beam's axes; where nothing slips they share one plane of strain: Timoshenko's bimetal strip, for any section.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from framevis.frame import Beam, Floats, Rail, Section

RAIL_STEEL_GPA, RAIL_STEEL_ALPHA = 206.0, 11.7e-6  # 1/K: carbon steel 1020, Callister, table B.6; seen
REFERENCE_C = 20.0  # ISO 1


class Rectangle(NamedTuple):
    """A part's middle (t, n), its width along t and height along n, mm; modulus GPa, expansion 1/K."""

    t: float
    n: float
    width: float
    height: float
    e_gpa: float
    alpha: float


@dataclass(frozen=True)
class Warmth:
    """Of a beam with its rails, per kelvin: bow of the whole length upward and to the left where nothing slips (µm)."""

    bow_height_um: float
    bow_lateral_um: float

    @property
    def bow_um(self) -> float:
        return float(np.hypot(self.bow_height_um, self.bow_lateral_um))


def beam_rectangles(section: Section) -> list[Rectangle]:
    """A section in the axes of its mounting face's middle (n = 0 on the face, the section below it)."""
    w, d, wall = section.width_mm, section.depth_mm, section.wall_mm
    own = section.material.e_gpa, section.material.alpha_per_k
    if section.shape == "plate":
        return [Rectangle(0.0, -d / 2.0, w, d, *own)]
    if section.shape == "box":
        side = d - 2.0 * wall
        flat = [Rectangle(0.0, n, w, wall, *own) for n in (-wall / 2.0, wall / 2.0 - d)]
        return flat + [Rectangle(t, -d / 2.0, wall, side, *own) for t in ((w - wall) / 2.0, (wall - w) / 2.0)]
    up = section.mouth == "toward_rails"
    web, flange = (wall / 2.0 - d, (wall - d) / 2.0) if up else (-wall / 2.0, -(d + wall) / 2.0)
    legs = [Rectangle(t, flange, wall, d - wall, *own) for t in ((w - wall) / 2.0, (wall - w) / 2.0)]
    return [Rectangle(0.0, web, w, wall, *own), *legs]


def rail_rectangle(rail: Rail) -> Rectangle:
    """A rail as a steel bar on its face, in the beam's axes."""
    (t, n), (_, upward) = rail.seat_in_beam, rail.axes_in_beam
    guide, half = rail.guide, rail.guide.rail_height_mm / 2.0
    turned = abs(upward[0]) > 0.5
    sizes = (guide.rail_height_mm, guide.rail_width_mm) if turned else (guide.rail_width_mm, guide.rail_height_mm)
    return Rectangle(t + half * upward[0], n + half * upward[1], *sizes, RAIL_STEEL_GPA, RAIL_STEEL_ALPHA)


def curvature_per_k(parts: list[Rectangle]) -> Floats:
    """Curvature (1/mm per K) upward and to the left (2,) of parts that can't slip, one kelvin warmer, free of forces.

    Plane strain ε₀ + n·a + t·b of all parts; ∫σ = ∫σn = ∫σt = 0. A top that grows more (a > 0) lifts the
    middle of a span by a·L²/8.
    """
    stiff, push = np.zeros((3, 3)), np.zeros(3)
    for part in parts:
        ea = part.e_gpa * 1000.0 * part.width * part.height
        place = np.array([1.0, part.n, part.t])
        stiff += ea * np.outer(place, place)
        stiff[1, 1] += ea * part.height**2 / 12.0
        stiff[2, 2] += ea * part.width**2 / 12.0
        push += ea * part.alpha * place
    return np.asarray(np.linalg.solve(stiff, push)[1:])


def warmth_of(beam: Beam, rails: tuple[Rail, ...]) -> Warmth:
    """The bow of a beam with the rails that are screwed to it, where no screw lets a rail slip: an upper estimate."""
    upward, left = curvature_per_k([*beam_rectangles(beam.section), *map(rail_rectangle, rails)])
    span = 1000.0 * beam.length_mm**2 / 8.0
    return Warmth(float(upward * span), float(left * span))


def length_um_per_k(rail: Rail) -> float:
    """By how much the beam outgrows a rail between the rail's first and last screw, µm per K (negative: less)."""
    stations = rail.screw_stations_mm
    return 1000.0 * (rail.beam.section.material.alpha_per_k - RAIL_STEEL_ALPHA) * float(stations[-1] - stations[0])
