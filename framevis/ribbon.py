"""The rail as a ribbon of risk: where along a rail a carriage's blocks run free, tight or bind.

Takes a study, gives for each carriage and rail the worst that any of its blocks meets at places along the rail.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from framevis.frame import Floats, Rail
from framevis.study import Study
from framevis.verdicts import BlockAssessment, CarriageAssessment

Level = Literal["free", "open", "tight", "binding"]
LEVELS: tuple[Level, ...] = ("free", "open", "tight", "binding")  # open: tight in 5 % of the cases or more
PLACES_MM = 20.0


@dataclass(frozen=True, eq=False)
class Ribbon:
    """Along a rail at `station_mm` (P,): highest drag ratio of the mean, 95th centile, and level as index in `LEVELS`.

    Covers only the part of the rail that blocks of the carriage reach.
    """

    carriage: str
    rail: Rail
    station_mm: Floats
    drag_ratio: Floats
    drag_ratio_p95: Floats
    level: tuple[int, ...]


def ribbons(study: Study) -> tuple[Ribbon, ...]:
    """One ribbon for each carriage and rail that it rides, in the order of the frame."""
    found = []
    for carriage in study.carriages:
        rails = {block.block.rail.name: block.block.rail for block in carriage.blocks}
        found += [_ribbon(study, carriage, rail) for rail in rails.values()]
    return tuple(found)


def _ribbon(study: Study, carriage: CarriageAssessment, rail: Rail) -> Ribbon:
    blocks = [block for block in carriage.blocks if block.block.rail.name == rail.name]
    reach = [_stations(carriage, block) for block in blocks]
    low, high = min(s.min() for s in reach), max(s.max() for s in reach)
    places = np.linspace(low, high, int(np.ceil((high - low) / PLACES_MM)) + 1)
    mean, p95, safety = (
        np.array([_at(places, s, getattr(block, name), other) for s, block in zip(reach, blocks, strict=True)])
        for name, other in (("drag_ratio", 0.0), ("drag_ratio_p95", 0.0), ("static_safety", np.inf))
    )
    limits = study.frame.limits
    worst, likely = mean.max(axis=0), p95.max(axis=0)
    level = np.where(likely >= limits.tight_drag_ratio, 1, 0)
    level = np.where(worst >= limits.tight_drag_ratio, 2, level)
    level = np.where((worst >= limits.binding_drag_ratio) | (safety.min(axis=0) < limits.static_safety), 3, level)
    return Ribbon(carriage.name, rail, places, worst, likely, tuple(int(value) for value in level))


def _stations(carriage: CarriageAssessment, block: BlockAssessment) -> Floats:
    """Where on its own rail a block stands at the carriage's stations (S,)."""
    index = [other.name for other in carriage.blocks].index(block.name)
    start, direction = carriage.carriage.station_map
    return np.asarray(start[index] + direction[index] * carriage.stations_mm)


def _at(places: Floats, stations: Floats, values: Floats, outside: float) -> Floats:
    order = np.argsort(stations)
    return np.interp(places, stations[order], values[order], left=outside, right=outside)
