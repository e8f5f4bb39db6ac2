"""Where everything of a new frame stands: rails on their beams, blocks on their carriages, how far these travel.

Takes `Answers` and a generic guide; gives a `Layout` in the answers' own unit. Along a beam: from its start;
across: to the left, looking from start to end with the mounting face up.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor

from framevis.frame import Mouth, Shape
from framevis.starting.answers import Answers
from framevis.starting.guides import GenericGuide, generic

SEAT_SHARE = 0.35  # of a beam's width, from its middle: where rails mostly sit
BESIDE_MM = 4.0  # least room between two blocks side by side, or one behind the other
STOP_MM = 5.0  # from a block at the end of its travel to the end of its beam
LEAST_TRAVEL_MM = 100.0
PLATE_MM = 12.0
DENSITY_KG_PER_MM3 = 2.7e-6  # aluminium
Point = tuple[float, float, float]


@dataclass(frozen=True)
class Ride:
    """The same for every carriage on a beam: blocks at ± `along` from its origin, its travel, the first screw."""

    along: float
    travel: tuple[float, float]
    first_screw: float


@dataclass(frozen=True)
class PlannedBeam:
    """A beam with its pair of rails: names, `seats` to the left of the centre line; `carriers` carry it."""

    name: str
    start: Point
    end: Point
    master: str
    follower: str
    seats: tuple[float, float]
    carriage: str
    mass_kg: float
    ride: Ride
    carriers: tuple[str, ...] = ()


@dataclass(frozen=True)
class Layout:
    guide: GenericGuide
    beams: tuple[PlannedBeam, ...]


def least_width_mm(guide: GenericGuide, section: Shape, mouth: Mouth | None, wall_mm: float = 0.0) -> float:
    """The narrowest beam that takes two rails side by side."""
    apart = guide.block_width + BESIDE_MM
    if section == "channel" and mouth == "toward_rails":
        return apart + wall_mm
    return max(apart / (2.0 * SEAT_SHARE), guide.rail_width / (1.0 - 2.0 * SEAT_SHARE))


def along_mm(guide: GenericGuide) -> float:
    """From a carriage's origin to its blocks: two on one rail stand a little apart."""
    return ceil(0.5 * guide.block_length + max(0.2 * guide.block_length, BESIDE_MM))


def least_length_mm(guide: GenericGuide) -> float:
    """The shortest beam on which a carriage goes to and fro."""
    return max(2.0 * (along_mm(guide) + guide.block_length / 2.0 + STOP_MM) + LEAST_TRAVEL_MM, 3.0 * guide.screw_pitch)


def least_span_mm(guide: GenericGuide, width_mm: float) -> float:
    """The least distance of side beams, from middle to middle: clear of each other, with a crossbeam long enough."""
    return max(width_mm + guide.block_width + BESIDE_MM, least_length_mm(guide))


def layout(answers: Answers) -> Layout:
    guide = generic(answers.guide_size, answers.arrangement)
    if answers.kind == "single":
        return Layout(guide, (_beam(answers, guide, "base", ("left", "right"), "carriage"),))
    assert answers.span is not None
    left = _beam(answers, guide, "left", ("left_outer", "left_inner"), "left")
    right = _beam(answers, guide, "right", ("right_outer", "right_inner"), "right", at=answers.span)
    return Layout(guide, (left, right, _cross(answers, guide)))


def _beam(
    answers: Answers, guide: GenericGuide, name: str, rails: tuple[str, str], carriage: str, at: float = 0.0
) -> PlannedBeam:
    """A beam along +y at x = `at`; left of it is −x, so a right beam's outer rail has the negative seat."""
    seat = _seat(answers) if at == 0.0 else -_seat(answers)
    mass_kg = 5.0 if answers.kind == "single" else ceil(5.0 + _mass_kg(answers, (answers.span or 0.0)) / 2.0)
    ends = (at, 0.0, 0.0), (at, answers.length, 0.0)
    return PlannedBeam(name, *ends, *rails, (seat, -seat), carriage, mass_kg, _ride(answers, guide, answers.length))


def _cross(answers: Answers, guide: GenericGuide) -> PlannedBeam:
    """The crossbeam along +x, on the plates of both side carriages, in the middle of their travel; left is +y."""
    assert answers.span is not None
    half, mm = answers.width / 2.0, answers.mm
    up = (guide.block_height + PLATE_MM) / mm + answers.depth
    seat, middle = _seat(answers), answers.length / 2.0
    ride = _ride(answers, guide, answers.span + answers.width)
    ends = (-half, middle, up), (answers.span + half, middle, up)
    return PlannedBeam(
        "cross", *ends, "cross_front", "cross_rear", (-seat, seat), "head", 3.0, ride, carriers=("left", "right")
    )


def _seat(answers: Answers) -> float:
    if answers.mouth == "toward_rails":
        assert answers.wall is not None
        return (answers.width - answers.wall) / 2.0
    step = 1.0 if answers.unit == "mm" else 0.05
    room = generic(answers.guide_size, answers.arrangement).block_width + BESIDE_MM
    least = room / 2.0 / answers.mm
    return max(floor(SEAT_SHARE * answers.width / step) * step, least)


def _ride(answers: Answers, guide: GenericGuide, length: float) -> Ride:
    step, mm = (1.0 if answers.unit == "mm" else 0.05), answers.mm
    along = ceil(along_mm(guide) / mm / step) * step
    low = ceil((along + (guide.block_length / 2.0 + STOP_MM) / mm) / step) * step
    return Ride(along, (low, length - low), _first_screw(length, guide.screw_pitch / mm, step))


def _first_screw(length: float, pitch: float, step: float) -> float:
    """So that the screws stand in the middle of the beam, at least a quarter pitch from its ends."""
    spaces = floor((length - pitch / 2.0) / pitch + 1e-9)
    return floor((length - spaces * pitch) / 2.0 / step) * step


def _mass_kg(answers: Answers, length: float) -> float:
    """A rough mass of a beam of this section in aluminium."""
    area = answers.width * answers.depth
    if answers.wall is not None:
        webs = 2 if answers.section == "box" else 1
        area = min(area, answers.wall * (webs * answers.width + 2.0 * answers.depth))
    return area * (length + answers.width) * answers.mm**3 * DENSITY_KG_PER_MM3
