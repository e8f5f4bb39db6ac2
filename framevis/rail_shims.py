"""How a rail lies on the shims under it: the known part of its height and roll.

Takes the shims fitted at a stage, gives functions of s. Between its screws a rail is a beam through its screw
points, so its lift is a natural cubic spline; its roll is linear between screws.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np
from scipy.interpolate import CubicSpline

from framevis.deviations import Key
from framevis.frame import Floats, Rail, RailSpot, Shim

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


def known_functions(rails: Iterable[Rail], shims: tuple[Shim, ...]) -> dict[Key, Curve]:
    """`shim_height` (µm) and `shim_roll` (mrad) of every rail that has shims under it."""
    known: dict[Key, Curve] = {}
    for rail in rails:
        lift, roll = lift_and_roll_at_screws(rail, shims)
        if np.any(lift) or np.any(roll):
            known["shim_height", rail.name] = _beam_through(rail.screw_stations_mm, lift)
            known["shim_roll", rail.name] = _straight_between(rail.screw_stations_mm, roll)
    return known


def _beam_through(stations_mm: Floats, values: Floats) -> Curve:
    """A natural cubic spline, straight beyond its ends; of one point a constant."""
    if stations_mm.size == 1:
        return lambda s, derivative: np.full(np.shape(s), values[0] if derivative == 0 else 0.0)
    spline = CubicSpline(stations_mm, values, bc_type="natural")
    first, last = stations_mm[0], stations_mm[-1]

    def curve(s: Floats, derivative: int) -> Floats:
        inside = np.clip(s, first, last)
        value = spline(inside, derivative)
        return np.asarray(value + spline(inside, 1) * (s - inside) if derivative == 0 else value)

    return curve


def _straight_between(stations_mm: Floats, values: Floats) -> Curve:
    """Linear in between, constant beyond the ends."""
    slopes = np.concatenate([[0.0], np.diff(values) / np.diff(stations_mm), [0.0]])

    def curve(s: Floats, derivative: int) -> Floats:
        if derivative == 0:
            return np.interp(s, stations_mm, values)
        return np.asarray(slopes[np.searchsorted(stations_mm, s)])

    return curve
