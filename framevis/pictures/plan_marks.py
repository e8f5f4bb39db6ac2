"""Where the pieces of a plan go, as bodies: a plate under the rail's edge or on the block's top, an arrow for a push.

Takes a study as it is before the plan and where the carriages stand. A mark rides on its rail or block; it is as high
as its shim is thick, magnified like everything else: shown = nominal + magnification × (thickness + Σ displacement).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from framevis.deviations import CAUSES, Cause
from framevis.frame import BlockSpot, Carriage, Floats, Frame, Part, Rail, RailSpot
from framevis.pictures.geometry import Ints
from framevis.pictures.look import Colour
from framevis.pictures.riding import on_rail
from framevis.pictures.travel import beam_offset
from framevis.pictures.warp import Displacement, StudyLike, added, block_motion, carry_of
from framevis.plan import Fitting, Plan, RailPush
from framevis.planning.plan_runs import thinner

Kind = Literal["fit", "out", "push"]
MARK_COLOUR: Mapping[Kind, Colour] = {"fit": (213, 94, 0), "out": (252, 252, 250), "push": (0, 98, 74)}
MARK_WORD: Mapping[Kind, str] = {"fit": "shims to fit", "out": "shims to take out", "push": "rail to push"}
LONG = 0.8  # of the screws' pitch, or of the block's length
RAIL_TONGUE = (0.35, 1.15)  # of the rail's width, from its middle: where a plate shows beside it
BLOCK_TONGUE = (0.4, 0.68)  # of the block's width
SHAFT, HEAD = 0.12, 0.32  # half widths of an arrow, of the pitch
TIP = 0.6  # of the rail's width, for an arrow's head
NEARER = 4.0  # block heights by which marks are drawn nearer, so that neither rail nor plate hides them

BOX_FACES: Ints = np.array([[0, 3, 2, 1], [4, 5, 6, 7], [0, 1, 5, 4], [1, 2, 6, 5], [2, 3, 7, 6], [3, 0, 4, 7]])
BOX_EDGES: Ints = np.array(
    [[k + i, k + (i + 1) % 4] for k in (0, 4) for i in range(4)] + [[i, i + 4] for i in range(4)]
)
ARROW_FACES: Ints = np.array([[3, 2, 1, 0], [7, 5, 6, 4]])
ARROW_EDGES: Ints = np.array([[0, 1], [1, 4], [4, 6], [6, 5], [5, 2], [2, 3], [3, 0]])


@dataclass(frozen=True, eq=False)
class Shape:
    """A mark in its rail's axes (s, t', n'): places (N, 3) mm and what is added to them magnified, (N, 3) µm."""

    kind: Kind
    local_mm: Floats
    grows_um: Floats
    faces: Ints
    edges: Ints


@dataclass(frozen=True, eq=False)
class Mark:
    """A mark where it stands: vertices (N, 3) mm as drawn, `grows_um` (N, 3), displacement of each cause (N, 3) µm."""

    work: Fitting | RailPush
    kind: Kind
    vertices: Floats
    grows_um: Floats
    displacement: Displacement
    faces: Ints
    edges: Ints

    def points(self, magnification: float, causes: Iterable[Cause] = CAUSES) -> Floats:
        """Where the vertices are shown, (N, 3) mm."""
        moved = sum((self.displacement[cause] for cause in causes), self.grows_um)
        return np.asarray(self.vertices + magnification * moved / 1000.0)


def marks_of(study: StudyLike, plan: Plan, positions: Mapping[str, float]) -> tuple[Mark, ...]:
    """A mark for each spot and each pushed screw, in the order of work."""
    return tuple(_marks(study, plan, positions))


def _marks(study: StudyLike, plan: Plan, positions: Mapping[str, float]) -> Iterator[Mark]:
    frame = study.frame
    for fitting, below_um in stacked(plan):
        spot, shape = fitting.spot, shape_of(frame, fitting, below_um)
        if isinstance(spot, RailSpot):
            yield _on_rail(study, frame.rail(spot.rail), fitting, shape, positions)
        else:
            yield _on_block(study, frame.carriage(spot.carriage), spot, fitting, shape, positions)
    for push in plan.pushes:
        rail = frame.rail(push.rail)
        yield _on_rail(study, rail, push, arrow(rail, push), positions)


def stacked(plan: Plan) -> list[tuple[Fitting, float]]:
    """Each fitting with what lies below it (µm): an edge's shims lie on those of the full width at the same place."""
    full = {replace(f.spot, part="left"): f.total_um for f in plan.fittings if f.spot.part == "full"}
    return [(f, 0.0 if f.spot.part == "full" else full.get(replace(f.spot, part="left"), 0.0)) for f in plan.fittings]


def shape_of(frame: Frame, fitting: Fitting, below_um: float = 0.0) -> Shape:
    """A plate as thick as what is put in; for less than lies there now, as thick as what comes out."""
    spot = fitting.spot
    kind: Kind = "out" if thinner(fitting) else "fit"
    um = below_um, below_um + (abs(fitting.total_um - sum(fitting.now_um)) or fitting.total_um)
    if isinstance(spot, BlockSpot):
        guide = next(b for b in frame.carriage(spot.carriage).blocks if b.name == spot.block).rail.guide
        tongue = BLOCK_TONGUE[0] * guide.block_width_mm, BLOCK_TONGUE[1] * guide.block_width_mm
        return _plate(kind, (0.0, LONG * guide.block_length_mm), tongue, spot.part, guide.block_height_mm, um)
    rail = frame.rail(spot.rail)
    tongue = RAIL_TONGUE[0] * rail.guide.rail_width_mm, RAIL_TONGUE[1] * rail.guide.rail_width_mm
    station = float(rail.screw_stations_mm[spot.screw - 1])
    return _plate(kind, (station, LONG * rail.guide.screw_pitch_mm), tongue, spot.part, 0.0, um)


def _plate(
    kind: Kind, along: tuple[float, float], tongue: tuple[float, float], part: Part, up: float, um: tuple[float, float]
) -> Shape:
    """What shows of a shim beside the edge that it lies under, or beside both.

    `along`: station and length, `tongue`: from where to where across, mm from the middle; `um`: from where to where
    it lies over the seat, which is `up` mm above the rail's.
    """
    (station, long), (near, far) = along, tongue
    sides = [(near, far)] * (part != "right") + [(-far, -near)] * (part != "left")
    a, b = station - long / 2.0, station + long / 2.0
    local, grows = [], np.zeros((8 * len(sides), 3))
    for i, (low, high) in enumerate(sides):
        local += [(a, low, up), (b, low, up), (b, high, up), (a, high, up)] * 2
        grows[8 * i : 8 * i + 8, 2] = np.repeat(um, 4)
    faces, edges = (np.concatenate([c + 8 * i for i in range(len(sides))]) for c in (BOX_FACES, BOX_EDGES))
    return Shape(kind, np.array(local), grows, faces, edges)


def arrow(rail: Rail, push: RailPush) -> Shape:
    """Flat on the rail's top, from its middle: as long as the push beyond the rail's edge, and then its head."""
    guide, way = rail.guide, 1.0 if push.push_um > 0.0 else -1.0
    station = float(rail.screw_stations_mm[push.screw - 1])
    edge, tip = way * guide.rail_width_mm / 2.0, way * guide.rail_width_mm * (0.5 + TIP)
    shaft, head = SHAFT * guide.screw_pitch_mm, HEAD * guide.screw_pitch_mm
    flat = [(-shaft, 0.0), (-shaft, edge), (shaft, edge), (shaft, 0.0), (-head, edge), (head, edge), (0.0, tip)]
    flat.append((0.0, edge))
    local = np.array([(station + s, t, guide.rail_height_mm) for s, t in flat])
    grows = np.zeros((8, 3))
    grows[[1, 2, 4, 5, 6, 7], 1] = push.push_um
    faces = ARROW_FACES if way > 0.0 else ARROW_FACES[:, ::-1]  # seen from above, either way
    return Shape("push", local, grows, faces, ARROW_EDGES)


def _on_rail(
    study: StudyLike, rail: Rail, work: Fitting | RailPush, shape: Shape, positions: Mapping[str, float]
) -> Mark:
    points, displaced = on_rail(study, rail, shape.local_mm).placed(study, positions)
    return Mark(work, shape.kind, points, shape.grows_um @ rail.axes, displaced, shape.faces, shape.edges)


def _on_block(
    study: StudyLike,
    carriage: Carriage,
    spot: BlockSpot,
    work: Fitting,
    shape: Shape,
    positions: Mapping[str, float],
) -> Mark:
    block = next(block for block in carriage.blocks if block.name == spot.block)
    rail = block.rail
    station = carriage.station(block, positions[carriage.name])
    by = beam_offset(study.frame, rail.beam, positions)
    seat = rail.point(station) + by
    points = seat + shape.local_mm @ rail.axes
    displaced = block_motion(study.deviations, rail, station).motion(points - by)
    carry = carry_of(study, rail.beam, positions)
    if carry is not None:
        displaced = added(displaced, carry.rigid_at(seat).motion(points))
    return Mark(work, shape.kind, points, shape.grows_um @ rail.axes, displaced, shape.faces, shape.edges)


def nearer_mm(frame: Frame) -> float:
    """By how much marks are drawn nearer to the eye, along the line of sight: it moves no pixel."""
    return NEARER * max((rail.guide.block_height_mm for rail in frame.rails), default=0.0)
