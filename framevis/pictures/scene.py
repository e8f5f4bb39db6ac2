"""The machine as a list of parts: nominal bodies, and how far each cause displaces every point.

Takes a study (frame, deviations, poses, verdicts) and where the carriages stand; gives what every outlet draws.
A shown point = nominal + magnification × Σ displacement of the causes switched on; all in float64.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Literal

import numpy as np

from framevis.deviations import CAUSES, Cause
from framevis.frame import Beam, Block, Carriage, Floats, Frame, Rail, locked
from framevis.pictures.geometry import (
    Ints,
    Solid,
    beam_profile,
    block_solid,
    extrude,
    plate_solid,
    rail_ends,
    rail_profile,
    stations_between,
)
from framevis.pictures.travel import beam_offset, movers, resolve_positions, travel_groups
from framevis.pictures.warp import (
    Carry,
    Displacement,
    Rigid,
    StudyLike,
    added,
    beam_motion,
    block_motion,
    carry_of,
    rail_motion,
)
from framevis.pose import PlatePose
from framevis.verdicts import CarriageAssessment, Verdict

__all__ = ["Part", "Scene", "StudyLike", "build_scene", "moved", "resolve_positions", "worst_positions"]

Role = Literal["beam", "rail", "block", "plate"]


@dataclass(frozen=True, eq=False)
class Part:
    """One body. `vertices` (N, 3) mm nominal, where it stands; `displacement` of each cause (N, 3) µm.

    `faces` (F, 4) and `edges` (E, 2) index the vertices. A block's name is CARRIAGE/BLOCK. `owner`: of a rail
    its beam, of a block or plate its carriage, of a beam nothing. `anchor`: the vertices whose mean a label
    points at. `moved_by`: the carriages whose position moves the part.
    """

    name: str
    role: Role
    owner: str
    vertices: Floats
    faces: Ints
    edges: Ints
    displacement: Mapping[Cause, Floats]
    moved_by: frozenset[str] = frozenset()
    verdict: Verdict | None = None
    anchor: Ints | None = None

    @property
    def key(self) -> tuple[Role, str]:
        return self.role, self.name

    def displaced_um(self, causes: Iterable[Cause] = CAUSES) -> Floats:
        """Σ displacement (N, 3) µm of the causes named."""
        total = np.zeros_like(self.vertices)
        for cause in causes:
            total = total + self.displacement[cause]
        return total


class Memory:
    """A study that remembers what moving a carriage doesn't change, and each carriage's last pose.

    `bodies`: by part, in its own axes, and what its own deviations do to it.
    """

    def __init__(self, study: StudyLike) -> None:
        self.study = study
        self.frame, self.stage = study.frame, study.stage
        self.deviations, self.carriages = study.deviations, study.carriages
        self.bodies: dict[str, tuple[Solid, Displacement]] = {}
        self._poses: dict[str, PlatePose] = {}

    def pose(self, carriage_name: str, position_mm: float) -> PlatePose:
        last = self._poses.get(carriage_name)
        if last is None or last.position_mm != position_mm:
            last = self._poses[carriage_name] = self.study.pose(carriage_name, position_mm)
        return last


@dataclass(frozen=True, eq=False)
class Scene:
    """All parts of a frame in one stage, with each carriage at a position (mm along its own travel)."""

    frame: Frame
    stage: str
    positions: Mapping[str, float]
    parts: tuple[Part, ...]
    memory: Memory = field(repr=False)

    def part(self, role: Role, name: str) -> Part:
        return next(part for part in self.parts if part.key == (role, name))

    def points(self, part: Part, magnification: float, causes: Iterable[Cause] = CAUSES) -> Floats:
        """Where the part's vertices are shown, (N, 3) mm."""
        return part.vertices + magnification * part.displaced_um(causes) / 1000.0

    @property
    def largest_um(self) -> float:
        """The largest displacement of any point, all causes together."""
        return max((float(np.linalg.norm(p.displaced_um(), axis=1).max()) for p in self.parts), default=0.0)

    @property
    def bounds_mm(self) -> Floats:
        """Lowest and highest corner (2, 3) of the nominal parts."""
        lows = [part.vertices.min(axis=0) for part in self.parts]
        highs = [part.vertices.max(axis=0) for part in self.parts]
        return np.array([np.min(lows, axis=0), np.max(highs, axis=0)])

    @property
    def diagonal_mm(self) -> float:
        low, high = self.bounds_mm
        return float(np.linalg.norm(high - low))


def build_scene(study: StudyLike, positions: Mapping[str, float]) -> Scene:
    """All parts, with every carriage at its position (mm; `resolve_positions` completes and checks them)."""
    memory = Memory(study)
    parts = tuple(make(moved_by) for moved_by, make in _recipes(memory, positions))
    return Scene(study.frame, study.stage, dict(positions), parts, memory)


def moved(scene: Scene, study: StudyLike, positions: Mapping[str, float]) -> Scene:
    """The scene with carriages elsewhere; parts that none of them moves are the same objects as before."""
    if scene.memory.study is not study:
        return build_scene(study, positions)
    changed = {name for name, at in positions.items() if at != scene.positions[name]}
    recipes = zip(scene.parts, _recipes(scene.memory, positions), strict=True)
    parts = tuple(make(moved_by) if moved_by & changed else old for old, (moved_by, make) in recipes)
    return Scene(scene.frame, scene.stage, dict(positions), parts, scene.memory)


def worst_positions(study: StudyLike) -> dict[str, float]:
    """Where each carriage's worst block suffers most (mm); carriers of one beam go where the worst of them does."""
    assessed = {a.name: a for a in study.carriages}
    places: dict[str, float] = {}
    for group in travel_groups(study.frame):
        known = [m for m in group.members if m.carriage.name in assessed]
        if known:
            worst = max(known, key=lambda m: _worst_ratio(assessed[m.carriage.name]))
            leader_mm = group.leader_at(worst, assessed[worst.carriage.name].worst_position_mm)
            places |= group.positions(float(np.clip(leader_mm, *group.range_mm)))
    return places


def _worst_ratio(assessed: CarriageAssessment) -> float:
    return max(float(block.drag_ratio.max()) for block in assessed.blocks)


Recipe = tuple[frozenset[str], Callable[[frozenset[str]], Part]]


def _recipes(memory: Memory, positions: Mapping[str, float]) -> Iterator[Recipe]:
    """For each part, in a fixed order: the carriages that move it, and how to make it from their names."""
    frame = memory.frame
    by = {beam.name: movers(frame, beam) for beam in frame.beams}
    stand = _Standing(memory, positions)
    for beam in frame.beams:
        yield by[beam.name], partial(_beam_part, stand, beam)
    for rail in frame.rails:
        yield by[rail.beam.name], partial(_rail_part, stand, rail)
    for carriage in frame.carriages:
        own = frozenset({carriage.name})
        for block in carriage.blocks:
            yield own | by[block.rail.beam.name], partial(_block_part, stand, carriage, block)
        yield own.union(*(by[b.rail.beam.name] for b in carriage.blocks)), partial(_plate_part, stand, carriage)


class _Standing:
    """What is asked for again and again while parts are made: where carried beams stand and how they move."""

    def __init__(self, study: Memory, positions: Mapping[str, float]) -> None:
        self.study, self.positions = study, positions
        self._carry: dict[str, Carry | None] = {}

    def offset(self, beam: Beam) -> Floats:
        return beam_offset(self.study.frame, beam, self.positions)

    def carry(self, beam: Beam) -> Carry | None:
        if beam.name not in self._carry:
            self._carry[beam.name] = carry_of(self.study, beam, self.positions)
        return self._carry[beam.name]

    def verdict(self, carriage: Carriage, block: Block) -> Verdict | None:
        found = (b for a in self.study.carriages if a.name == carriage.name for b in a.blocks)
        return next((b.verdict for b in found if b.name == block.name), None)

    def ride(self, beam: Beam, vertices: Floats, own: Displacement, centre_mm: Floats | None) -> Displacement:
        """Own displacement and that of the carried beam under it; rigid about a centre, or along the beam."""
        carry = self.carry(beam)
        if carry is None:
            return own
        under = carry.motion(vertices) if centre_mm is None else carry.rigid_at(centre_mm).motion(vertices)
        return added(own, under)


def _part(name: str, role: Role, owner: str, solid: Solid, displaced: Displacement) -> Part:
    kept = {cause: locked(displaced[cause]) for cause in CAUSES}
    return Part(name, role, owner, locked(solid.vertices), solid.faces, solid.edges, kept)


def _beam_part(stand: _Standing, beam: Beam, moved_by: frozenset[str]) -> Part:
    key = f"beam {beam.name}"
    if key not in stand.study.bodies:
        body = extrude(beam_profile(beam.section), stations_between(0.0, beam.length_mm))
        stand.study.bodies[key] = body, beam_motion(stand.study.deviations, beam, body.vertices)
    local, own = stand.study.bodies[key]
    solid = local.placed(beam.start_mm + stand.offset(beam), beam.axes)
    part = _part(beam.name, "beam", "", solid, stand.ride(beam, solid.vertices, own, None))
    return replace(part, moved_by=moved_by)


def _rail_part(stand: _Standing, rail: Rail, moved_by: frozenset[str]) -> Part:
    key = f"rail {rail.name}"
    if key not in stand.study.bodies:
        body = extrude(rail_profile(rail.guide), stations_between(*rail_ends(rail)))
        stand.study.bodies[key] = body, rail_motion(stand.study.deviations, rail, body.vertices)
    local, own = stand.study.bodies[key]
    solid = local.placed(rail.point(0.0) + stand.offset(rail.beam), rail.axes)
    part = _part(rail.name, "rail", rail.beam.name, solid, stand.ride(rail.beam, solid.vertices, own, None))
    return replace(part, moved_by=moved_by)


def _block_part(stand: _Standing, carriage: Carriage, block: Block, moved_by: frozenset[str]) -> Part:
    rail = block.rail
    station, by = carriage.station(block, stand.positions[carriage.name]), stand.offset(rail.beam)
    solid = block_solid(rail.guide).placed(rail.point(station) + by, rail.axes)
    own = block_motion(stand.study.deviations, rail, station).motion(solid.vertices - by)
    displaced = stand.ride(rail.beam, solid.vertices, own, rail.point(station) + by)
    part = _part(f"{carriage.name}/{block.name}", "block", carriage.name, solid, displaced)
    verdict, anchor = stand.verdict(carriage, block), np.arange(len(solid.vertices))
    return replace(part, moved_by=moved_by, verdict=verdict, anchor=anchor)


def _plate_part(stand: _Standing, carriage: Carriage, moved_by: frozenset[str]) -> Part:
    position, by = stand.positions[carriage.name], stand.offset(carriage.beam)
    home = plate_solid(carriage, position)
    solid = home.placed(by, np.eye(3))
    pose = stand.study.pose(carriage.name, position)
    own = Rigid(pose.point_mm, pose.shift_um, pose.turn_mrad).motion(home.vertices)
    displaced = stand.ride(carriage.beam, solid.vertices, own, carriage.origin(position) + by)
    return replace(_part(carriage.name, "plate", carriage.name, solid, displaced), moved_by=moved_by)
