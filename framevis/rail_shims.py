"""How a rail lies on the shims under it and where it was pushed to: the known part of its height, roll and lateral.

Takes the shims and pushes of a stage, gives functions of s. Between its screws a rail is a beam through its screw
points, so its lift (and its lateral, where it was pushed) is a natural cubic spline; its roll is linear between screws.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

from framevis.deviations import Key
from framevis.frame import Floats, Frame, Push, Rail, RailSpot, Shim
from framevis.natural_spline import NaturalSpline

Curve = Callable[[Floats, int], Floats]


def lift_and_roll_at_screws(rail: Rail, shims: Iterable[Shim]) -> tuple[Floats, Floats]:
    """Lift (µm) of the rail's middle and roll (mrad) at each screw, (screws,).

    A shim under one edge lifts that edge; the rail turns about its other edge, so its middle rises by half.
    """
    lift, roll = np.zeros(rail.screws), np.zeros(rail.screws)
    for shim in shims:
        if isinstance(shim.spot, RailSpot) and shim.spot.rail == rail.name:
            side = {"full": 0.0, "left": 1.0, "right": -1.0}[shim.spot.part]
            lift[shim.spot.screw - 1] += shim.thickness_um * (1.0 if side == 0.0 else 0.5)
            roll[shim.spot.screw - 1] += side * shim.thickness_um / rail.guide.rail_width_mm
    return lift, roll


def push_at_screws(rail: Rail, pushes: Iterable[Push]) -> Floats:
    """How far a rail was pushed to the left at each screw, µm (screws,)."""
    lateral = np.zeros(rail.screws)
    for push in pushes:
        if push.rail == rail.name:
            lateral[push.screw - 1] += push.push_um
    return lateral


def known_at(frame: Frame, stage: str) -> dict[Key, Curve]:
    """The known functions of a stage: its shims under rails, its pushes."""
    return known_functions(frame.rails, frame.shims_at(stage), frame.pushes_at(stage))


def known_functions(rails: Iterable[Rail], shims: tuple[Shim, ...], pushes: tuple[Push, ...] = ()) -> dict[Key, Curve]:
    """`shim_height` (µm), `shim_roll` (mrad) of every rail with shims under it, `push_lateral` (µm) of those pushed."""
    known: dict[Key, Curve] = {}
    for rail in rails:
        lift, roll = lift_and_roll_at_screws(rail, shims)
        if np.any(lift) or np.any(roll):
            known["shim_height", rail.name] = beam_through(rail.screw_stations_mm, lift)
            known["shim_roll", rail.name] = straight_between(rail.screw_stations_mm, roll)
        lateral = push_at_screws(rail, pushes)
        if np.any(lateral):
            known["push_lateral", rail.name] = beam_through(rail.screw_stations_mm, lateral)
    return known


def beam_through(stations_mm: Floats, values: Floats) -> Curve:
    """A natural cubic spline, straight beyond its ends; of one point a constant.

    `values` (screws,) or (screws, K): K curves at once, along the last axis of what it gives.
    """
    if stations_mm.size == 1:
        return lambda s, derivative: np.multiply.outer(np.full(np.shape(s), float(derivative == 0)), values[0])
    spline = NaturalSpline(stations_mm, values)
    first, last = stations_mm[0], stations_mm[-1]

    def curve(s: Floats, derivative: int) -> Floats:
        inside = np.clip(s, first, last)
        value = spline(inside, derivative)
        beyond = np.reshape(s - inside, np.shape(s) + (1,) * (values.ndim - 1))
        return np.asarray(value + spline(inside, 1) * beyond if derivative == 0 else value)

    return curve


def straight_between(stations_mm: Floats, values: Floats) -> Curve:
    """Linear in between, constant beyond the ends. `values` (screws,) or (screws, K)."""
    if stations_mm.size == 1:
        return beam_through(stations_mm, values)
    gaps = np.reshape(np.diff(stations_mm), (-1,) + (1,) * (values.ndim - 1))
    level = np.zeros((1, *values.shape[1:]))
    slopes = np.concatenate([level, np.diff(values, axis=0) / gaps, level])
    hats = np.eye(stations_mm.size)

    def curve(s: Floats, derivative: int) -> Floats:
        if derivative == 0:
            return np.asarray(np.stack([np.interp(s, stations_mm, hat) for hat in hats], axis=-1) @ values)
        return np.asarray(slopes[np.searchsorted(stations_mm, s)])

    return curve
