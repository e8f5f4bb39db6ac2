"""Carriages and what they carry, checked against beams and rails.

Takes the models of `frame_schema`, records by name and a `Door`; gives frozen records in mm.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import combinations

import numpy as np

from framevis.frame import Beam, Block, Carriage, Rail, SeatStiffness
from framevis.reading.door import Door, quoted
from framevis.reading.frame_parts import SLACK_MM, Named, look_up
from framevis.reading.frame_schema import CarriageToml
from framevis.reading.toml_lines import KeyPath

PARALLEL_RAD = 1e-3
Triple = tuple[float, float, float]


def are_parallel(one: Beam, other: Beam) -> bool:
    """Whether two beams run the same way, or just the other way, within 1 mrad."""
    return float(np.linalg.norm(np.cross(one.axes[0], other.axes[0]))) <= PARALLEL_RAD


def carriage(name: str, toml: CarriageToml, mm: float, rails: Named[Rail], door: Door) -> Carriage | None:
    at = ("carriage", name)
    blocks = _blocks(at, toml, mm, rails, door)
    low, high = (each * mm for each in toml.travel)
    if low >= high:
        what = f"runs from {door.length(low)} to {door.length(high)}"
        door.refuse((*at, "travel"), what, "give the lower end first, then the higher one")
        return None
    if toml.bolted_at is not None and not low <= toml.bolted_at * mm <= high:
        what = f"is {door.length(toml.bolted_at * mm)}, outside the travel"
        door.refuse((*at, "bolted_at"), what, f"it must lie between {door.length(low)} and {door.length(high)}")
    if blocks is None:
        return None
    seats = toml.seat_stiffness
    found = Carriage(
        name=name,
        blocks=blocks,
        travel_mm=(low, high),
        mass_kg=toml.mass_kg,
        centre_mm=_triple(toml.centre, mm),
        payload_kg=toml.payload_kg,
        payload_centre_mm=_triple(toml.payload_centre, mm),
        bolted_at_mm=None if toml.bolted_at is None else toml.bolted_at * mm,
        seat_stiffness=None if seats is None else SeatStiffness(**seats.model_dump()),
    )
    _check_blocks(at, found, door)
    return found


def _triple(values: tuple[float, ...] | None, mm: float) -> Triple | None:
    return None if values is None else (values[0] * mm, values[1] * mm, values[2] * mm)


def _blocks(at: KeyPath, toml: CarriageToml, mm: float, rails: Named[Rail], door: Door) -> tuple[Block, ...] | None:
    names = [block.name for block in toml.blocks]
    blocks = []
    for index, block in enumerate(toml.blocks):
        path = (*at, "blocks", index)
        if block.name in names[:index]:
            door.refuse((*path, "name"), f"there are two blocks {quoted(block.name)}", "give each block its own name")
        rail = look_up(block.rail, rails, (*path, "rail"), "rail", door)
        if rail is not None:
            blocks.append(Block(block.name, rail, block.along * mm))
    return tuple(blocks) if len(blocks) == len(names) else None


def _check_blocks(at: KeyPath, found: Carriage, door: Door) -> None:
    for index, block in enumerate(found.blocks):
        path = (*at, "blocks", index)
        if not are_parallel(found.beam, block.rail.beam):
            what = f"block {quoted(block.name)} rides a beam that is not parallel to the first block's"
            door.refuse((*path, "rail"), what, "correct the ends of the beams; they may differ by 1 mm/m")
            continue
        _check_travel(at, found, block, door)
        own = block.rail.guide
        pressed = found.mass_kg + found.payload_kg > 0.0 or own.preload_interference_um > 0.0
        if not pressed and own.seal_drag_n == 0.0:
            what = f"block {quoted(block.name)} has no drag to compare with: no preload, no seal drag, nothing to carry"
            door.refuse((*path, "rail"), what, "give mass_kg, payload_kg, or the guide's preload or seal drag")
    _check_overlaps(at, found, door)


def _check_travel(at: KeyPath, found: Carriage, block: Block, door: Door) -> None:
    beam = block.rail.beam
    for position in found.travel_mm:
        station = found.station(block, position)
        over = max(-station, station - beam.length_mm)
        if over > SLACK_MM:
            end = "before the start" if station < 0.0 else "beyond the end"
            what = (
                f"with the carriage at {door.length(position)} block {quoted(block.name)} stands "
                f"{door.length(over)} {end} of beam {quoted(beam.name)}"
            )
            door.refuse((*at, "travel"), what, "shorten the travel, or correct the block's along or the beam's ends")


def _check_overlaps(at: KeyPath, found: Carriage, door: Door) -> None:
    for (first, one), (second, other) in combinations(enumerate(found.blocks), 2):
        apart = abs(one.along_mm - other.along_mm)
        length = one.rail.guide.block_length_mm
        if one.rail.name == other.rail.name and apart < length - SLACK_MM:
            what = (
                f"blocks {quoted(one.name)} and {quoted(other.name)} overlap: {door.length(apart)} apart on one rail, "
                f"{door.length(length)} long"
            )
            door.refuse((*at, "blocks", second, "along"), what, f"correct along of block {first + 1} or {second + 1}")


def check_carriers(beams: Mapping[str, Beam], carriages: Named[Carriage], door: Door) -> None:
    """A beam may be carried by carriages, not by one that rides on it, directly or through others."""
    under = {name: set(_beams_under(beam, carriages)) for name, beam in beams.items()}
    for name, beam in beams.items():
        at = ("beam", name)
        carriers = [look_up(each, carriages, (*at, "carried_by"), "carriage", door) for each in beam.carried_by]
        if len(set(beam.carried_by)) < len(beam.carried_by):
            door.refuse((*at, "carried_by"), "names one carriage twice", "name each carriage once")
        if beam.carried_at_mm is not None and not beam.carried_by:
            door.refuse((*at, "carried_at"), "nothing carries this beam", "add carried_by, or leave carried_at out")
        elif beam.carried_at_mm is not None and carriers[0] is not None:
            low, high = carriers[0].travel_mm
            if not low <= beam.carried_at_mm <= high:
                what = f"is {door.length(beam.carried_at_mm)}, outside the travel of {quoted(carriers[0].name)}"
                door.refuse((*at, "carried_at"), what, "say where that carriage stands when start and end hold")
        if name in _reached(name, under):
            what = "the beam is carried by a carriage that rides on it, directly or through another beam"
            door.refuse((*at, "carried_by"), what, "name the carriage that the beam is bolted to")


def _beams_under(beam: Beam, carriages: Named[Carriage]) -> Iterator[str]:
    for name in beam.carried_by:
        found = carriages.get(name)
        if found is not None:
            yield from (block.rail.beam.name for block in found.blocks)


def _reached(start: str, under: Mapping[str, set[str]]) -> set[str]:
    """Every beam that lies under `start`."""
    reached: set[str] = set()
    waiting = list(under[start])
    while waiting:
        name = waiting.pop()
        if name not in reached:
            reached.add(name)
            waiting.extend(under.get(name, ()))
    return reached
