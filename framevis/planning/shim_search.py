"""Choosing whole shims: the least worst misfit first, then the fewest pieces, then the fewest spots.

By small moves from several starts; where all sites together are few enough, one mixed-integer programme over all of
them then makes the answer the best and proves it. Larger ones would take minutes: there the gap is said.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from framevis.frame import Indices
from framevis.planning.any_thickness import Ideal, any_thickness
from framevis.planning.shim_moves import shorter, sparing
from framevis.planning.shim_programme import Choice, Task, effort, solved

TOLERANCE_UM = 0.05  # of misfit: plans that differ by less are equally good and the sparing one wins; our own choice
GIVEN_AWAY = (0.15, 0.05, 0.02, 0.0)  # shares of the gain that a plan of fewer pieces may give away: verdicts decide
FURTHEST = 0.2  # share of the gain by which a plan may miss the least misfit
CLOSER = 0.01  # share of the gain by which a plan of more pieces must come closer to be looked at
WHOLE_AMOUNTS = 48  # so many unknown amounts (sites × 3 × sizes) at most are solved as one programme
ROUND_UP_AT = np.linspace(0.25, 0.75, 11)  # of the way from one level to the next


@dataclass(frozen=True, eq=False)
class Found:
    """`bound_um`: no choice has a lower worst misfit; `proven`: the worst is within the tolerance of the least, and
    the pieces are the fewest for it."""

    choice: Choice
    worst_um: float
    bound_um: float
    proven: bool


def search(task: Task, now: Choice) -> list[Found]:
    """The best shims, starting from those that lie there now: the most sparing that may do, then others, which
    take more pieces."""
    ideal = any_thickness(task)
    starts = dict.fromkeys([now, *_starts(task, ideal, now)])
    reached = [shorter(task, start) for start in starts]
    least = min(map(task.worst, reached))
    sites = np.flatnonzero(task.allowed)
    if 0 < sites.size * 3 * len(task.box.sizes_um) <= WHOLE_AMOUNTS:
        return [_whole(task, min(reached, key=task.worst), sites, ideal.bound_um)]
    gain = task.worst(now) - least
    furthest = least + max(TOLERANCE_UM, FURTHEST * gain)
    within = [
        (one, min(task.worst(one) + max(TOLERANCE_UM, share * gain), furthest))
        for share in GIVEN_AWAY
        for one in reached
        if task.worst(one) <= furthest
    ]
    choices = sorted(dict.fromkeys(sparing(task, one, target) for one, target in within), key=effort)
    return [
        Found(choice, task.worst(choice), ideal.bound_um, False) for choice in _ladder(task, choices, CLOSER * gain)
    ]


def _ladder(task: Task, choices: list[Choice], closer_um: float) -> list[Choice]:
    """Of choices, the most sparing first, those that come closer than all before them."""
    kept: list[Choice] = []
    for choice in choices:
        if not kept or task.worst(choice) <= task.worst(kept[-1]) - closer_um:
            kept.append(choice)
    return kept


def _whole(task: Task, choice: Choice, sites: Indices, bound_um: float) -> Found:
    """One programme over all sites: the least worst misfit, then the fewest pieces within the tolerance of it."""
    least = solved(task, choice, sites)
    worst = task.worst(least.choice)
    fewest = solved(task, least.choice, sites, worst + TOLERANCE_UM)
    proven = least.proven and fewest.proven and worst <= least.bound + TOLERANCE_UM
    return Found(fewest.choice, task.worst(fewest.choice), max(bound_um, least.bound), proven)


def _starts(task: Task, ideal: Ideal, now: Choice) -> Iterator[Choice]:
    """Of any thickness, rounded; also with rails alone and blocks alone: what both share may round badly."""
    yield _best_start(task, ideal, now)
    of_screws = np.zeros_like(task.allowed)
    of_screws[task.neighbours.ravel()] = True
    for mask in (task.allowed & of_screws, task.allowed & ~of_screws):
        if mask.any() and not mask[task.allowed].all():
            yield _best_start(task, any_thickness(replace(task, allowed=mask)), now)


def _best_start(task: Task, ideal: Ideal, now: Choice) -> Choice:
    """Of what lies there and all heights of any thickness rounded to whole pieces, that of the least worst misfit."""
    levels = np.array(task.box.levels_um)
    if levels.size == 1:
        return now
    above = np.searchsorted(levels, ideal.heights_um - 1e-6, side="left").clip(1, levels.size - 1)
    low, high = levels[above - 1], levels[above]
    share = (ideal.heights_um - low) / (high - low)
    rounded = np.concatenate([np.where(share > threshold, high, low) for threshold in ROUND_UP_AT])
    rounded = np.unique(rounded, axis=0)
    misfits = task.bare_um + np.moveaxis(task.flat @ rounded.reshape(len(rounded), -1).T, -1, 0)
    worst = np.linalg.norm(misfits, axis=2).max(axis=1)
    for index in np.argsort(worst, kind="stable"):
        if worst[index] >= task.worst(now):
            return now
        laid = [task.box.laid(left, right) for left, right in rounded[index]]
        if not all(laid):
            continue
        choice = tuple(ways[0] if may else old for ways, may, old in zip(laid, task.allowed.tolist(), now, strict=True))
        if task.fits(choice):
            return choice
    return now
