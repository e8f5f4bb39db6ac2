"""Nominal bodies to draw: beams with their true section, rails, blocks and plates, as closed quad meshes.

Takes the frame's records, gives float64 vertices in machine coordinates (mm), faces and feature edges. Every
body is a profile (quads in the plane across the beam) pushed along s, so that caps share vertices with sides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import ceil, cos, radians

import numpy as np
from numpy.typing import NDArray

from framevis.frame import Block, Carriage, Floats, Guide, Rail, Section, locked

Ints = NDArray[np.int64]

STATION_STEP_MM = 30.0  # a bow between two stations this near is below what a picture shows
WEB_CELLS, FLANGE_CELLS = 8, 3
CORNER = cos(radians(60.0))  # an outline that turns by more than this is drawn as an edge
RAIL_OUTLINE = ((0.0, 1.0), (0.28, 1.0), (0.42, 0.82), (0.74, 0.82), (0.86, 1.0), (1.0, 1.0))
PLATE_MARGIN_MM = 3.0
SAME_FACE = 0.9  # blocks whose normals have at least this cosine share one slab


@dataclass(frozen=True, eq=False)
class Profile:
    """A section across s: points (P, 2) mm as (across, up), quads (Q, 4) anticlockwise seen against s."""

    points: Floats
    quads: Ints

    @cached_property
    def outline(self) -> Ints:
        """Directed edges (B, 2) that belong to one quad only, material on their left."""
        edges = np.concatenate([self.quads[:, [i, (i + 1) % 4]] for i in range(4)])
        both = {(int(a), int(b)) for a, b in edges}
        return np.array([(a, b) for a, b in edges if (int(b), int(a)) not in both], dtype=np.int64)

    @cached_property
    def corners(self) -> Ints:
        """Points (K,) where the outline turns sharply."""
        after = {int(a): int(b) for a, b in self.outline}
        step = {a: _unit(self.points[b] - self.points[a]) for a, b in after.items()}
        return np.array([b for a, b in after.items() if step[a] @ step[b] < CORNER], dtype=np.int64)


@dataclass(frozen=True, eq=False)
class Solid:
    """A closed body: vertices (N, 3) mm, faces (F, 4) outward, feature edges (E, 2)."""

    vertices: Floats
    faces: Ints
    edges: Ints

    def placed(self, origin_mm: Floats, axes: Floats) -> Solid:
        """The body given in axes (rows s, t, n) at an origin, in machine coordinates."""
        return Solid(locked(origin_mm + self.vertices @ axes), self.faces, self.edges)


def _unit(vector: Floats) -> Floats:
    return np.asarray(vector / np.linalg.norm(vector))


def lattice(across_mm: Sequence[float], up_mm: Sequence[float], filled: NDArray[np.bool_]) -> Profile:
    """A profile of the filled cells (across − 1, up − 1) between two rows of cuts."""
    rows = len(up_mm)
    i, j = np.nonzero(filled)
    low = i * rows + j
    quads = np.stack([low, low + rows, low + rows + 1, low + 1], axis=1)
    used, quads = np.unique(quads, return_inverse=True)
    grid = np.array([(t, n) for t in across_mm for n in up_mm], dtype=np.float64)
    return Profile(locked(grid[used]), np.asarray(quads, dtype=np.int64).reshape(-1, 4))


def beam_profile(section: Section) -> Profile:
    """The true section in the beam's own (t, n): mounting face at n = 0, n down to −depth."""
    half, depth, wall = section.width_mm / 2.0, section.depth_mm, section.wall_mm
    if section.shape == "plate":
        return lattice([-half, half], [-depth, 0.0], np.ones((1, 1), dtype=bool))
    web = [float(t) for t in np.linspace(wall - half, half - wall, WEB_CELLS + 1)]
    across = [-half, *web, half]
    up = [-depth, *(float(n) for n in np.linspace(wall - depth, -wall, FLANGE_CELLS)), 0.0]
    filled = np.zeros((len(across) - 1, len(up) - 1), dtype=bool)
    filled[[0, -1], :] = True
    if section.shape == "box" or section.mouth == "toward_rails":
        filled[:, 0] = True
    if section.shape == "box" or section.mouth == "away_from_rails":
        filled[:, -1] = True
    return lattice(across, up, filled)


def rail_profile(guide: Guide) -> Profile:
    """A rail's outline from its seat up: a foot, a waist and a head."""
    up = [guide.rail_height_mm * share for share, _ in RAIL_OUTLINE]
    plain = lattice([-1.0, 1.0], up, np.ones((1, len(up) - 1), dtype=bool))
    half = guide.rail_width_mm / 2.0 * np.tile([share for _, share in RAIL_OUTLINE], 2)
    return Profile(locked(np.column_stack([plain.points[:, 0] * half, plain.points[:, 1]])), plain.quads)


def block_profile(guide: Guide) -> Profile:
    """A saddle over the rail, its legs beside the rail's head, from its seat up."""
    half, top = guide.block_width_mm / 2.0, guide.block_height_mm
    inner = min(guide.rail_width_mm / 2.0 + 0.8, 0.9 * half)
    crown = min(guide.rail_height_mm + 0.8, 0.95 * top)
    foot = min(0.3 * guide.ball_height_mm, 0.5 * crown)
    filled = np.array([[True, True], [False, True], [True, True]])
    return lattice([-half, -inner, inner, half], [foot, crown, top], filled)


def extrude(profile: Profile, stations_mm: Floats) -> Solid:
    """The profile pushed along s through stations (S,), closed at both ends; vertices (S · P, 3) as (s, t, n)."""
    size, last = len(profile.points), len(stations_mm) - 1
    s = np.repeat(stations_mm, size)
    vertices = np.column_stack([s, np.tile(profile.points, (last + 1, 1))])
    a, b = profile.outline.T
    first = np.stack([a, b, b + size, a + size], axis=1)
    sides = (first[None] + size * np.arange(last)[:, None, None]).reshape(-1, 4)
    faces = np.concatenate([sides, profile.quads[:, ::-1], profile.quads + size * last])
    lines = np.stack([profile.corners, profile.corners + size], axis=1)
    along = (lines[None] + size * np.arange(last)[:, None, None]).reshape(-1, 2)
    edges = np.concatenate([along, profile.outline, profile.outline + size * last])
    return Solid(locked(vertices), faces, edges)


def stations_between(start_mm: float, end_mm: float) -> Floats:
    """Stations (S,) close enough to show a bow."""
    return np.linspace(start_mm, end_mm, max(10, ceil((end_mm - start_mm) / STATION_STEP_MM)) + 1)


def rail_ends(rail: Rail) -> tuple[float, float]:
    """From where to where (mm along the beam) a rail is drawn: half a pitch beyond its last screws, on its beam."""
    screws, half = rail.screw_stations_mm, rail.guide.screw_pitch_mm / 2.0
    if len(screws) == 0:
        return 0.0, rail.beam.length_mm
    return max(0.0, float(screws[0]) - half), min(rail.beam.length_mm, float(screws[-1]) + half)


@lru_cache(maxsize=64)
def block_solid(guide: Guide) -> Solid:
    """A block about its own centre, from the rail's seat up."""
    half = guide.block_length_mm / 2.0
    return extrude(block_profile(guide), np.array([-half, half]))


def plate_solid(carriage: Carriage, position_mm: float) -> Solid:
    """The plate over the tops of all blocks, machine coordinates; one slab for each face that blocks look from."""
    groups: list[list[Block]] = []
    for block in carriage.blocks:
        same = (group for group in groups if group[0].rail.axes[2] @ block.rail.axes[2] > SAME_FACE)
        group = next(same, None)
        if group is None:
            groups.append([block])
        else:
            group.append(block)
    return merged([_slab(carriage, group, position_mm) for group in groups])


def _slab(carriage: Carriage, blocks: Sequence[Block], position_mm: float) -> Solid:
    """A slab lying on the tops of blocks of one face, a small margin around them."""
    axes = blocks[0].rail.axes
    tops = np.concatenate([_top_corners(carriage, block, position_mm) for block in blocks]) @ axes.T
    low, high = tops.min(axis=0) - PLATE_MARGIN_MM, tops.max(axis=0) + PLATE_MARGIN_MM
    under = float(tops[:, 2].max())
    thick = float(np.clip(0.6 * blocks[0].rail.guide.block_height_mm, 6.0, 20.0))
    profile = lattice([float(low[1]), float(high[1])], [under, under + thick], np.ones((1, 1), dtype=bool))
    return extrude(profile, np.array([low[0], high[0]])).placed(np.zeros(3), axes)


def _top_corners(carriage: Carriage, block: Block, position_mm: float) -> Floats:
    """The four corners (4, 3) of a block's top, machine coordinates."""
    guide, (s, t, _) = block.rail.guide, block.rail.axes
    middle = block.rail.point(carriage.station(block, position_mm), guide.block_height_mm)
    half = np.array([guide.block_length_mm, guide.block_width_mm]) / 2.0
    return np.array([middle + i * half[0] * s + j * half[1] * t for i in (-1, 1) for j in (-1, 1)])


def merged(solids: Sequence[Solid]) -> Solid:
    """Several bodies as one."""
    shift = np.cumsum([0, *(len(solid.vertices) for solid in solids)])[:-1]
    return Solid(
        locked(np.concatenate([solid.vertices for solid in solids])),
        np.concatenate([solid.faces + by for solid, by in zip(solids, shift, strict=True)]),
        np.concatenate([solid.edges + by for solid, by in zip(solids, shift, strict=True)]),
    )
