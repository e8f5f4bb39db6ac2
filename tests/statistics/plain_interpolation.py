"""What a careful builder makes of a plain survey without framevis: straight lines between the readings, no doubt.

Takes a frame whose sweeps are the six of a plain survey (`random_sweeps`) with their readings, gives what each block
meets. The second rail is the first plus the bridge's reading, its height the first's plus the level across both; the
level's zero turns everything together, which no carriage feels. Pitch and yaw are taken over a block's length.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from framevis.carriage import LATERAL, YAW
from framevis.frame import Carriage, Floats, Frame, Stage
from framevis.observe import across_mm

Curve = Callable[[Floats], Floats]


def interpolated_ride(frame: Frame, carriage: Carriage, stage: Stage, positions_mm: Floats) -> Floats:
    """(blocks, 5, S) of lateral, height (µm), roll, pitch, yaw (mrad), as `ride.mean_ride` gives of an estimate."""
    curves = _curves(frame, stage)
    ride = np.array([_at(curves[b.rail.name], b.along_mm, b.rail.guide.block_length_mm, positions_mm) for b in
                     carriage.blocks])  # fmt: skip
    if carriage.bolted_at_mm is not None:
        there = np.array([carriage.bolted_at_mm])
        for ridden, block in zip(ride, carriage.blocks, strict=True):
            bolted = _at(curves[block.rail.name], block.along_mm, block.rail.guide.block_length_mm, there)
            ridden[[LATERAL, YAW]] -= bolted[[LATERAL, YAW]]
    return ride


def _curves(frame: Frame, stage: Stage) -> dict[str, tuple[Curve, Curve, Curve]]:
    """Lateral, height and roll of each of the two rails, along the first rail's beam."""
    a, b = frame.rails
    read = {taken.sweep.name: _through(taken.station_mm, taken.values) for taken in stage.sweeps}
    apart = across_mm(a, b)
    lateral, height = read[f"{a.name}_lateral"], read[f"{a.name}_height"]
    pair = f"{a.name}{b.name}"
    return {
        a.name: (lateral, height, read[f"{a.name}_roll"]),
        b.name: (
            lambda s: lateral(s) + read[f"{pair}_lateral"](s),
            lambda s: height(s) + apart * read[f"{pair}_roll"](s),
            read[f"{b.name}_roll"],
        ),
    }


def _through(station_mm: Floats, values: Floats) -> Curve:
    """Straight lines between the means of the readings at each station."""
    places, which = np.unique(station_mm, return_inverse=True)
    means = np.bincount(which, weights=values) / np.bincount(which)
    return lambda s: np.interp(s, places, means)


def _at(rail: tuple[Curve, Curve, Curve], along_mm: float, length_mm: float, positions_mm: Floats) -> Floats:
    """(5, S) at a block that stands `along_mm` from the carriage's origin."""
    lateral, height, roll = rail
    s, half = positions_mm + along_mm, length_mm / 2.0
    slope = [(curve(s + half) - curve(s - half)) / length_mm for curve in (height, lateral)]
    return np.array([lateral(s), height(s), roll(s), -slope[0], slope[1]])
