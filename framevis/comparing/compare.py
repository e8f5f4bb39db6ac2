"""Before and after: did a correction do what it should, and if not, what single thing explains the readings?

Takes the studies of two stages, gives blocks side by side, every reading of the later stage against what the earlier
one and the shims fitted since say of it, and the one cause (if any) that explains what disagrees.

With hundreds of readings one in twenty lies outside two standard uncertainties by chance, so it is χ² of a sweep, with
all its correlations, and the causes tried (`cause_search`) that decide.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from framevis.comparing.cause_search import UNLIKELY, Explanation, explain_away
from framevis.comparing.held import Fit, Held, hold
from framevis.comparing.single_causes import Effect, hypotheses, is_changed
from framevis.estimate import SUSPECT
from framevis.frame import BlockSpot, Flags, Floats, SweepReadings
from framevis.rail_shims import known_at
from framevis.study import Study
from framevis.verdicts import BlockAssessment

AGREES = 2.0  # standard uncertainties
NOTICED = 3.0  # standard deviations by which a rail's shims must show for the readings to tell whether they are there


@dataclass(frozen=True, eq=False)
class BlockChange:
    carriage: str
    before: BlockAssessment
    after: BlockAssessment


@dataclass(frozen=True, eq=False)
class HeldSweep:
    """One sweep of the later stage. Arrays (N,) in the order of its readings, µm or mrad.

    `expected` and its standard uncertainty `u`, that of the reading included; `standardised`: found less expected over
    u; `unexplained` the same once the cause that was found is taken off; `aside`: bad readings, which count for
    nothing else.
    """

    readings: SweepReadings
    expected: Floats
    u: Floats
    standardised: Floats
    unexplained: Floats
    aside: Flags
    fit: Fit

    @property
    def agrees(self) -> Flags:
        return np.asarray(np.abs(self.standardised) <= AGREES)

    @property
    def odd(self) -> Flags:
        """Readings that should be taken again, whatever the rest says."""
        return np.asarray(self.aside | (np.abs(self.unexplained) > SUSPECT))

    @property
    def as_expected(self) -> bool:
        return self.fit.p >= UNLIKELY

    @property
    def worst(self) -> int:
        return int(np.argmax(np.abs(self.standardised)))


@dataclass(frozen=True, eq=False)
class Comparison:
    """`whole`: all readings at once. `changed`: rails with other shims or pushes since; `unchecked` those of them where
    no reading would show well enough that it wasn't done.

    `on_blocks`: whether shims at blocks have changed, which no reading of rails can see.
    """

    before: Study
    after: Study
    blocks: tuple[BlockChange, ...]
    sweeps: tuple[HeldSweep, ...]
    whole: Fit
    explanation: Explanation | None
    changed: tuple[str, ...]
    unchecked: tuple[str, ...]
    on_blocks: bool

    @property
    def as_expected(self) -> bool:
        sweeps = all(sweep.as_expected for sweep in self.sweeps)
        return self.explanation is None and self.whole.p >= UNLIKELY and sweeps


def compare(before: Study, after: Study) -> Comparison:
    """Hold the later stage against the earlier one."""
    frame, layout = after.frame, before.posterior.layout
    stages = before.stage, after.stage
    held = hold(before.posterior, known_at(frame, after.stage), after.readings.sweeps)
    causes = hypotheses(layout, frame, *stages, held.rows.sweeps)
    clean, rest, explanation = explain_away(layout, held, causes)
    blocks = tuple(
        BlockChange(carriage.name, block, after.assessment(carriage.name).blocks[i])
        for carriage in before.carriages
        for i, block in enumerate(carriage.blocks)
    )
    changed = [rail for rail in frame.rails if is_changed(frame, rail, *stages)]
    unchecked = tuple(rail.name for rail in changed if not _shows(clean, Effect(rail, held.rows.sweeps), after, stages))
    on_blocks = _block_shims(after, stages[0]) != _block_shims(after, stages[1])
    names = tuple(rail.name for rail in changed)
    sweeps = held_sweeps(clean, rest)
    return Comparison(before, after, blocks, sweeps, clean.fit, explanation, names, unchecked, on_blocks)


def _shows(held: Held, effect: Effect, after: Study, stages: tuple[str, str]) -> bool:
    """Whether the readings would notice if nothing had been done to a rail."""
    return bool(np.linalg.norm(held.white(effect.undone(after.frame, *stages))) >= NOTICED)


def _block_shims(study: Study, stage: str) -> Counter[tuple[str, float]]:
    shims = study.frame.shims_at(stage)
    return Counter((str(s.spot), s.thickness_um) for s in shims if isinstance(s.spot, BlockSpot))


def held_sweeps(held: Held, rest: Held) -> tuple[HeldSweep, ...]:
    """Sweep by sweep; `rest` is the same with what is explained taken off.

    Where the surfaces would overlap, a feeler is expected to find 0.
    """
    aside = np.any(held.aside != 0.0, axis=1)
    found = []
    for readings, part in held.parts:
        expected = readings.values - held.residual[part]
        if readings.sweep.kind == "gap":
            expected = np.maximum(expected, 0.0)
        u = held.u[part]
        known = u > 1e-6 * readings.u  # else the sweep's own unknowns take it up whole: nothing is tested
        off = np.where(known, (readings.values - expected) / np.where(known, u, 1.0), 0.0)
        left = np.where(known & held.counts[part], rest.residual[part] / np.where(known, u, 1.0), off)
        found.append(HeldSweep(readings, expected, u, off, left, aside[part], held.sweep_fit(part)))
    return tuple(found)
