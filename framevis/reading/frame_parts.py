"""Sections, guides, beams and rails of a frame file as frozen records in mm, each checked by itself.

Takes the models of `frame_schema` and a `Door`; gives records by name, None where one can't be built
because of something that was noted at the door.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import degrees
from typing import TypeVar

import numpy as np

from framevis.frame import BALL_PITCH, Beam, Guide, Limits, Material, Rail, Section, ShimStock, locked
from framevis.reading.door import Door, did_you_mean, quoted
from framevis.reading.frame_schema import BeamToml, GuideToml, LimitsToml, RailToml, SectionToml, ShimStockToml
from framevis.reading.toml_lines import KeyPath

T = TypeVar("T")
Named = Mapping[str, T | None]  # None: it exists in the file but can't be used

LEAST_CONFORMITY = 0.5001
LEAST_BALL_MM = 0.2
SQUARE_DEG = 1.0  # a normal further off square than this is a mistake, not a rounding
SLACK_MM = 1e-6
MOST_SCREWS = 10_000
USUAL_STEP_UM = 40.0  # between the edges of neighbouring screws; our own choice


def look_up(name: str, table: Named[T], path: KeyPath, what: str, door: Door) -> T | None:
    """The record of that name. None where there is none (said here) or where it is broken (said before)."""
    if name not in table:
        door.refuse(path, f"there is no {what} {quoted(name)}", did_you_mean(name, table))
        return None
    return table[name]


def limits(toml: LimitsToml, door: Door) -> Limits:
    if toml.tight_drag_ratio <= 1.0:
        door.refuse(("limits", "tight_drag_ratio"), f"is {toml.tight_drag_ratio:g}", "it must be more than 1")
    if toml.binding_drag_ratio <= toml.tight_drag_ratio:
        what = f"is {toml.binding_drag_ratio:g}, not more than tight_drag_ratio = {toml.tight_drag_ratio:g}"
        door.refuse(("limits", "binding_drag_ratio"), what, "binding must begin after tight")
    return Limits(toml.tight_drag_ratio, toml.binding_drag_ratio, toml.static_safety)


def shim_stock(toml: ShimStockToml | None, door: Door) -> ShimStock | None:
    if toml is None:
        return None
    sizes = len(toml.thickness_um)
    if len(set(toml.thickness_um)) < sizes:
        door.refuse(("shim_stock", "thickness_um"), "names one thickness twice", "add up their counts")
    if toml.count is not None and len(toml.count) != sizes:
        what = f"has {len(toml.count)} entries for {sizes} thicknesses"
        door.refuse(("shim_stock", "count"), what, "give one count for each thickness, in the same order")
    step = max(USUAL_STEP_UM, min(toml.thickness_um)) if toml.max_step_um is None else toml.max_step_um
    if step < min(toml.thickness_um):
        what = f"is {step:g}, less than the thinnest shim of {min(toml.thickness_um):g}"
        door.refuse(("shim_stock", "max_step_um"), what, "a staircase needs steps of at least one shim")
    return ShimStock(toml.thickness_um, toml.count, toml.max_layers, step)


def section(name: str, toml: SectionToml, mm: float, door: Door) -> Section:
    """A section in mm; a plate is all wall."""
    at = ("section", name)
    if toml.shape == "channel" and toml.mouth is None:
        door.refuse((*at, "mouth"), "is missing", 'a channel needs mouth = "toward_rails" or "away_from_rails"')
    if toml.shape != "channel" and toml.mouth is not None:
        door.refuse((*at, "mouth"), f"a {toml.shape} has no mouth", 'leave mouth out, or set shape = "channel"')
    if toml.shape != "plate" and toml.wall is None:
        door.refuse((*at, "wall"), "is missing", f"a {toml.shape} needs its wall thickness")
    wall = toml.depth if toml.wall is None or toml.shape == "plate" else toml.wall
    deepest = toml.depth if toml.shape == "channel" else toml.depth / 2.0
    if toml.shape != "plate" and toml.wall is not None and (2.0 * wall >= toml.width or wall >= deepest):
        what = f"a wall of {door.length(wall * mm)} leaves nothing open in a {toml.shape} of this width and depth"
        door.refuse((*at, "wall"), what, "correct wall, width or depth")
    own = toml.material
    material = Material(own.label, own.e_gpa, own.alpha_per_k)
    return Section(name, toml.shape, toml.width * mm, toml.depth * mm, wall * mm, toml.mouth, material)


def guide(name: str, toml: GuideToml, mm: float, door: Door) -> Guide:
    _check_guide(("guide", name), toml, mm, door)
    return Guide(
        name=name,
        arrangement=toml.arrangement,
        rail_width_mm=toml.rail_width * mm,
        rail_height_mm=toml.rail_height * mm,
        block_length_mm=toml.block_length * mm,
        block_width_mm=toml.block_width * mm,
        block_height_mm=toml.block_height * mm,
        ball_height_mm=toml.ball_height * mm,
        ball_diameter_mm=toml.ball_diameter * mm,
        balls_per_row=toml.balls_per_row,
        row_spacing_mm=toml.row_spacing * mm,
        row_gap_mm=toml.row_gap * mm,
        contact_angle_deg=toml.contact_angle_deg,
        conformity=toml.conformity,
        preload_interference_um=toml.preload_interference_um,
        friction=toml.friction,
        seal_drag_n=toml.seal_drag_n,
        screw=toml.screw,
        screw_pitch_mm=toml.screw_pitch * mm,
        screw_clearance_um=toml.screw_clearance_um,
        rail_ei_nm2=toml.rail_ei_nm2,
        screw_class=toml.screw_class,
        screw_friction=toml.screw_friction,
        torque_nm=toml.torque_nm,
        c_n=toml.c_n,
        c0_n=toml.c0_n,
    )


def _check_guide(at: KeyPath, toml: GuideToml, mm: float, door: Door) -> None:
    def bad(key: str, what: str, todo: str) -> None:
        door.refuse((*at, key), what, todo)

    if not 0.0 < toml.contact_angle_deg < 90.0:
        bad("contact_angle_deg", f"is {toml.contact_angle_deg:g}", "it must lie between 0 and 90 degrees")
    if toml.conformity <= 0.5:
        bad("conformity", f"is {toml.conformity:g}", "groove radius / ball diameter must be more than 0.5")
    elif toml.conformity < LEAST_CONFORMITY:
        what = f"is {toml.conformity:.10g}, a groove that all but wraps the ball"
        bad("conformity", what, f"groove radius / ball diameter is mostly 0.52 to 0.55, at least {LEAST_CONFORMITY:g}")
    if toml.conformity > 1.0:
        bad("conformity", f"is {toml.conformity:g}", "groove radius / ball diameter is at most 1, mostly 0.52 to 0.55")
    row = (toml.balls_per_row - 1) * BALL_PITCH * toml.ball_diameter
    if row > toml.block_length:
        what = f"a row of {toml.balls_per_row} balls is {door.length(row * mm)} long, more than the block"
        bad("balls_per_row", what, "count the loaded balls of one row, or correct ball_diameter or block_length")
    if toml.arrangement == "gothic" and toml.row_gap > 0.0:
        bad("row_gap", "a gothic guide has one row a side", "leave row_gap out, or set arrangement to O or X")
    if toml.row_spacing >= toml.block_width:
        bad("row_spacing", "is more than the block's width", "measure it between the ball centres of the two sides")
    if toml.ball_diameter * mm < LEAST_BALL_MM:
        least = f"balls are at least {door.length(LEAST_BALL_MM)}"
        bad("ball_diameter", f"is {door.length(toml.ball_diameter * mm)}", least)
    if 0.0 < toml.contact_angle_deg < 10.0 or 80.0 < toml.contact_angle_deg < 90.0:
        bad("contact_angle_deg", f"is {toml.contact_angle_deg:g}", "it is mostly 45 to 60, at least 10 and at most 80")
    if toml.ball_height >= toml.block_height:
        bad("ball_height", "lies above the block's top", "measure it from the rail seat to the ball centres")
    if toml.friction == 0.0 and toml.seal_drag_n == 0.0:
        bad("friction", "with no friction and no seal drag there is no drag to compare with", "give one of them")


def beam(name: str, toml: BeamToml, mm: float, sections: Named[Section], door: Door) -> Beam | None:
    at = ("beam", name)
    found = look_up(toml.section, sections, (*at, "section"), "section", door)
    start, end, normal = (np.array(each) for each in (toml.start, toml.end, toml.normal))
    along, size = (end - start) * mm, float(np.linalg.norm(normal))
    if np.linalg.norm(along) < 1.0:
        door.refuse((*at, "end"), "start and end are the same place", "give the two ends of the beam")
        return None
    if size < 1e-6:
        door.refuse((*at, "normal"), "has no direction", "give the direction out of the face, such as [0, 0, 1]")
        return None
    lean = float(along @ normal / (np.linalg.norm(along) * size))
    if not _is_square(lean, (*at, "normal"), door) or found is None:
        return None
    carried_at = None if toml.carried_at is None else toml.carried_at * mm
    ends = locked(start * mm), locked(end * mm)
    return Beam(name, found, *ends, locked(normal / size), toml.carried_by or (), carried_at)


def _is_square(lean: float, path: KeyPath, door: Door) -> bool:
    """Whether a normal is square to its beam; `lean` is the cosine between the two."""
    off_deg = degrees(float(np.arcsin(min(abs(lean), 1.0))))
    if off_deg > 90.0 - SQUARE_DEG:
        door.refuse(path, "points along the beam", "give the direction out of the mounting face, square to the beam")
    elif off_deg > SQUARE_DEG:
        door.refuse(path, f"is {off_deg:.2g}° off square to the beam", "give the direction out of the mounting face")
    return off_deg <= SQUARE_DEG


def rail(name: str, toml: RailToml, mm: float, beams: Named[Beam], guides: Named[Guide], door: Door) -> Rail | None:
    at = ("rail", name)
    on = look_up(toml.beam, beams, (*at, "beam"), "beam", door)
    kind = look_up(toml.guide, guides, (*at, "guide"), "guide", door)
    if toml.face_deg % 90.0:
        door.refuse((*at, "face_deg"), f"is {toml.face_deg:g}", "a section has four faces: use 0, 90, 180 or 270")
        return None
    if on is None or kind is None:
        return None
    screws = _screws(toml, on, kind, mm, at, door)
    found = Rail(name, on, kind, toml.seat * mm, toml.first_screw * mm, screws, toml.face_deg % 360.0)
    face = on.section.width_mm if found.face_deg % 180.0 == 0.0 else on.section.depth_mm
    if abs(found.seat_mm) > face / 2.0 + SLACK_MM:
        what = f"is {door.length(found.seat_mm)}, beside a face that is {door.length(face)} wide"
        door.refuse((*at, "seat"), what, "give the distance from the middle of the face, to the left positive")
    return found


def _screws(toml: RailToml, on: Beam, kind: Guide, mm: float, at: KeyPath, door: Door) -> int:
    """How many screws a rail has: as many as fit where nothing else is said."""
    first, pitch, length = toml.first_screw * mm, kind.screw_pitch_mm, on.length_mm
    if not -SLACK_MM <= first <= length + SLACK_MM:
        what = f"is {door.length(first)}, off a beam {door.length(length)} long"
        door.refuse((*at, "first_screw"), what, "give the distance from the beam's start to the first screw")
        return 1
    fit = int((length - first) / pitch + 1e-6) + 1
    if toml.screws is not None and toml.screws > fit:
        last = first + (toml.screws - 1) * pitch
        what = f"the last of {toml.screws} screws stands at {door.length(last)}, the beam ends at {door.length(length)}"
        door.refuse((*at, "screws"), what, f"correct screws, first_screw or the guide's screw_pitch; {fit} fit")
    if toml.screws is None and fit > MOST_SCREWS:
        door.refuse((*at, "screws"), f"{fit} screws would fit on this beam", "correct the guide's screw_pitch")
    return min(toml.screws or fit, fit, MOST_SCREWS)


def over_the_mouth(found: Rail, door: Door) -> str | None:
    """A warning where a rail's seat line has no metal under it."""
    own = found.beam.section
    flange = own.width_mm / 2.0 - own.wall_mm
    if own.mouth != "toward_rails" or found.face_deg != 0.0 or abs(found.seat_mm) >= flange:
        return None
    return (
        f"rail {quoted(found.name)} is seated over the mouth of its channel, {door.length(abs(found.seat_mm))} "
        f"from the middle where the flanges begin at {door.length(flange)}: check seat, or the section's mouth"
    )
