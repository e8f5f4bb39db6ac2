"""What each way of measuring sees: every reading as a weighted sum of the unknown functions, up to its unknowns.

Takes the frame and a stage's readings, gives rows. To add a kind of sweep: write one function that returns what
it sees and what it leaves open, and enter it in `SEES`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from framevis.deviations import Key, Weights, combine, rail_weights
from framevis.frame import Direction, Edge, Floats, Rail, Sweep, SweepReadings

Column = tuple[tuple[str, ...], Floats]  # an unknown that readings share, and how it enters them (N,)


@dataclass(frozen=True, eq=False)
class Part:
    """Weights of the functions at stations (N,): a reading sums its parts."""

    weights: Weights
    station_mm: Floats


@dataclass(frozen=True, eq=False)
class View:
    """What a sweep sees at its stations, and the constant (µm) that the frame as drawn would show."""

    parts: tuple[Part, ...]
    constant: float = 0.0


def view(sweep: Sweep, station_mm: Floats) -> View:
    """What a sweep sees at stations (N,), with the sign of its readings."""
    seen = SEES[sweep.kind](sweep, np.asarray(station_mm, dtype=np.float64))
    parts = tuple(Part(combine((sweep.sign, part.weights)), part.station_mm) for part in seen.parts)
    return View(parts, sweep.sign * seen.constant)


def companion_stations(rail: Rail, other: Rail, station_mm: Floats) -> Floats:
    """Stations on another rail's beam, at the feet of the perpendiculars from places (N,) on a rail."""
    start = other.beam.station_of(rail.point(0.0))
    return np.asarray(start + float(other.beam.axes[0] @ rail.beam.axes[0]) * station_mm)


def toward(rail: Rail, other: Rail, direction: Direction) -> dict[Key, float]:
    """Weights of another rail's deviation in the lateral or height direction of a rail that faces the same way."""
    axis = rail.axes[1 if direction == "lateral" else 2]
    return combine(
        (float(axis @ other.axes[1]), rail_weights(other, "lateral")) if direction == "lateral" else (0.0, {}),
        (float(axis @ other.axes[2]), rail_weights(other, "height")) if direction == "height" else (0.0, {}),
    )


def across_mm(rail: Rail, other: Rail) -> float:
    """How far another rail lies to the left of a rail."""
    return float((other.point(0.0) - rail.point(0.0)) @ rail.axes[1])


def _indicator(sweep: Sweep, s: Floats) -> View:
    rail, direction = sweep.rails[0], sweep.direction or "height"
    if sweep.reference == "face":  # the beam's own side bends and opens with the rail's seat: only the rail's own shows
        lateral: Weights = {("own_lateral", rail.name): 1.0, ("push_lateral", rail.name): 1.0}
        height: Weights = {("own_height", rail.name): 1.0, ("shim_height", rail.name): 1.0}
        return View((Part(lateral if direction == "lateral" else height, s),))
    return View((Part(rail_weights(rail, direction), s),))


def _level_along(sweep: Sweep, s: Floats) -> View:
    base = sweep.base_mm or 1.0
    height: Weights
    height = rail_weights(sweep.rails[0], "height") if sweep.rails else {("bow_height", sweep.station_beam.name): 1.0}
    front, back = combine((1.0 / base, height)), combine((-1.0 / base, height))
    return View((Part(front, s + base / 2.0), Part(back, s - base / 2.0)))


def _level_across(sweep: Sweep, s: Floats) -> View:
    if not sweep.rails:
        return View((Part({("twist", sweep.station_beam.name): 1.0}, s),))
    if len(sweep.rails) == 1:
        return View((Part(rail_weights(sweep.rails[0], "roll"), s),))
    a, b = sweep.rails
    per_mm = 1.0 / across_mm(a, b)
    return View(
        (
            Part(combine((per_mm, toward(a, b, "height"))), companion_stations(a, b, s)),
            Part(combine((-per_mm, rail_weights(a, "height"))), s),
        )
    )


def _bridge(sweep: Sweep, s: Floats) -> View:
    (a, b), direction = sweep.rails, sweep.direction or "height"
    mine = combine((-1.0, rail_weights(a, direction)))
    return View((Part(toward(a, b, direction), companion_stations(a, b, s)), Part(mine, s)))


def _gap(sweep: Sweep, s: Floats) -> View:
    """Straightedge line through two edges, less the surface at a third."""
    first, second, feeler = (*sweep.touches, sweep.feeler_at)
    assert feeler is not None
    base = first.rail
    place = [_edge_place(base, edge, sweep.span_mm) for edge in (first, second, feeler)]
    share = (place[2][0] - place[0][0]) / (place[1][0] - place[0][0])
    factors = (1.0 - share, share, -1.0)
    parts = [
        Part(combine((factor, _edge_height(base, edge, sweep.span_mm))), companion_stations(base, edge.rail, s))
        for factor, edge in zip(factors, (first, second, feeler), strict=True)
    ]
    constant = 1000.0 * sum(factor * up for factor, (_, up) in zip(factors, place, strict=True))
    return View(tuple(parts), constant if abs(constant) > 1e-6 else 0.0)


def _edge_place(base: Rail, edge: Edge, span_mm: float | None) -> tuple[float, float]:
    """(across, up) of an edge in the axes of the base rail, mm, as drawn."""
    guide, side = edge.rail.guide, 1.0 if edge.side == "left" else -1.0
    half = (guide.block_width_mm if span_mm is None else span_mm) / 2.0
    top = edge.rail.point(0.0, guide.block_height_mm) + edge.rail.axes[1] * side * half
    away = top - base.point(0.0)
    return float(away @ base.axes[1]), float(away @ base.axes[2])


def _edge_height(base: Rail, edge: Edge, span_mm: float | None) -> Weights:
    half = (edge.rail.guide.block_width_mm if span_mm is None else span_mm) / 2.0
    lever = half if edge.side == "left" else -half
    return combine((1.0, toward(base, edge.rail, "height")), (lever, rail_weights(edge.rail, "roll")))


def _mouth(sweep: Sweep, s: Floats) -> View:
    """Both flanges splay: the mouth widens by twice the angle times the height above the flanges' feet."""
    beam = sweep.station_beam
    lever = beam.section.depth_mm - sweep.depth_at_mm
    return View((Part({("opening", beam.name): 2.0 * lever}, s),), sweep.nominal_um or 0.0)


SEES: dict[str, Callable[[Sweep, Floats], View]] = {
    "indicator": _indicator,
    "level_along": _level_along,
    "level_across": _level_across,
    "bridge": _bridge,
    "gap": _gap,
    "mouth": _mouth,
}


def unknowns(readings: SweepReadings, taken: Iterable[SweepReadings]) -> list[Column]:
    """What a sweep leaves open: setting, slope of the reference, zero of a level, drift, a straightedge's error.

    `taken`: all sweeps of the stage.
    """
    sweep, s = readings.sweep, readings.station_mm
    columns: list[Column] = []
    setting = np.ones_like(s)
    if sweep.kind == "indicator":
        columns.append(((sweep.name, "offset"), setting))
        if sweep.reference != "face":
            columns.append(((sweep.name, "slope"), s - s.mean()))
    elif sweep.is_angle:
        columns.append(((sweep.kind, sweep.instrument or sweep.name, "zero"), setting))
    elif (sweep.kind == "bridge" and not sweep.absolute) or (sweep.kind == "mouth" and sweep.nominal_um is None):
        columns.append(((sweep.name, "offset"), setting))
    if columns and _returns(readings):
        columns.append(((sweep.name, "drift"), readings.order - readings.order.mean()))
    return columns + _straightedge_error(readings, taken)


def _returns(readings: SweepReadings) -> bool:
    """Whether the first station was taken again in a later row: then a drift of the instrument can be told."""
    again = readings.station_mm == readings.station_mm[0]
    return bool(np.any(readings.order[again] > readings.order[0]))


def _straightedge_error(readings: SweepReadings, taken: Iterable[SweepReadings]) -> list[Column]:
    """Where the run with the straightedge turned over was taken too, its error: it cancels in the mean of both.

    The error is straight between the stations of the run that has fewer, and the same beyond what both cover.
    """
    sweep, s = readings.sweep, readings.station_mm
    if sweep.kind != "indicator" or sweep.reference == "face":
        return []
    runs = [other for other in taken if other.sweep.follows_line_of(sweep)]
    forward, turned = ([run.station_mm for run in runs if run.sweep.reversed is way] for way in (False, True))
    if not forward or not turned:
        return []
    one, other = np.unique(np.concatenate(forward)), np.unique(np.concatenate(turned))
    low, high = max(one[0], other[0]), min(one[-1], other[-1])
    sparse = one if one.size <= other.size else other
    nodes = sparse[(sparse >= low) & (sparse <= high)]
    if nodes.size == 0:
        return []
    sign = sweep.sign * (1.0 if sweep.reversed else -1.0)
    name = (sweep.rails[0].name, str(sweep.direction), str(sweep.reference), "straightedge error")
    hats = np.eye(nodes.size)
    return [((*name, f"{node:.3f}"), sign * np.interp(s, nodes, hat)) for node, hat in zip(nodes, hats, strict=True)]


def corrected(readings: SweepReadings) -> Floats:
    """Readings (N,) less what is known: the calibrated error of the reference, the frame as drawn.

    An error is positive where the straightedge's face stands out to the left or up: the indicator then reads less.
    """
    sweep = readings.sweep
    values = readings.values - view(sweep, readings.station_mm[:1]).constant
    if sweep.error is not None:
        error = np.interp(readings.station_mm, sweep.error.station_mm, sweep.error.error_um)
        values = values + (-1.0 if sweep.reversed else 1.0) * sweep.sign * error
    return values
