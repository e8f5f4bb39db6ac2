"""What is said of each bearing block: records of the assessment, filled by `risk`, read by every outlet."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from framevis.frame import Block, Carriage, Flags, Floats

Verdict = Literal["binding", "tight", "unsure", "free"]
RANK: dict[Verdict, int] = {"free": 0, "unsure": 1, "tight": 2, "binding": 3}


@dataclass(frozen=True, eq=False)
class BlockAssessment:
    """One block along the travel. Arrays (S,) run along the carriage's stations.

    `misfit` (5, S): lateral µm, height µm, roll, pitch, yaw mrad of the block against its rail at equilibrium
    with rigid seats. Drag, pressure, safety are those of the posterior mean; `drag_ratio_p95` and `drag_ratio_p05` are
    centiles over the draws. `tight_draws` (D,): whether the block is tight, or worse, somewhere in each draw.
    """

    block: Block
    verdict: Verdict
    p_tight: float
    p_binding: float
    worst_station_mm: float
    misfit: Floats
    drag_n: Floats
    drag_ratio: Floats
    drag_ratio_p95: Floats
    drag_ratio_p05: Floats
    peak_pressure_mpa: Floats
    static_safety: Floats
    tight_draws: Flags = field(default_factory=lambda: np.zeros(0, dtype=np.bool_))

    @property
    def name(self) -> str:
        return self.block.name


@dataclass(frozen=True, eq=False)
class CarriageAssessment:
    """A carriage at its stations (S,), positions of its own origin in mm along its first block's beam.

    `worst_residual`: the largest force or moment (N, N·mm) by which any state, draws included, misses equilibrium.
    """

    carriage: Carriage
    stations_mm: Floats
    blocks: tuple[BlockAssessment, ...]
    worst_residual: float = 0.0

    @property
    def name(self) -> str:
        return self.carriage.name

    @property
    def worst_position_mm(self) -> float:
        """Where the highest drag ratio of any block stands."""
        ratio = np.array([block.drag_ratio for block in self.blocks])
        return float(self.stations_mm[int(np.argmax(ratio.max(axis=0)))])
