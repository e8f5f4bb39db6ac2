"""Readings as arrows: where each was taken, which way it counts, and the number as it was read.

Takes a study with readings, gives for each sweep the feet of its arrows, their lengths in µm (magnified like the
deviations) and their words. Indicator: along its direction from the rail. Bridge: from the second rail, the way it
stands off. Gap: at the feeler's edge, upward. Mouth: at both flanges, half each. Level: the rise over what it
stands on, left edge or front end up.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from framevis.frame import Floats, Rail, SweepReadings
from framevis.observe import across_mm, companion_stations, view
from framevis.pictures.riding import Riding, on_beam, on_rail
from framevis.pictures.warp import StudyLike
from framevis.units import UM_PER_UNIT

WHOLE_UM = 5000.0  # a reading beyond this is a whole size, not a deviation
FIRST_READ = 0.02  # readings of a sweep nearer than this (mm) stand at one station


@dataclass(frozen=True, eq=False)
class Arrows:
    """The arrows of one sweep: feet, `along` (N, 3) µm as measured, `words` for each, `values` as read (µm, mrad)."""

    sweep: str
    kind: str
    feet: Riding
    along: Floats
    values: Floats
    words: tuple[str, ...]


def arrows_of(study: StudyLike) -> tuple[Arrows, ...]:
    """All arrows of a study, a sweep each (a mouth two); none where a study has no readings."""
    readings = getattr(study, "readings", None)
    made: list[Arrows] = []
    for taken in () if readings is None else readings.sweeps:
        if taken.values.size and taken.sweep.kind in PLACES:
            made += PLACES[taken.sweep.kind](study, _averaged(taken))
    return tuple(made)


def _averaged(taken: SweepReadings) -> SweepReadings:
    """Repeated readings of a station as one: their mean."""
    keys = np.round(taken.station_mm / FIRST_READ)
    _, first, place, count = np.unique(keys, return_index=True, return_inverse=True, return_counts=True)
    mean = np.bincount(place, weights=taken.values) / count
    return replace(taken, station_mm=taken.station_mm[first], values=mean)


def said(taken: SweepReadings, unit_name: str) -> tuple[str, ...]:
    """Each value as it was read, with its unit; a whole size (a mouth) as a length."""
    if taken.sweep.is_angle:
        return tuple(f"{value:+.2f} mrad" for value in taken.values)
    if np.any(np.abs(taken.values) > WHOLE_UM):
        per, name = (25_400.0, "in") if unit_name == "in" else (1000.0, "mm")
        return tuple(f"{um / per:.{4 if name == 'in' else 2}f} {name}" for um in taken.values)
    if unit_name == "in":
        return tuple(f"{_clean(um / UM_PER_UNIT['thou'], 1):+.1f} thou" for um in taken.values)
    return tuple(f"{_clean(um, 0):+.0f} µm" for um in taken.values)


def _clean(value: float, digits: int) -> float:
    """Rounded, and never minus nothing."""
    return round(float(value), digits) + 0.0


def _off(taken: SweepReadings) -> Floats:
    """Values (N,) less what the frame as drawn would show, µm or mrad."""
    drawn = view(taken.sweep, taken.station_mm[:1]).constant
    if taken.sweep.kind == "mouth" and np.any(np.abs(taken.values) > WHOLE_UM):
        section = taken.sweep.station_beam.section
        drawn = taken.sweep.sign * 1000.0 * (section.width_mm - 2.0 * section.wall_mm)
    return np.asarray(taken.values - drawn)


def _made(study: StudyLike, taken: SweepReadings, feet: Riding, um: Floats, axis: Floats, words: bool = True) -> Arrows:
    """Arrows of lengths (N,) µm along an axis (3,)."""
    texts = said(taken, study.frame.length_unit) if words else ("",) * um.size
    along = (taken.sweep.sign * um)[:, None] * axis
    return Arrows(taken.sweep.name, taken.sweep.kind, feet, along, taken.values, texts)


def _on_rail(study: StudyLike, rail: Rail, station: Floats, across: float, up: float) -> Riding:
    local = np.column_stack([station, np.full_like(station, across), np.full_like(station, up)])
    return on_rail(study, rail, local)


def _indicator(study: StudyLike, taken: SweepReadings) -> list[Arrows]:
    rail, guide = taken.sweep.rails[0], taken.sweep.rails[0].guide
    sideways = taken.sweep.direction == "lateral"
    up = guide.ball_height_mm if sideways else guide.rail_height_mm
    feet = _on_rail(study, rail, taken.station_mm, 0.0, up)
    return [_made(study, taken, feet, _off(taken), rail.axes[1 if sideways else 2])]


def _bridge(study: StudyLike, taken: SweepReadings) -> list[Arrows]:
    first, second = taken.sweep.rails
    station = companion_stations(first, second, taken.station_mm)
    feet = _on_rail(study, second, station, 0.0, second.guide.rail_height_mm)
    axis = first.axes[1 if taken.sweep.direction == "lateral" else 2]
    return [_made(study, taken, feet, _off(taken), axis)]


def _gap(study: StudyLike, taken: SweepReadings) -> list[Arrows]:
    edge, base = taken.sweep.feeler_at, taken.sweep.touches[0].rail
    assert edge is not None
    guide, side = edge.rail.guide, 1.0 if edge.side == "left" else -1.0
    half = (guide.block_width_mm if taken.sweep.span_mm is None else taken.sweep.span_mm) / 2.0
    station = companion_stations(base, edge.rail, taken.station_mm)
    feet = _on_rail(study, edge.rail, station, side * half, guide.block_height_mm)
    return [_made(study, taken, feet, _off(taken), base.axes[2])]


def _mouth(study: StudyLike, taken: SweepReadings) -> list[Arrows]:
    beam = taken.sweep.station_beam
    section = beam.section
    n = -taken.sweep.depth_at_mm if section.mouth == "toward_rails" else taken.sweep.depth_at_mm - section.depth_mm
    made = []
    for side in (1.0, -1.0):
        t = np.full_like(taken.station_mm, side * section.width_mm / 2.0)
        feet = on_beam(study, beam, np.column_stack([taken.station_mm, t, np.full_like(t, n)]))
        made.append(_made(study, taken, feet, _off(taken) / 2.0, side * beam.axes[1], words=side > 0.0))
    return made


def _level_across(study: StudyLike, taken: SweepReadings) -> list[Arrows]:
    beam, rails = taken.sweep.station_beam, taken.sweep.rails
    if not rails:
        wide = beam.section.width_mm
        local = [taken.station_mm, np.full_like(taken.station_mm, wide / 2.0), np.zeros_like(taken.station_mm)]
        return [_made(study, taken, on_beam(study, beam, np.column_stack(local)), _off(taken) * wide, beam.axes[2])]
    first, guide = rails[0], rails[0].guide
    if len(rails) == 1:
        wide = guide.block_width_mm
        feet = _on_rail(study, first, taken.station_mm, wide / 2.0, guide.rail_height_mm)
        return [_made(study, taken, feet, _off(taken) * wide, first.axes[2])]
    apart = across_mm(first, rails[1])
    rail, station = first, taken.station_mm
    if apart > 0.0:
        rail, station = rails[1], companion_stations(first, rails[1], station)
    feet = _on_rail(study, rail, station, 0.0, rail.guide.rail_height_mm)
    return [_made(study, taken, feet, _off(taken) * abs(apart), first.axes[2])]


def _level_along(study: StudyLike, taken: SweepReadings) -> list[Arrows]:
    beam, base = taken.sweep.station_beam, taken.sweep.base_mm or 1.0
    front = taken.station_mm + base / 2.0
    if taken.sweep.rails:
        rail = taken.sweep.rails[0]
        feet = _on_rail(study, rail, front, 0.0, rail.guide.rail_height_mm)
        return [_made(study, taken, feet, _off(taken) * base, rail.axes[2])]
    feet = on_beam(study, beam, np.column_stack([front, np.zeros_like(front), np.zeros_like(front)]))
    return [_made(study, taken, feet, _off(taken) * base, beam.axes[2])]


PLACES: dict[str, Callable[[StudyLike, SweepReadings], list[Arrows]]] = {
    "indicator": _indicator,
    "bridge": _bridge,
    "gap": _gap,
    "mouth": _mouth,
    "level_across": _level_across,
    "level_along": _level_along,
}
