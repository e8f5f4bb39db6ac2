"""The ribbon of risk as something to draw: a strip on each rail's top, stepped in width, barred where blocks suffer.

Takes a study with its ribbons; gives quads, cross bars and a level for each. Readable without colour: the strip is
the wider the worse, binding stretches have a bar at every place, tight ones at every second.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from framevis.frame import Floats, Rail
from framevis.pictures.geometry import rail_ends
from framevis.pictures.look import VERDICT_COLOUR, Colour
from framevis.pictures.riding import Riding, on_rail
from framevis.pictures.warp import StudyLike
from framevis.ribbon import LEVELS, PLACES_MM, Ribbon, ribbons

ABOVE_MM = 0.8
WIDTHS = (0.4, 0.9, 1.4, 1.9)  # of the rail's own width, by level
BARS = (0, 0, 2, 1)  # a bar at every so manieth place, by level; 0: none
WORDS = ("free", "may be tight", "tight", "binding")
COLOURS: tuple[Colour, ...] = tuple(VERDICT_COLOUR[v] for v in ("free", "unsure", "tight", "binding"))


@dataclass(frozen=True, eq=False)
class Strip:
    """One rail's strip. Cell i is quad (4i … 4i + 3) of the points, its level `levels[i]` an index of `LEVELS`.

    `bars` (B, 2): pairs of points to be joined by a dark line.
    """

    rail: Rail
    points: Riding
    levels: tuple[int, ...]
    bars: NDArray[np.int64]

    @property
    def quads(self) -> NDArray[np.int64]:
        return np.arange(4 * len(self.levels), dtype=np.int64).reshape(-1, 4)

    @property
    def colours(self) -> NDArray[np.uint8]:
        """One colour a cell (C, 3)."""
        return np.array([COLOURS[level] for level in self.levels], dtype=np.uint8)


def strips_of(study: StudyLike) -> tuple[Strip, ...]:
    """A strip for every rail that a carriage rides; where several ride it, the worst of them at each place."""
    found: dict[str, list[Ribbon]] = {}
    for ribbon in ribbons(study):  # type: ignore[arg-type]
        found.setdefault(ribbon.rail.name, []).append(ribbon)
    return tuple(_strip(study, group) for group in found.values())


def merged_levels(group: Sequence[Ribbon]) -> tuple[Floats, tuple[int, ...]]:
    """Places (P,) along a rail, and the worst level between each two of them (P − 1)."""
    low = min(float(ribbon.station_mm[0]) for ribbon in group)
    high = max(float(ribbon.station_mm[-1]) for ribbon in group)
    places = np.linspace(low, high, max(2, int(np.ceil((high - low) / PLACES_MM)) + 1))
    levels = np.zeros(len(places), dtype=np.int64)
    for ribbon in group:
        nearest = np.abs(ribbon.station_mm[None, :] - places[:, None]).argmin(axis=1)
        inside = (places >= ribbon.station_mm[0]) & (places <= ribbon.station_mm[-1])
        levels = np.where(inside, np.maximum(levels, np.array(ribbon.level)[nearest]), levels)
    return places, tuple(int(v) for v in np.maximum(levels[:-1], levels[1:]))


def _strip(study: StudyLike, group: Sequence[Ribbon]) -> Strip:
    rail = group[0].rail
    places, levels = merged_levels(group)
    places = np.clip(places, *rail_ends(rail))
    half = np.array([WIDTHS[level] for level in levels]) * rail.guide.rail_width_mm / 2.0
    start, end = places[:-1], places[1:]
    s = np.stack([start, end, end, start], axis=1).ravel()
    t = np.stack([-half, -half, half, half], axis=1).ravel()
    local = np.column_stack([s, t, np.full_like(s, rail.guide.rail_height_mm + ABOVE_MM)])
    cells = [i for i, level in enumerate(levels) if BARS[level] and i % BARS[level] == 0]
    bars = np.array([(4 * i, 4 * i + 3) for i in cells], dtype=np.int64).reshape(-1, 2)
    return Strip(rail, on_rail(study, rail, local), levels, bars)


assert len(LEVELS) == len(WIDTHS) == len(WORDS) == len(COLOURS)
