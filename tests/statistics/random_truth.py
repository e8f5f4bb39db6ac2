"""Random true shapes in three classes of roughness and two families, and what the sweeps read of them.

"strips": bent like free elastic strips, the family of framevis' own prior, with another width for every kind of
function. "waves": a few sine waves a function (`machines.rough`), which no draw of the prior looks like. Offsets and
slopes are those of an aligned machine, narrower than the prior's, which knows nothing of aligning; or, of strips, as
wide as the prior's.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Literal, get_args

import numpy as np

from framevis import priors
from framevis.deviations import Deviations, Layout
from framevis.frame import Floats, Frame, Stage, Sweep, SweepReadings
from framevis.rail_shims import known_functions
from framevis.strip import LINEAR
from machines import measure, rough

Family = Literal["strips", "waves"]
Roughness = Literal["smooth", "ordinary", "rough"]
FAMILIES: tuple[Family, ...] = get_args(Family)
ROUGHNESS: tuple[Roughness, ...] = get_args(Roughness)
CURVED: dict[str, float] = {"smooth": 0.1, "ordinary": 0.3, "rough": 0.8}  # × the prior's width of the curved part
WAVES: dict[str, float] = {"smooth": 0.3, "ordinary": 0.9, "rough": 2.0}  # × the sizes in `machines.rough`
KIND_SPREAD = 0.5  # sd of the logarithm by which the kinds of one frame differ in width
# offsets and slopes of an aligned machine / (prior's width × class): of beams, and of everything else
ALIGNED_BEAM, ALIGNED = 0.1, 0.5


def random_truth(
    frame: Frame, family: Family, roughness: Roughness, aligned: bool, random: np.random.Generator
) -> Deviations:
    """A true shape of a family and class."""
    if family == "waves":
        return rough(frame, int(random.integers(2**31)), WAVES[roughness])
    layout, size = Layout.of(frame), CURVED[roughness]
    width, kind = priors.spread(layout), priors.scale_group(layout)
    scale = size * np.exp(random.normal(0.0, KIND_SPREAD, len(priors.SCALED)))
    factor = np.where(kind >= 0, scale[kind], 1.0)
    for (name, _), place in layout.places.items():
        if aligned:
            narrower = ALIGNED_BEAM if name.startswith("bow") else ALIGNED
            factor[place.start : place.start + LINEAR] = size * narrower
    coefficients = random.standard_normal(layout.size) * width * factor
    return Deviations(layout, coefficients, known_functions(frame.rails, frame.shims_at("now")))


def random_readings(
    frame: Frame, true: Deviations, step_mm: float, level_drifts: bool, random: np.random.Generator
) -> Stage:
    """Every sweep read about every `step_mm`: offsets, askew references, drift out and back, part of the length.

    Every instrument with a zero drifts where its way back can show it, from its zero at the sweep's first reading;
    a level, whose zero several sweeps share, only where `level_drifts`.
    """
    turned = {sweep.name for sweep in frame.sweeps if sweep.reversed}
    taken = []
    for sweep in frame.sweeps:
        alone = replace(frame, sweeps=(sweep,))
        s, values = measure(alone, true, step_mm, noise=0.0, seed=int(random.integers(2**31)))[sweep.name]
        if sweep.kind == "gap" and (s.size == 0 or values.min() < 10.0 * sweep.u):
            continue  # somewhere no feeler would go in
        if sweep.name in turned or f"{sweep.name}_turned" in turned:
            values = values - sweep.sign * (-1.0 if sweep.reversed else 1.0) * _bent(s / s[-1])
        rows = _rows(s.size, random)
        order = np.arange(rows.size, dtype=float)
        drift = 3.0 * sweep.u * random.normal() * order / max(order[-1], 1.0)
        drifts = _shows_drift(sweep, s[rows]) and (level_drifts or not sweep.is_angle)
        read = values[rows] + (drift if drifts else 0.0) + sweep.u * random.normal(size=rows.size)
        lines = tuple(range(2, rows.size + 2))
        taken.append(SweepReadings(sweep, s[rows], read, np.full(rows.size, sweep.u), order, lines))
    return Stage("now", tuple(taken))


def _bent(x: Floats) -> Floats:
    """Error (µm) of the straightedge that is turned over, along its length 0 … 1."""
    return np.asarray(9.0 * np.sin(np.pi * x) + 3.0 * np.sin(7.0 * x))


def _rows(count: int, random: np.random.Generator) -> np.ndarray:
    """Order of the stations taken: once along; out and back to the first; now and then not the whole length."""
    first = int(random.integers(0, count // 4 + 1)) if random.random() < 0.15 else 0
    along = np.arange(first, count)
    if along.size >= 5 and random.random() < 0.4:
        return np.concatenate([along[::2], along[1::2][::-1], along[:1]])
    return along


def _shows_drift(sweep: Sweep, s: Floats) -> bool:
    """Whether the sweep comes back to its first station, and its instrument has a zero that can drift."""
    fixed = sweep.kind == "gap" or sweep.absolute or sweep.nominal_um is not None
    return s.size > 1 and bool(s[0] == s[-1]) and not fixed
