"""The nominal bodies of a frame as its scene has them, with as few cuts along the beams as a line drawing needs.

Takes a frame, gives its beams, rails, blocks and plates in machine coordinates (mm), carriages in mid travel.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from framevis.frame import Beam, Floats, Frame
from framevis.pictures.geometry import Solid, beam_profile, block_solid, extrude, plate_solid, rail_ends, rail_profile
from framevis.pictures.travel import beam_offset, resolve_positions


@dataclass(frozen=True, eq=False)
class Body:
    """`normal`: out of the face on which it sits; `storey`: how far up it is stacked."""

    name: str
    solid: Solid
    normal: Floats
    storey: int


def bodies(frame: Frame) -> tuple[Body, ...]:
    """All bodies of the machine."""
    positions = resolve_positions(frame, {}, {})
    offset = {beam.name: beam_offset(frame, beam, positions) for beam in frame.beams}
    found = []
    for beam in frame.beams:
        whole = extrude(beam_profile(beam.section), np.array([0.0, beam.length_mm]))
        placed = whole.placed(beam.start_mm + offset[beam.name], beam.axes)
        found.append(Body(beam.name, placed, beam.axes[2], storey(frame, beam)))
    for rail in frame.rails:
        whole = extrude(rail_profile(rail.guide), np.array(rail_ends(rail)))
        placed = whole.placed(rail.point(0.0) + offset[rail.beam.name], rail.axes)
        found.append(Body(rail.name, placed, rail.axes[2], storey(frame, rail.beam) + 1))
    for carriage in frame.carriages:
        at = positions[carriage.name]
        for block in carriage.blocks:
            place = block.rail.point(carriage.station(block, at)) + offset[block.rail.beam.name]
            solid = block_solid(block.rail.guide).placed(place, block.rail.axes)
            above = storey(frame, block.rail.beam) + 2
            found.append(Body(f"{carriage.name}/{block.name}", solid, block.rail.axes[2], above))
        plate = plate_solid(carriage, at).placed(offset[carriage.beam.name], np.eye(3))
        normal = carriage.blocks[0].rail.axes[2]
        found.append(Body(carriage.name, plate, normal, storey(frame, carriage.beam) + 3))
    return tuple(found)


def storey(frame: Frame, beam: Beam) -> int:
    """Beams that stand are at 0, with rails, blocks and plate above; what these carry begins at 4."""
    under = (frame.carriage(name).beam for name in beam.carried_by)
    return max((4 + storey(frame, each) for each in under), default=0)


def stands(frame: Frame, beam: Beam) -> Floats:
    """How far (3,) mm a beam stands from where it was drawn, with all carriages in mid travel."""
    return beam_offset(frame, beam, resolve_positions(frame, {}, {}))
