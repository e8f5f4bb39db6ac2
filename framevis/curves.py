"""The curves of a study: each rail's lateral, height and roll with uncertainty, each beam's functions.

Takes a study, gives arrays over stations. Lateral and height have their best-fit straight line taken off: a
carriage can't feel it. Also says which of them no reading has looked at.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from framevis.deviations import Component, Key, Weights, beam_keys, rail_weights
from framevis.frame import Beam, Floats, Rail
from framevis.observe import Part, companion_stations, toward
from framevis.rows import part_design
from framevis.straightness import Straightness, straightness
from framevis.study import Study

SPACING_MM = 25.0
UNMEASURED = 0.8  # share of the prior's uncertainty that is left where no reading has looked


@dataclass(frozen=True, eq=False)
class Curve:
    """Mean and standard uncertainty at stations (S,), µm or mrad, and the uncertainty without any reading."""

    mean: Floats
    u: Floats
    prior_u: Floats

    @property
    def is_measured(self) -> bool:
        return bool(np.sum(self.u**2) < UNMEASURED**2 * np.sum(self.prior_u**2))


@dataclass(frozen=True, eq=False)
class RailCurves:
    """Curves of a rail at stations (S,) of its beam; straightness of lateral and height."""

    rail: Rail
    stations_mm: Floats
    lateral: Curve
    height: Curve
    roll: Curve

    def straightness(self, component: Component) -> Straightness:
        curve = self.lateral if component == "lateral" else self.height
        return straightness(self.stations_mm, curve.mean)


def stations_of(beam: Beam) -> Floats:
    return np.linspace(0.0, beam.length_mm, int(np.ceil(round(beam.length_mm / SPACING_MM, 6))) + 1)


@lru_cache(maxsize=256)
def rail_curves(study: Study, rail: Rail) -> RailCurves:
    """All curves of a rail; worked out once, since text, JSON and page ask several times."""
    stations = stations_of(rail.beam)
    straight = np.column_stack([np.ones_like(stations), stations - stations.mean()])
    detrend = np.eye(stations.size) - straight @ np.linalg.pinv(straight)
    lateral = _curve(study, rail_weights(rail, "lateral"), stations, detrend)
    height = _curve(study, rail_weights(rail, "height"), stations, detrend)
    return RailCurves(rail, stations, lateral, height, _curve(study, rail_weights(rail, "roll"), stations))


def _curve(study: Study, weights: Weights, stations: Floats, operator: Floats | None = None) -> Curve:
    """Curve of a weighted sum of functions at stations (S,), seen through an operator (S, S) if there is one."""
    rows = part_design(study.posterior.layout, Part(weights, stations))
    mean = study.deviations.along(weights, stations)
    if operator is not None:
        rows, mean = operator @ rows, operator @ mean
    return Curve(mean, study.posterior.sd(rows), study.posterior.prior_sd(rows))


def beam_curves(study: Study, beam: Beam) -> dict[str, Floats]:
    """Posterior means of a beam's functions at `stations_of(beam)`; opening 0 where it can't open."""
    stations = stations_of(beam)
    keys: list[Key] = [(kind, beam.name) for kind in ("bow_lateral", "bow_height", "twist", "opening")]
    return {kind: study.deviations.value((kind, name), stations) for kind, name in keys}


def never_measured(study: Study) -> list[str]:
    """In words, what no reading has looked at, for every rail and every channel."""
    found = []
    for rail in study.frame.rails:
        curves = rail_curves(study, rail)
        named = (("lateral", curves.lateral), ("height", curves.height), ("roll", curves.roll))
        missing = [name for name, curve in named if not curve.is_measured]
        if missing:
            found.append(f"{' and '.join(missing)} of rail {rail.name}")
    found += [f"spacing of rails {a.name} and {b.name} against the drawn one" for a, b in _spacings_open(study)]
    for beam in study.frame.beams:
        key: Key = ("opening", beam.name)
        stations = stations_of(beam)
        if key in beam_keys(beam) and not _curve(study, {key: 1.0}, stations).is_measured:
            found.append(f"opening of beam {beam.name}")
    return found


def _spacings_open(study: Study) -> list[tuple[Rail, Rail]]:
    """Pairs of rails whose distance a carriage feels (its blocks were bolted nowhere) and no reading has told."""
    pairs: dict[tuple[str, str], tuple[Rail, Rail]] = {}
    for carriage in study.frame.carriages:
        first, *others = {block.rail.name: block.rail for block in carriage.blocks}.values()
        if carriage.bolted_at_mm is None:
            pairs |= {(first.name, other.name): (first, other) for other in others}
    return [(a, b) for a, b in pairs.values() if not _distance(study, a, b).is_measured]


def _distance(study: Study, a: Rail, b: Rail) -> Curve:
    """Mean distance of two rails over a's beam, from what is drawn (one value)."""
    stations = stations_of(a.beam)
    layout = study.posterior.layout
    there = part_design(layout, Part(toward(a, b, "lateral"), companion_stations(a, b, stations)))
    row = (there - part_design(layout, Part(rail_weights(a, "lateral"), stations))).mean(axis=0)[None, :]
    return Curve(row @ study.posterior.mean, study.posterior.sd(row), study.posterior.prior_sd(row))
