"""A beam cut across at one station: outlines of beam, rails, blocks and plate, what displaces them, and the figures.

Takes a study, where the carriages stand, a beam and a station; gives flat outlines for whoever draws them (window,
page). All in the beam's own axes (t, n): t points left for somebody who looks along the beam from its start with
the mounting face up. What a carried beam takes from its carriers is left out: it moves the whole section alike.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from framevis.deviations import CAUSES, Cause, rail_weights
from framevis.frame import Beam, Block, BlockSpot, Carriage, Floats, Rail, locked
from framevis.pictures.geometry import (
    Profile,
    beam_profile,
    block_profile,
    plate_solid,
    rail_ends,
    rail_profile,
)
from framevis.pictures.warp import Displacement, Rigid, StudyLike, beam_motion, block_motion, rail_motion
from framevis.say import printable, small

SLAB = 8  # vertices of a plate's slab; the first four are its end
SLAB_OUTLINE = (0, 2, 3, 1)
NO_GAP_UM = 0.5
LEAST_MRAD = 0.05  # a smaller angle reads as none


@dataclass(frozen=True, eq=False)
class Outline:
    """One closed outline in the cross-section, in the beam's axes (t, n), mm: `points_mm` (N, 2) nominal.

    `displacement`: of each cause (N, 2) µm. `role`: beam, rail, block or plate; the hollow of a box is an outline
    of its beam that is called "BEAM inside". A block's name is CARRIAGE/BLOCK.
    """

    name: str
    role: str
    points_mm: Floats
    displacement: dict[Cause, Floats]

    def shown(self, magnification: float, causes: Iterable[Cause] = CAUSES) -> Floats:
        """Where the points are drawn, (N, 2) mm."""
        total = sum((self.displacement[cause] for cause in causes), np.zeros_like(self.points_mm))
        return np.asarray(self.points_mm + magnification * total / 1000.0)


@dataclass(frozen=True)
class Note:
    """A figure to be written in at a nominal place (t, n) mm. `kind`: opening, roll, gap or twist."""

    text: str
    anchor_mm: tuple[float, float]
    kind: str


@dataclass(frozen=True, eq=False)
class Section:
    """The cut through a beam at a station (mm from its start)."""

    beam: str
    station_mm: float
    outlines: tuple[Outline, ...]
    notes: tuple[Note, ...]


@dataclass(frozen=True, eq=False)
class Gap:
    """Between a block's top, where it follows its rail, and the plate's seat, at both edges: µm still to be shimmed.

    Negative: pressed by so much. `left_mm`, `right_mm`: the edges' places (t, n) in the beam's axes.
    """

    block: Block
    left_um: float
    right_um: float
    left_mm: tuple[float, float]
    right_mm: tuple[float, float]


def section_at(study: StudyLike, positions: Mapping[str, float], beam_name: str, station_mm: float) -> Section:
    """The cut through a beam at a station (mm), with the carriages at positions (mm, one for each carriage)."""
    beam = study.frame.beam(beam_name)
    station = float(np.clip(station_mm, 0.0, beam.length_mm))
    rails = [rail for rail in study.frame.rails if rail.beam is beam and _covers(rail_ends(rail), station)]
    outlines = [*_beam_outlines(study, beam, station), *(_rail_outline(study, rail, station) for rail in rails)]
    notes = [*_beam_notes(study, beam, station), *(_rail_note(study, rail, station) for rail in rails)]
    for carriage in study.frame.carriages:
        position = positions[carriage.name]
        blocks = list(_blocks_at(carriage, beam, position, station))
        outlines += [_block_outline(study, carriage, block, position, station) for block in blocks]
        outlines += _plate_outlines(study, carriage, beam, position, station)
        notes += [note for block in blocks for note in _gap_notes(study, gap_of(study, carriage, block, position))]
    return Section(beam_name, station, tuple(outlines), tuple(notes))


def gap_of(study: StudyLike, carriage: Carriage, block: Block, position_mm: float) -> Gap:
    """What lies open between a block and its plate, at the middle of the block's length, less the shims there."""
    rail, guide = block.rail, block.rail.guide
    station = carriage.station(block, position_mm)
    top, half = rail.point(station, guide.block_height_mm), rail.axes[1] * guide.block_width_mm / 2.0
    edges = np.array([top + half, top - half])
    pose = study.pose(carriage.name, position_mm)
    plate = Rigid(pose.point_mm, pose.shift_um, pose.turn_mrad).motion(edges)
    follows = block_motion(study.deviations, rail, station).motion(edges)
    apart = sum(((plate[cause] - follows[cause]) @ rail.axes[2] for cause in CAUSES), np.zeros(2))
    left, right = apart - _fitted_um(study, carriage, block)
    places = [(float(t), float(n)) for t, n in (edges - rail.beam.start_mm) @ rail.beam.axes[1:].T]
    return Gap(block, float(left), float(right), places[0], places[1])


def _fitted_um(study: StudyLike, carriage: Carriage, block: Block) -> Floats:
    """Thickness of the shims that sit between a block and its plate, at its left and right edge (2,)."""
    fitted = np.zeros(2)
    for shim in study.frame.shims_at(study.stage):
        spot = shim.spot
        if isinstance(spot, BlockSpot) and (spot.carriage, spot.block) == (carriage.name, block.name):
            fitted += shim.thickness_um * np.array([spot.part != "right", spot.part != "left"])
    return fitted


def _covers(ends_mm: tuple[float, float], station_mm: float) -> bool:
    return ends_mm[0] <= station_mm <= ends_mm[1]


def _loops(profile: Profile) -> list[Floats]:
    """The closed outlines of a profile, each (N, 2) mm, the outer one first."""
    after = {int(a): int(b) for a, b in profile.outline}
    loops = []
    while after:
        start, b = next(iter(after.items()))
        loop = [start]
        while b != start:
            loop.append(b)
            b = after.pop(b)
        after.pop(start)
        loops.append(profile.points[loop])
    return sorted(loops, key=lambda points: -float(np.ptp(points[:, 0])))


def _flat(beam: Beam, displaced: Displacement) -> dict[Cause, Floats]:
    """Displacement (N, 3) µm in machine axes as (N, 2) in the beam's (t, n)."""
    return {cause: locked(displaced[cause] @ beam.axes[1:].T) for cause in CAUSES}


def _beam_outlines(study: StudyLike, beam: Beam, station: float) -> Iterator[Outline]:
    for i, points in enumerate(_loops(beam_profile(beam.section))):
        local = np.column_stack([np.full(len(points), station), points])
        name = beam.name if i == 0 else f"{beam.name} inside"
        yield Outline(name, "beam", locked(points), _flat(beam, beam_motion(study.deviations, beam, local)))


def _on_face(rail: Rail, points: Floats) -> Floats:
    """Points (N, 2) mm given from a rail's seat in the axes of its face, in the beam's (t, n)."""
    return locked(np.array(rail.seat_in_beam) + points @ rail.axes_in_beam)


def _rail_outline(study: StudyLike, rail: Rail, station: float) -> Outline:
    points = _loops(rail_profile(rail.guide))[0]
    local = np.column_stack([np.full(len(points), station), points])
    moved = rail_motion(study.deviations, rail, local)
    return Outline(rail.name, "rail", _on_face(rail, points), _flat(rail.beam, moved))


def _blocks_at(carriage: Carriage, beam: Beam, position: float, station: float) -> Iterator[Block]:
    for block in carriage.blocks:
        half = block.rail.guide.block_length_mm / 2.0
        if block.rail.beam is beam and abs(carriage.station(block, position) - station) <= half:
            yield block


def _machine(beam: Beam, station: float, points: Floats) -> Floats:
    """Points (N, 2) mm of the cut in machine coordinates (N, 3)."""
    return np.asarray(beam.point(station) + points @ beam.axes[1:])


def _block_outline(study: StudyLike, carriage: Carriage, block: Block, position: float, station: float) -> Outline:
    rail = block.rail
    points = _on_face(rail, _loops(block_profile(rail.guide))[0])
    rigid = block_motion(study.deviations, rail, carriage.station(block, position))
    moved = rigid.motion(_machine(rail.beam, station, points))
    return Outline(f"{carriage.name}/{block.name}", "block", points, _flat(rail.beam, moved))


def _plate_outlines(
    study: StudyLike, carriage: Carriage, beam: Beam, position: float, station: float
) -> Iterator[Outline]:
    """The plate's slabs at the cut, in equilibrium; a plate that goes on to other beams is cut off beside this one."""
    if all(block.rail.beam is not beam for block in carriage.blocks):
        return
    pose = study.pose(carriage.name, position)
    rigid = Rigid(pose.point_mm, pose.shift_um, pose.turn_mrad)
    low, high = _reach(carriage, beam)
    corners = (plate_solid(carriage, position).vertices - beam.start_mm) @ beam.axes.T
    for slab in corners.reshape(-1, SLAB, 3):
        points = np.clip(slab[SLAB_OUTLINE, 1:], low, high)
        if _covers((float(slab[:, 0].min()), float(slab[:, 0].max())), station) and np.ptp(points, axis=0).all():
            moved = rigid.motion(_machine(beam, station, points))
            yield Outline(carriage.name, "plate", locked(points), _flat(beam, moved))


def _reach(carriage: Carriage, beam: Beam) -> tuple[Floats, Floats]:
    """How far from a beam its plate is shown: lowest and highest (t, n) mm."""
    guides = [block.rail.guide for block in carriage.blocks]
    margin = 2.0 * max(max(guide.block_width_mm, guide.block_height_mm) for guide in guides) + 10.0
    half, depth = beam.section.width_mm / 2.0, beam.section.depth_mm
    return np.array([-half - margin, -depth - margin]), np.array([half + margin, margin])


def _angle(word: str, mrad: float) -> str:
    """An angle of roll or twist with the side that stands higher."""
    side = "" if abs(mrad) < LEAST_MRAD else ", left up" if mrad > 0.0 else ", right up"
    return f"{word} {abs(mrad):.1f} mrad{side}"


def _beam_notes(study: StudyLike, beam: Beam, station: float) -> Iterator[Note]:
    at, section = np.array([station]), beam.section
    if section.shape == "channel":
        mrad = float(study.deviations.value(("opening", beam.name), at)[0])
        word = "closing" if mrad <= -LEAST_MRAD else "opening"
        mouth = 0.0 if section.mouth == "toward_rails" else -section.depth_mm
        yield Note(f"{word} {abs(mrad):.1f} mrad", (0.0, mouth), "opening")
    twist = float(study.deviations.value(("twist", beam.name), at)[0])
    yield Note(_angle("twist", twist), (0.0, -section.depth_mm / 2.0), "twist")


def _rail_note(study: StudyLike, rail: Rail, station: float) -> Note:
    roll = float(study.deviations.along(rail_weights(rail, "roll"), np.array([station]))[0])
    across, up = _on_face(rail, np.array([[0.0, rail.guide.rail_height_mm / 2.0]]))[0]
    return Note(_angle(f"{printable(rail.name)} rolls", roll), (float(across), float(up)), "roll")


def _gap_notes(study: StudyLike, gap: Gap) -> Iterator[Note]:
    for um, anchor in ((gap.left_um, gap.left_mm), (gap.right_um, gap.right_mm)):
        word = "gap" if um > NO_GAP_UM else "pressed"
        text = "no gap" if abs(um) <= NO_GAP_UM else f"{word} {small(study.frame, abs(um))}"
        yield Note(text, anchor, "gap")
