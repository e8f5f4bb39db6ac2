"""The ways of measuring of a frame file: which keys each kind takes, and what they must refer to.

Takes the models of `frame_schema`, rails and beams by name and a `Door`; gives `Sweep` records in µm, mm
and mrad. Pull sweeps are for `frame_pulls`, with the same table of keys.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations
from math import acos, degrees
from pathlib import Path

import numpy as np

from framevis.frame import ANGLE_KINDS, Beam, Edge, ErrorCurve, Floats, Rail, Side, Sweep
from framevis.reading.door import Door, a_sweep, did_you_mean, quoted
from framevis.reading.error_curve import read_error_curve
from framevis.reading.frame_carriages import are_parallel
from framevis.reading.frame_parts import Named, look_up
from framevis.reading.frame_sag import SAG_KEYS, sag_of, together
from framevis.reading.frame_schema import SweepToml
from framevis.reading.toml_lines import KeyPath
from framevis.units import MRAD_PER_UNIT, UM_PER_UNIT

SAME_WAY_DEG = 1.0
LEAST_APART_MM = 1.0  # two places nearer than this across carry no straightedge and no level
METRE_MM = 1000.0
LEAST_U_UM, LEAST_U_MRAD = 0.01, 1e-5  # nothing on a shop floor reads finer
LEAST_BASE_MM = 1.0
DEFAULT_U = {"indicator": 2.0, "bridge": 3.0, "gap": 5.0, "mouth": 10.0, "level_along": 0.02, "level_across": 0.02}
SIDES: dict[str, Side] = {"left": "left", "right": "right"}


@dataclass(frozen=True)
class Keys:
    """Which keys a kind of sweep needs and may have; exactly one of `one_of`."""

    needs: tuple[str, ...]
    may: tuple[str, ...] = ()
    one_of: tuple[str, ...] = ()


KEYS = {
    "indicator": Keys(("rail", "direction"), ("reference", "error_csv", "reversed", "sign", *SAG_KEYS)),
    "bridge": Keys(("rails", "direction"), ("absolute", "sign")),
    "gap": Keys(("touches", "feeler_at"), ("span",)),
    "mouth": Keys(("beam",), ("depth_at", "nominal")),
    "level_along": Keys(("base",), ("instrument", "sign"), one_of=("beam", "rail")),
    "level_across": Keys((), ("base", "instrument", "sign"), one_of=("beam", "rail", "rails")),
    "pull": Keys(("carriage",), ("bare_block_n",)),
}


@dataclass(frozen=True)
class Sources:
    """What a sweep may refer to."""

    rails: Named[Rail]
    beams: Named[Beam]
    folder: Path
    mm: float
    up: Floats  # against gravity


def sweep(name: str, toml: SweepToml, sources: Sources, door: Door) -> tuple[Sweep | None, str | None]:
    """One way of measuring, and a warning where its uncertainty had to be assumed."""
    at = ("sweep", name)
    if toml.kind not in KEYS:
        door.refuse((*at, "kind"), f"{quoted(toml.kind)} sweeps are not supported yet", "take this sweep out for now")
        return None, None
    if not has_its_keys(at, toml, door):
        return None, None
    u, warning = _uncertainty(at, toml, sources.mm, door)
    rails, beam = _refers_to(at, toml, sources, door)
    touches, feeler_at = _edges(at, toml, sources.rails, door)
    if toml.kind == "gap" and (len(touches) < 2 or feeler_at is None):
        return None, None
    rails = rails or _rails_of((*touches, feeler_at) if feeler_at else touches)
    error = _error_curve(at, toml, sources.folder, door)
    sag = sag_of(at, toml, rails[0], sources.up, sources.mm, door) if toml.kind == "indicator" and rails else None
    if u is None or (not rails and beam is None):
        return None, None
    mm = sources.mm
    found = Sweep(
        name=name,
        kind=toml.kind,
        u=u,
        rails=rails,
        beam=beam,
        direction=toml.direction,
        reference=toml.reference,
        error=together(error, sag),
        sag_um=0.0 if sag is None else float(np.abs(sag.error_um).max()),
        reversed=toml.reversed,
        base_mm=None if toml.base is None else toml.base * mm,
        instrument=toml.instrument,
        absolute=toml.absolute,
        touches=touches,
        feeler_at=feeler_at,
        span_mm=None if toml.span is None else toml.span * mm,
        depth_at_mm=toml.depth_at * mm,
        nominal_um=None if toml.nominal is None else toml.nominal * mm * 1000.0,
        sign=float(toml.sign),
    )
    _check_geometry(at, found, door)
    return found, warning


def has_its_keys(at: KeyPath, toml: SweepToml, door: Door) -> bool:
    """Whether a sweep has the keys that its kind needs and no others; what is wrong is noted at the door."""
    keys, seen = KEYS[toml.kind], len(door.problems)
    given = {key for key in toml.model_fields_set if key != "kind" and not key.startswith("u_")}
    kind = a_sweep(toml.kind)
    for key in keys.needs:
        if key not in given:
            door.refuse((*at, key), "is missing", f"{kind} needs it")
    for key in sorted(given - {*keys.needs, *keys.may, *keys.one_of}):
        takes = ", ".join((*keys.needs, *keys.one_of, *keys.may))
        door.refuse((*at, key), f"{kind} takes no {key}", f"take it out; its keys are {takes}")
    if keys.one_of and len(given.intersection(keys.one_of)) != 1:
        has = ", ".join(sorted(given.intersection(keys.one_of))) or "none"
        what = f"{kind} needs exactly one of {', '.join(keys.one_of)}; it has {has}"
        door.refuse(at, what, "say what it was taken on")
    if toml.reversed and toml.reference != "straightedge":
        door.refuse((*at, "reversed"), "only a straightedge can be turned over", 'set reference = "straightedge"')
    if toml.error_csv is not None and toml.kind == "indicator" and toml.reference not in {"straightedge", "wire"}:
        todo = 'set reference = "straightedge" or "wire"'
        door.refuse((*at, "error_csv"), "an error curve belongs to a reference of its own", todo)
    return len(door.problems) == seen


def _uncertainty(at: KeyPath, toml: SweepToml, mm: float, door: Door) -> tuple[float | None, str | None]:
    """Standard uncertainty of one reading in µm, or mrad for levels, and a warning where it is assumed."""
    is_angle = toml.kind in ANGLE_KINDS
    given = sorted(key for key in toml.model_fields_set if key.startswith("u_"))
    if not given:
        u = DEFAULT_U[toml.kind]
        size = f"{u:g} mrad" if is_angle else door.small(u)
        key = "u_mrad" if is_angle else "u_um"
        return u, f"sweep {quoted(str(at[-1]))} gives no {key}: {size} is taken for one reading"
    if len(given) > 1:
        door.refuse(at, f"has {' and '.join(given)}", "give the uncertainty of one reading once")
        return None, None
    unit, value = given[0].removeprefix("u_"), float(getattr(toml, given[0]))
    per_unit = MRAD_PER_UNIT if is_angle else UM_PER_UNIT
    if is_angle and unit == "um":
        per_unit = {"um": 1.0 / (METRE_MM if toml.base is None else toml.base * mm)}
    if unit in per_unit:
        u = value * per_unit[unit]
        least = LEAST_U_MRAD if is_angle else LEAST_U_UM
        if u < least:
            size = f"{u:.3g} mrad" if is_angle else door.small(u)
            what = f"is {size}, less than any instrument on a shop floor can do"
            door.refuse((*at, given[0]), what, "give the standard uncertainty of one reading, instrument and hand")
        return u, None
    units = (*MRAD_PER_UNIT, "um") if is_angle else UM_PER_UNIT
    reads = "an angle" if is_angle else "a length"
    todo = "use one of " + ", ".join(f"u_{each}" for each in units)
    door.refuse((*at, given[0]), f"{a_sweep(toml.kind)} reads {reads}", todo)
    return None, None


def _refers_to(at: KeyPath, toml: SweepToml, sources: Sources, door: Door) -> tuple[tuple[Rail, ...], Beam | None]:
    """The rails and the beam that a sweep names; empty where one of them can't be used."""
    if toml.beam is not None:
        return (), look_up(toml.beam, sources.beams, (*at, "beam"), "beam", door)
    if toml.rail is not None:
        found = look_up(toml.rail, sources.rails, (*at, "rail"), "rail", door)
        return ((found,) if found else ()), None
    names = toml.rails or ()
    pair = [look_up(each, sources.rails, (*at, "rails", i), "rail", door) for i, each in enumerate(names)]
    if names and names[0] == names[1]:
        door.refuse((*at, "rails"), f"names {quoted(names[0])} twice", "name two different rails")
        return (), None
    rails = tuple(each for each in pair if each is not None)
    return (rails if len(rails) == len(names) else ()), None


def _edges(at: KeyPath, toml: SweepToml, rails: Named[Rail], door: Door) -> tuple[tuple[Edge, ...], Edge | None]:
    """The two edges that a straightedge touches and the one where the feeler goes in."""
    if toml.touches is None or toml.feeler_at is None:
        return (), None
    paths: tuple[KeyPath, ...] = ((*at, "touches", 0), (*at, "touches", 1), (*at, "feeler_at"))
    names = (*toml.touches, toml.feeler_at)
    edges = [_edge(path, each[0], each[1], rails, door) for path, each in zip(paths, names, strict=True)]
    for (i, one), (j, other) in combinations(enumerate(names), 2):
        if one == other:
            what = f"the {one[1]} edge of rail {quoted(one[0])} is named twice"
            door.refuse(paths[j], what, "name three different edges")
            edges[i] = None
    touches = tuple(edge for edge in edges[:2] if edge is not None)
    return touches, edges[2]


def _edge(path: KeyPath, rail: str, side: str, rails: Named[Rail], door: Door) -> Edge | None:
    found = look_up(rail, rails, (*path, 0), "rail", door)
    if side not in SIDES:
        door.refuse((*path, 1), f"there is no side {quoted(side)}", did_you_mean(side, SIDES))
        return None
    return None if found is None else Edge(found, SIDES[side])


def _rails_of(edges: Iterable[Edge]) -> tuple[Rail, ...]:
    return tuple({edge.rail.name: edge.rail for edge in edges}.values())


def _error_curve(at: KeyPath, toml: SweepToml, folder: Path, door: Door) -> ErrorCurve | None:
    if toml.error_csv is None:
        return None
    return read_error_curve(folder, toml.error_csv, (*at, "error_csv"), door)


def _check_geometry(at: KeyPath, found: Sweep, door: Door) -> None:
    first = found.rails[0] if found.rails else None
    for other in found.rails[1:]:
        assert first is not None
        _check_pair(at, first, other, door)
    if found.kind == "mouth":
        _check_mouth(at, found, door)
    if found.base_mm is not None and found.base_mm < LEAST_BASE_MM:
        door.refuse((*at, "base"), f"is {door.length(found.base_mm)}", "give the distance between the level's feet")
    if found.kind == "level_along" and found.base_mm is not None and found.base_mm > found.station_beam.length_mm:
        what = f"is {door.length(found.base_mm)}, longer than the beam"
        door.refuse((*at, "base"), what, "give the distance between the level's feet")
    if found.kind == "level_across" and first is not None and len(found.rails) == 2:
        apart = (found.rails[1].point(0.0) - first.point(0.0)) @ first.axes[1]
        if abs(apart) < LEAST_APART_MM:
            door.refuse((*at, "rails"), "the two rails stand at the same place across", "name two rails side by side")
    if found.kind == "gap" and first is not None:
        one, other_place = (_across(first, edge, found.span_mm) for edge in found.touches)
        if abs(one - other_place) < LEAST_APART_MM:
            door.refuse((*at, "touches"), "both edges stand at the same place across", "name two edges apart")


def _check_pair(at: KeyPath, one: Rail, other: Rail, door: Door) -> None:
    names = f"rails {quoted(one.name)} and {quoted(other.name)}"
    if not are_parallel(one.beam, other.beam):
        door.refuse(at, f"{names} are not parallel", "correct the ends of their beams; they may differ by 1 mm/m")
        return
    cosine = float(np.clip(one.axes[2] @ other.axes[2], -1.0, 1.0))
    if degrees(acos(cosine)) > SAME_WAY_DEG:
        todo = "measure between rails whose faces look the same way"
        door.refuse(at, f"{names} face different ways, {degrees(acos(cosine)):.2g}° apart", todo)


def _check_mouth(at: KeyPath, found: Sweep, door: Door) -> None:
    section = found.station_beam.section
    if section.shape != "channel":
        what = f"the section of beam {quoted(found.station_beam.name)} is a {section.shape}"
        door.refuse((*at, "beam"), what, "only a channel has a mouth to measure")
    if not 0.0 <= found.depth_at_mm <= section.depth_mm:
        what = f"is {door.length(found.depth_at_mm)} in a section {door.length(section.depth_mm)} deep"
        door.refuse((*at, "depth_at"), what, "give the depth below the flange tips at which the calliper sat")


def _across(base: Rail, edge: Edge, span_mm: float | None) -> float:
    """How far an edge lies to the left of a rail, mm."""
    half = (edge.rail.guide.block_width_mm if span_mm is None else span_mm) / 2.0
    place = edge.rail.point(0.0) + edge.rail.axes[1] * (half if edge.side == "left" else -half)
    return float((place - base.point(0.0)) @ base.axes[1])
