"""What a single thing gone wrong would do to the readings of a later stage: the hypotheses that `compare` tries.

Takes the frame, two stages and the readings held; gives a table of causes with their patterns: by how much every
reading would differ from what is expected.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from framevis.deviations import Key, Kind, Layout, beam_keys
from framevis.frame import Floats, Frame, Part, Rail, RailSpot, SweepReadings
from framevis.observe import view
from framevis.rail_shims import Curve, beam_through, push_at_screws, straight_between

CauseKind = Literal[
    "left_out", "run_left_out", "nothing_done", "wrong_edge", "not_pushed", "walked", "moved", "dirt", "reading"
]
FEW_SHAPES, MORE_SHAPES = 3, 8  # of a strip: offset, slope, bow; and five finer bends
LEAVES: tuple[Part, ...] = ("full", "left", "right")


@dataclass(frozen=True)
class Cause:
    """One thing that may have gone wrong. `where`: a rail, beam or sweep; screws count from 1.

    `kind`: shims fitted (or taken out) since that aren't (at one screw, all along a run of screws, or anywhere), or lie
    under the other edge; pushes not done; a rail that walked sideways; a beam whose `function` changed; dirt or a burr
    under a rail at a screw; one bad reading (`first`: its place among all readings).
    `change_um`: by how much the shims were to become thicker, screw by screw; empty where it isn't about shims.
    """

    kind: CauseKind
    where: str
    first: int = 0
    last: int = 0
    part: Part = "full"
    change_um: tuple[float, ...] = ()
    function: Kind | None = None


@dataclass(frozen=True, eq=False)
class Hypothesis:
    """A cause and its patterns (N, k). `fixed`: k = 1 and of known size; else sizes are fitted, above zero where
    `positive` (k = 1). `reach_mm`: of a function that changed, from which station to which the readings look at it.
    """

    cause: Cause
    patterns: Floats
    fixed: bool = False
    positive: bool = False
    reach_mm: tuple[float, float] = (0.0, 0.0)


def hypotheses(
    layout: Layout, frame: Frame, before: str, after: str, sweeps: tuple[SweepReadings, ...]
) -> list[Hypothesis]:
    """All single causes, kind by kind."""
    found: list[Hypothesis] = []
    nothing = np.zeros((sum(readings.values.size for readings in sweeps), 1))
    for rail in frame.rails:
        effect = Effect(rail, sweeps)
        nothing = nothing + effect.undone(frame, before, after)
        found += _shims(effect, changes(frame, rail, before, after))
        found += _pushes(effect, pushed(frame, rail, before, after))
        found += _dirt(effect)
        found += _moved(layout, sweeps, ("own_lateral", rail.name), "walked")
    for beam in frame.beams:
        for key in beam_keys(beam):
            found += _moved(layout, sweeps, key, "moved")
    found.append(Hypothesis(Cause("nothing_done", ""), nothing, fixed=True))
    found += [Hypothesis(Cause("reading", "", i), column[:, None]) for i, column in enumerate(np.eye(len(nothing)))]
    return [each for each in found if np.any(each.patterns)]


def changes(frame: Frame, rail: Rail, before: str, after: str) -> dict[Part, Floats]:
    """By how much shims under a rail were to become thicker between two stages, µm (screws,), part by part."""
    change: dict[Part, Floats] = {part: np.zeros(rail.screws) for part in LEAVES}
    for stage, sign in ((before, -1.0), (after, 1.0)):
        for shim in frame.shims_at(stage):
            if isinstance(shim.spot, RailSpot) and shim.spot.rail == rail.name:
                change[shim.spot.part][shim.spot.screw - 1] += sign * shim.thickness_um
    return {part: each for part, each in change.items() if np.any(each)}


def pushed(frame: Frame, rail: Rail, before: str, after: str) -> Floats:
    """How far a rail was to be pushed to the left between two stages, µm (screws,)."""
    return push_at_screws(rail, frame.pushes_at(after)) - push_at_screws(rail, frame.pushes_at(before))


def is_changed(frame: Frame, rail: Rail, before: str, after: str) -> bool:
    """Whether shims under a rail were changed, or the rail was pushed, between two stages."""
    return bool(changes(frame, rail, before, after)) or bool(np.any(pushed(frame, rail, before, after)))


class Effect:
    """How the readings of some sweeps answer to a rail lifted, rolled or pushed at each of its screws, (N, screws)."""

    def __init__(self, rail: Rail, sweeps: tuple[SweepReadings, ...]) -> None:
        at, each = rail.screw_stations_mm, np.eye(rail.screws)
        self.rail = rail
        self.lift = _seen(sweeps, ("shim_height", rail.name), beam_through(at, each), rail.screws)
        self.roll = _seen(sweeps, ("shim_roll", rail.name), straight_between(at, each), rail.screws)
        self.push = _seen(sweeps, ("push_lateral", rail.name), beam_through(at, each), rail.screws)

    def shim(self, part: Part) -> Floats:
        """Of 1 µm under a part of the rail at each screw, as `rail_shims` reckons it (N, screws)."""
        if part == "full":
            return self.lift
        return self.lift / 2.0 + (1.0 if part == "left" else -1.0) * self.roll / self.rail.guide.rail_width_mm

    def undone(self, frame: Frame, before: str, after: str) -> Floats:
        """As if nothing had been done to this rail between two stages (N, 1)."""
        shims = [self.shim(part) @ um for part, um in changes(frame, self.rail, before, after).items()]
        pushes = self.push @ pushed(frame, self.rail, before, after)
        return np.asarray(-(np.sum(shims, axis=0) if shims else 0.0) - pushes)[:, None]


def _seen(sweeps: tuple[SweepReadings, ...], key: Key, curves: Curve, count: int) -> Floats:
    """A function's effect on all readings (N, count), for `count` curves at once."""
    rows = []
    for readings in sweeps:
        seen = np.zeros((readings.values.size, count))
        for part in view(readings.sweep, readings.station_mm).parts:
            if key in part.weights:
                seen += part.weights[key] * curves(part.station_mm, 0)
        rows.append(seen)
    return np.concatenate(rows)


def _shims(effect: Effect, change: dict[Part, Floats]) -> Iterator[Hypothesis]:
    """Shims changed since, at one screw or along a run of screws: not done, or done at the other edge."""
    for part, um in change.items():
        here = effect.shim(part) * um
        other: Part = {"left": "right", "right": "left"}.get(part, "full")  # type: ignore[assignment]
        swapped = effect.shim(other) * um - here
        for first, last in _runs(um):
            run = slice(first, last + 1)
            um_of_run = tuple(float(each) for each in um[run])
            spot = (effect.rail.name, first + 1, last + 1, part, um_of_run)
            missing = -here[:, run].sum(axis=1, keepdims=True)
            yield Hypothesis(Cause("left_out" if first == last else "run_left_out", *spot), missing, fixed=True)
            if part != "full":
                pattern = swapped[:, run].sum(axis=1, keepdims=True)
                yield Hypothesis(Cause("wrong_edge", *spot), pattern, fixed=True)


def _runs(change: Floats) -> Iterator[tuple[int, int]]:
    """First and last (inclusive) of every run of neighbouring screws with a change."""
    for first in range(change.size):
        for last in range(first, change.size):
            if change[last] == 0.0:
                break
            yield first, last


def _pushes(effect: Effect, um: Floats) -> Iterator[Hypothesis]:
    """The pushes of a rail since: none of them done."""
    at = np.flatnonzero(um)
    if at.size:
        cause = Cause("not_pushed", effect.rail.name, int(at[0]) + 1, int(at[-1]) + 1)
        yield Hypothesis(cause, -(effect.push @ um)[:, None], fixed=True)


def _dirt(effect: Effect) -> Iterator[Hypothesis]:
    for part in LEAVES:
        lifted = effect.shim(part)
        for screw in range(effect.rail.screws):
            cause = Cause("dirt", effect.rail.name, screw + 1, screw + 1, part)
            yield Hypothesis(cause, lifted[:, [screw]], positive=True)


def _moved(
    layout: Layout, sweeps: tuple[SweepReadings, ...], key: Key, kind: Literal["walked", "moved"]
) -> Iterator[Hypothesis]:
    """A function that has changed smoothly since: by few shapes, or more."""
    strip = layout.strips[key]
    parts = [part for readings in sweeps for part in view(readings.sweep, readings.station_mm).parts]
    stations = [part.station_mm for part in parts if key in part.weights]
    reach = (
        (float(np.min(np.concatenate(stations))), float(np.max(np.concatenate(stations)))) if stations else (0.0, 0.0)
    )
    for count in (FEW_SHAPES, MORE_SHAPES):
        shapes = lambda s, _, count=count: strip.shapes(s)[:, :count]  # noqa: E731
        yield Hypothesis(Cause(kind, key[1], function=key[0]), _seen(sweeps, key, shapes, count), reach_mm=reach)
