"""What dominates the risk's uncertainty: what each sweep's u does to what is open about a block.

Takes a study, gives for every block in doubt by which share the variance of its most open misfit falls if the u of one
sweep were halved, and if all were.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from framevis.advising.advise import SURE
from framevis.advising.expected_error import error_now
from framevis.estimate import Posterior
from framevis.explain import Doubt, doubt
from framevis.frame import Flags
from framevis.rows import reduce
from framevis.solved import Solved, together
from framevis.study import Study
from framevis.verdicts import BlockAssessment, CarriageAssessment

TOLD = 0.01  # of the variance


@dataclass(frozen=True, eq=False)
class Shares:
    """Of one block: `by_sweep` name → share of the variance of `about` that half its u would take, the largest first;
    `by_all` that of all sweeps halved."""

    carriage: CarriageAssessment
    block: BlockAssessment
    about: Doubt
    by_sweep: dict[str, float]
    by_all: float


def shares(study: Study) -> tuple[Shares, ...]:
    """Of every block whose verdict may be wrong."""
    pairs = [(carriage, block) for carriage in study.carriages for block in carriage.blocks]
    left = [pair for pair in pairs if error_now(study, pair[1]) >= SURE or pair[1].verdict == "unsure"]
    if not left:
        return ()
    abouts = [doubt(study, carriage, block) for carriage, block in left]
    rows = np.array([about.row for about in abouts])
    now = np.maximum(study.posterior.sd(rows) ** 2, 1e-300)
    names = [readings.sweep.name for readings in study.readings.sweeps]
    fall = {name: 1.0 - halved(study.posterior, {name}).sd(rows) ** 2 / now for name in names}
    whole = 1.0 - halved(study.posterior, set(names)).sd(rows) ** 2 / now
    return tuple(
        Shares(carriage, block, about, _largest({name: float(by[i]) for name, by in fall.items()}), float(whole[i]))
        for i, ((carriage, block), about) in enumerate(zip(left, abouts, strict=True))
    )


def _largest(fall: dict[str, float]) -> dict[str, float]:
    return {name: share for name, share in sorted(fall.items(), key=lambda item: -item[1]) if share >= TOLD}


def halved(posterior: Posterior, names: set[str]) -> Posterior:
    """The posterior of the same priors if the readings of some sweeps had half their uncertainty."""
    pairs = zip(posterior.groups, posterior.aside, strict=True)
    return replace(posterior, groups=together([_halved(solved, aside, names) for solved, aside in pairs]))


def _halved(solved: Solved, aside: Flags, names: set[str]) -> Solved:
    rows = solved.reduced.rows
    factor = np.concatenate(
        [np.full(readings.values.size, 0.5 if readings.sweep.name in names else 1.0) for readings in rows.sweeps]
    )
    if np.all(factor == 1.0):
        return solved
    return replace(solved, reduced=reduce(replace(rows, u=rows.u * factor), aside))
