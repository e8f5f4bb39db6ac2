"""Where carriages stand, and which of them must travel together because they carry the same beam.

Takes the frame and the positions asked for, gives a position (mm along its own travel) for every carriage, and
how far a carried beam has been moved from the place in which it was drawn.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from math import isfinite

import numpy as np

from framevis.errors import BadInput, Problem, problem
from framevis.frame import Beam, Carriage, Floats, Frame

AGREE_MM = 0.05  # two carriers of one beam asked to stand within this of each other's place agree
SOURCE = "--at"


@dataclass(frozen=True, eq=False)
class Member:
    """A carriage of a group: where it stands when the leader is at its reference, and which way it then moves."""

    carriage: Carriage
    reference_mm: float
    way: float


@dataclass(frozen=True, eq=False)
class Group:
    """Carriages that move as one; the first leads. A carriage that shares no beam is a group by itself."""

    members: tuple[Member, ...]

    @property
    def leader(self) -> Carriage:
        return self.members[0].carriage

    @property
    def name(self) -> str:
        return " + ".join(member.carriage.name for member in self.members)

    @property
    def range_mm(self) -> tuple[float, float]:
        """Between which positions of the leader every member stays within its own travel."""
        ends = np.array([[self.leader_at(m, end) for end in m.carriage.travel_mm] for m in self.members])
        low, high = float(ends.min(axis=1).max()), float(ends.max(axis=1).min())
        return (low, high) if low <= high else ((low + high) / 2.0, (low + high) / 2.0)

    def leader_at(self, member: Member, position_mm: float) -> float:
        """Where the leader stands when a member stands at a position."""
        return self.members[0].reference_mm + member.way * (position_mm - member.reference_mm)

    def positions(self, leader_mm: float) -> dict[str, float]:
        """Where every member stands when the leader stands at a position."""
        moved = leader_mm - self.members[0].reference_mm
        return {m.carriage.name: m.reference_mm + m.way * moved for m in self.members}


def carriers(frame: Frame, beam: Beam) -> tuple[Carriage, ...]:
    return tuple(frame.carriage(name) for name in beam.carried_by)


def references(frame: Frame, beam: Beam) -> dict[str, float]:
    """Where each carrier stands (mm) when the beam's start and end hold.

    `carried_at_mm` is the first carrier's; the others then stand level with it. Without it: mid travel.
    """
    all_of_them = carriers(frame, beam)
    if beam.carried_at_mm is None:
        return {carriage.name: sum(carriage.travel_mm) / 2.0 for carriage in all_of_them}
    first = all_of_them[0].origin(beam.carried_at_mm)
    return {carriage.name: carriage.beam.station_of(first) for carriage in all_of_them}


def travel_groups(frame: Frame) -> tuple[Group, ...]:
    """All carriages of the frame, those that carry one beam together in one group, in the frame's order."""
    groups = {c.name: Group((Member(c, sum(c.travel_mm) / 2.0, 1.0),)) for c in frame.carriages}
    for beam in frame.beams:
        if not beam.carried_by:
            continue
        reference = references(frame, beam)
        lead = groups[beam.carried_by[0]]
        anchor = next(m for m in lead.members if m.carriage.name == beam.carried_by[0])
        lead_mm = lead.leader_at(anchor, reference[anchor.carriage.name])
        new = list(lead.members)
        for carriage in carriers(frame, beam)[1:]:
            if all(m.carriage.name != carriage.name for m in new):
                way = anchor.way * _same_way(anchor.carriage, carriage)
                moved = lead_mm - lead.members[0].reference_mm
                new.append(Member(carriage, reference[carriage.name] - way * moved, way))
        groups |= {m.carriage.name: Group(tuple(new)) for m in new}
    return tuple(groups[c.name] for c in frame.carriages if groups[c.name].leader is c)


def _same_way(one: Carriage, other: Carriage) -> float:
    """−1 where two carriages count their positions in opposite directions, else 1."""
    return -1.0 if one.beam.axes[0] @ other.beam.axes[0] < 0.0 else 1.0


def resolve_positions(frame: Frame, requested: Mapping[str, float], default: Mapping[str, float]) -> dict[str, float]:
    """A position (mm) for every carriage: as requested, else the default, carriers of one beam together.

    Raises `BadInput` for names that no carriage has, positions off the travel, carriers that disagree.
    """
    problems = _unknown(frame, requested) + _off_travel(frame, requested)
    if problems:
        raise BadInput(problems)
    places: dict[str, float] = {}
    for group in travel_groups(frame):
        asked = [m for m in group.members if m.carriage.name in requested]
        if asked:
            leader_mm = group.leader_at(asked[0], requested[asked[0].carriage.name])
            problems += _disagree(group, requested, asked, leader_mm)
        else:
            low, high = group.range_mm
            middle = (low + high) / 2.0
            leader_mm = float(np.clip(default.get(group.leader.name, middle), low, high))
        places |= group.positions(leader_mm)
    if problems:
        raise BadInput(problems)
    return {carriage.name: places[carriage.name] for carriage in frame.carriages}


def _unknown(frame: Frame, requested: Mapping[str, float]) -> list[Problem]:
    names = [carriage.name for carriage in frame.carriages]
    found = []
    for name in requested:
        if name not in names:
            near = get_close_matches(name, names, n=1)
            todo = f'did you mean "{near[0]}"?' if near else f"the carriages are {', '.join(names) or 'none'}"
            found.append(problem(SOURCE, f'no carriage is called "{name}"', todo))
    return found


def _off_travel(frame: Frame, requested: Mapping[str, float]) -> list[Problem]:
    found = []
    for carriage in frame.carriages:
        low, high = carriage.travel_mm
        at = requested.get(carriage.name, low)
        if not (isfinite(at) and low <= at <= high):
            what = f'carriage "{carriage.name}" can\'t stand at {at:g} mm'
            found.append(problem(SOURCE, what, f"its travel is {low:g} to {high:g} mm"))
    return found


def _disagree(group: Group, requested: Mapping[str, float], asked: Sequence[Member], leader_mm: float) -> list[Problem]:
    """Members asked for somewhere else than the first asked puts them, or put off their own travel by it."""
    first, places, found = asked[0].carriage.name, group.positions(leader_mm), []
    for member in group.members:
        name, (low, high) = member.carriage.name, member.carriage.travel_mm
        if name in requested and abs(requested[name] - places[name]) > AGREE_MM:
            what = f'"{first}" and "{name}" carry one beam, with "{first}" there "{name}" is at {places[name]:g} mm'
            found.append(problem(SOURCE, what, f"give only one of them, not {requested[name]:g} mm"))
        elif name not in requested and not low - AGREE_MM <= places[name] <= high + AGREE_MM:
            what = f'"{first}" would take "{name}", which carries the same beam, to {places[name]:g} mm'
            found.append(problem(SOURCE, what, f'the travel of "{name}" is {low:g} to {high:g} mm'))
    return found


def beam_offset(frame: Frame, beam: Beam, positions: Mapping[str, float]) -> Floats:
    """How far (3,) mm a carried beam stands from where it was drawn; zero for a beam that stays."""
    if not beam.carried_by:
        return np.zeros(3)
    first = frame.carriage(beam.carried_by[0])
    moved = positions[first.name] - references(frame, beam)[first.name]
    return np.asarray(first.beam.axes[0] * moved + beam_offset(frame, first.beam, positions))


def movers(frame: Frame, beam: Beam) -> frozenset[str]:
    """Names of all carriages whose position moves a beam, its carriers' carriers included."""
    names = frozenset(beam.carried_by)
    return names.union(*(movers(frame, carriage.beam) for carriage in carriers(frame, beam)))
