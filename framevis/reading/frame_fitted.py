"""What was done to the machine so far, shims fitted and rails pushed, checked against carriages, rails and stages.

Takes the models of `frame_schema`, records by name and a `Door`; gives frozen records.
"""

from __future__ import annotations

import re

from framevis.frame import Block, BlockSpot, Carriage, Part, Push, Rail, RailSpot, Shim, Spot
from framevis.reading.door import Door, did_you_mean, quoted
from framevis.reading.frame_parts import Named, look_up
from framevis.reading.frame_schema import PushToml, ShimToml
from framevis.reading.toml_lines import KeyPath

PARTS: Named[Part] = {"full": "full", "left": "left", "right": "right"}


def shim(
    path: KeyPath,
    toml: ShimToml,
    stages: tuple[str, ...] | None,
    carriages: Named[Carriage],
    rails: Named[Rail],
    door: Door,
) -> Shim | None:
    """One shim that has been fitted. `stages` None: the list of stages is broken."""
    _check_stage((*path, "stage"), toml.stage, stages, door)
    if toml.out_at is not None:
        _check_stage((*path, "out_at"), toml.out_at, stages, door)
        known = stages is not None and {toml.stage, toml.out_at} <= set(stages)
        if stages is not None and known and stages.index(toml.out_at) <= stages.index(toml.stage):
            door.refuse((*path, "out_at"), "is not later than stage", "name the stage by which it was taken out again")
    at = (*path, "spot")
    by_screw = re.fullmatch(r"(.+)@([0-9]{1,6})/([^/@]*)", toml.spot)
    names = toml.spot.split("/")
    if by_screw is None and (len(names) != 3 or "@" in toml.spot):
        todo = "write CARRIAGE/BLOCK/PART or RAIL@SCREW/PART, PART being full, left or right"
        door.refuse(at, f"{quoted(toml.spot)} is not a spot", todo)
        return None
    part: Part | None = look_up(by_screw[3] if by_screw else names[2], PARTS, at, "part", door)
    if by_screw:
        screw = _screw(by_screw[1], int(by_screw[2]), at, rails, door)
        spot: Spot | None = RailSpot(*screw, part) if screw and part else None
    else:
        spot = _block_spot(names[0], names[1], part, at, carriages, door)
    return None if spot is None else Shim(toml.stage, spot, toml.thickness_um, toml.out_at)


def push(path: KeyPath, toml: PushToml, stages: tuple[str, ...] | None, rails: Named[Rail], door: Door) -> Push | None:
    """One push of a rail at a screw. `stages` None: the list of stages is broken."""
    _check_stage((*path, "stage"), toml.stage, stages, door)
    by_screw = re.fullmatch(r"([^/]+)@([0-9]{1,6})", toml.spot)
    if by_screw is None:
        door.refuse((*path, "spot"), f"{quoted(toml.spot)} is not a screw of a rail", "write RAIL@SCREW")
        return None
    screw = _screw(by_screw[1], int(by_screw[2]), (*path, "spot"), rails, door)
    return None if screw is None else Push(toml.stage, *screw, toml.push_um)


def _check_stage(path: KeyPath, stage: str, stages: tuple[str, ...] | None, door: Door) -> None:
    if stages is not None and stage not in stages:
        door.refuse(path, f"there is no stage {quoted(stage)}", did_you_mean(stage, stages))


def _screw(name: str, screw: int, at: KeyPath, rails: Named[Rail], door: Door) -> tuple[str, int] | None:
    """A rail that can be used, and one of its screws."""
    found = look_up(name, rails, at, "rail", door)
    if found is not None and not 1 <= screw <= found.screws:
        what = f"rail {quoted(name)} has no screw {screw}"
        door.refuse(at, what, f"count its screws from 1 at the beam's start to {found.screws}")
        return None
    return None if found is None else (name, screw)


def _block_spot(
    name: str, block: str, part: Part | None, at: KeyPath, carriages: Named[Carriage], door: Door
) -> BlockSpot | None:
    found = look_up(name, carriages, at, "carriage", door)
    if found is None:
        return None
    blocks: Named[Block] = {each.name: each for each in found.blocks}
    on = look_up(block, blocks, at, "block", door)
    return None if on is None or part is None else BlockSpot(name, block, part)
