"""What deviates: the unknown functions of s, and how a rail's lateral, height and roll follow from them.

Takes the frame, gives for each rail the weights with which each function enters (section 3 of the design):
everything downstream, numbers and picture, goes through these weights, so the two can't differ.
Deviations µm, angles mrad, lengths mm (mrad · mm = µm).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Literal

import numpy as np

from framevis.frame import Beam, Floats, Frame, Indices, Rail
from framevis.opening import seat_motion
from framevis.strip import Strip

Kind = Literal[
    "bow_lateral",
    "bow_height",
    "twist",
    "opening",
    "own_lateral",
    "own_height",
    "own_roll",
    "shim_height",
    "shim_roll",
    "push_lateral",
]
Cause = Literal["bow", "twist", "opening", "own", "shims"]
Component = Literal["lateral", "height", "roll"]
Key = tuple[Kind, str]  # a function, and the beam or rail that has it
Weights = Mapping[Key, float]

CAUSE_OF: dict[Kind, Cause] = {
    "bow_lateral": "bow",
    "bow_height": "bow",
    "twist": "twist",
    "opening": "opening",
    "own_lateral": "own",
    "own_height": "own",
    "own_roll": "own",
    "shim_height": "shims",
    "shim_roll": "shims",
    "push_lateral": "own",
}
CAUSES: tuple[Cause, ...] = ("bow", "twist", "opening", "own", "shims")
BEAM_KINDS: tuple[Kind, ...] = ("bow_lateral", "bow_height", "twist")
RAIL_KINDS: tuple[Kind, ...] = ("own_lateral", "own_height", "own_roll")


def combine(*scaled: tuple[float, Weights]) -> dict[Key, float]:
    """Σ factor · weights, without the functions that fall out."""
    total: dict[Key, float] = {}
    for factor, weights in scaled:
        for key, weight in weights.items():
            total[key] = total.get(key, 0.0) + factor * weight
    return {key: weight for key, weight in total.items() if weight != 0.0}


def beam_keys(beam: Beam) -> tuple[Key, ...]:
    """The unknown functions of a beam; only a channel can open."""
    kinds = (*BEAM_KINDS, "opening") if beam.section.shape == "channel" else BEAM_KINDS
    return tuple((kind, beam.name) for kind in kinds)


def rail_keys(rail: Rail) -> tuple[Key, ...]:
    """The unknown functions of a rail: what it has beyond its seat."""
    return tuple((kind, rail.name) for kind in RAIL_KINDS)


@lru_cache(maxsize=1024)
def rail_weights(rail: Rail, component: Component, up_mm: float | None = None) -> Weights:
    """Weights of each function in a rail's lateral, height or roll, in the axes of the rail's own face.

    `lateral` is taken `up_mm` above the seat; by default at the ball centres, where stylus and block feel it.
    """
    beam = rail.beam.name
    across, up = rail.seat_in_beam
    g_t, g_n, g_r = seat_motion(rail)
    if component == "roll":
        own: dict[Key, float] = {("own_roll", rail.name): 1.0, ("shim_roll", rail.name): 1.0}
        return combine((1.0, {("twist", beam): 1.0, ("opening", beam): g_r, **own}))
    along_t, along_n = rail.axes_in_beam[0 if component == "lateral" else 1]
    seat: dict[Key, float] = {
        ("bow_lateral", beam): along_t,
        ("bow_height", beam): along_n,
        ("twist", beam): along_n * across - along_t * up,
        ("opening", beam): along_t * g_t + along_n * g_n,
    }
    if component == "height":
        return combine((1.0, {**seat, ("own_height", rail.name): 1.0, ("shim_height", rail.name): 1.0}))
    lever = rail.guide.ball_height_mm if up_mm is None else up_mm
    own = {("own_lateral", rail.name): 1.0, ("push_lateral", rail.name): 1.0}
    return combine((1.0, {**seat, **own}), (-lever, rail_weights(rail, "roll")))


@dataclass(frozen=True, eq=False)
class Layout:
    """All unknown functions of a frame in one coefficient vector of length `size`."""

    strips: Mapping[Key, Strip]

    @staticmethod
    def of(frame: Frame) -> Layout:
        strips = {key: Strip(beam.length_mm) for beam in frame.beams for key in beam_keys(beam)}
        strips |= {key: Strip(rail.beam.length_mm) for rail in frame.rails for key in rail_keys(rail)}
        return Layout(strips)

    @cached_property
    def places(self) -> dict[Key, slice]:
        places, start = {}, 0
        for key, strip in self.strips.items():
            places[key] = slice(start, start + strip.size)
            start += strip.size
        return places

    @cached_property
    def size(self) -> int:
        return sum(strip.size for strip in self.strips.values())

    def only(self, keys: Iterable[Key]) -> tuple[Layout, Indices]:
        """The layout of some functions alone, in the order of this one, and where their coefficients stand here."""
        wanted = set(keys)
        part = Layout({key: strip for key, strip in self.strips.items() if key in wanted})
        places = [np.arange(self.places[key].start, self.places[key].stop) for key in part.strips]
        return part, np.concatenate([np.zeros(0, dtype=np.intp), *places])


Known = Mapping[Key, Callable[[Floats, int], Floats]]


@dataclass(frozen=True, eq=False)
class Deviations:
    """One set of functions of s: `coefficients` (size,) in the shapes of the layout's strips (µm, mrad).

    `known` gives the functions that need no estimate (shims fitted under rails): stations, derivative → values.
    """

    layout: Layout
    coefficients: Floats
    known: Known

    def value(self, key: Key, stations_mm: Floats, derivative: int = 0) -> Floats:
        """A function, or its derivative by s, at stations (N,); zero where the frame has no such function."""
        stations = np.asarray(stations_mm, dtype=np.float64)
        if key in self.known:
            return self.known[key](stations, derivative)
        if key not in self.layout.strips:
            return np.zeros(stations.shape)
        shapes = self.layout.strips[key].shapes(stations, derivative)
        return np.asarray(shapes @ self.coefficients[self.layout.places[key]])

    def along(
        self, weights: Weights, stations_mm: Floats, derivative: int = 0, causes: Iterable[Cause] = CAUSES
    ) -> Floats:
        """Σ weight · function at stations (N,), of the causes named (`CAUSES`: all of them)."""
        total = np.zeros(np.shape(stations_mm))
        wanted = set(causes)
        for key, weight in weights.items():
            if CAUSE_OF[key[0]] in wanted:
                total = total + weight * self.value(key, stations_mm, derivative)
        return total

    def scaled(self, factor: float) -> Deviations:
        """The same with every estimated function multiplied: 0 gives the frame as drawn, with its shims."""
        return Deviations(self.layout, self.coefficients * factor, self.known)
