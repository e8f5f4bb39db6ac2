"""Choosing whole shims: the least worst misfit first, then the fewest pieces, then the fewest spots.

One mixed-integer programme where it is small enough to be proven; else the same programme for one window of
neighbouring screws after the other, all else held, from the best of several starts: those windows that feel the
worst place until none of them helps, then all windows for fewer pieces.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from framevis.frame import Indices
from framevis.planning.any_thickness import Ideal, any_thickness
from framevis.planning.shim_programme import Choice, Task, effort, solved

TOLERANCE_UM = 0.05  # of misfit: plans that differ by less are equally good and the sparing one wins; our own choice
WHOLE_OPTIONS = 4000  # so many options at most are solved as one programme
MOST_SWEEPS, MOST_TRIES = 4, 30
GAIN_UM = 0.03  # less than this is no gain
ROUND_UP_AT = np.linspace(0.25, 0.75, 11)  # of the way from one level to the next
REACH = 1  # levels by which a window's heights may change at a time


@dataclass(frozen=True, eq=False)
class Found:
    """`bound_um`: no choice has a lower worst misfit; `proven`: the worst is within the tolerance of the least, and
    the pieces are the fewest for it."""

    choice: Choice
    worst_um: float
    bound_um: float
    proven: bool


def search(task: Task, now: Choice) -> Found:
    """The best shims, starting from those that lie there now."""
    everything = np.flatnonzero(task.allowed)
    ideal = any_thickness(task)
    if everything.size * len(task.box.levels_um) ** 2 <= WHOLE_OPTIONS:
        return _whole(task, now, everything, ideal.bound_um)
    starts = [_best_start(task, ideal, now), *(_best_start(task, any_thickness(part), now) for part in _parts(task))]
    best = _least_worst(task, min(starts, key=task.worst))
    best = _fewest(task, best, task.worst(best) + TOLERANCE_UM)
    return Found(best, task.worst(best), ideal.bound_um, False)


def _whole(task: Task, now: Choice, everything: Indices, bound_um: float) -> Found:
    """One programme over all sites: the least worst misfit, then the fewest pieces within the tolerance of it."""
    least = solved(task, now, everything, None, None)
    fewest = solved(task, least.choice, everything, task.worst(least.choice) + TOLERANCE_UM, None)
    proven = least.proven and fewest.proven
    return Found(fewest.choice, task.worst(fewest.choice), max(bound_um, least.bound), proven)


def _least_worst(task: Task, choice: Choice) -> Choice:
    """Windows that feel the worst place, those that feel it most first, until none of them helps."""
    tries = 0
    while tries < MOST_TRIES:
        lengths = task.lengths(choice)
        row, worst = task.per_um[int(np.argmax(lengths))], float(lengths.max())
        felt = [float(np.abs(row[:, window]).sum()) for window in task.windows]
        for index in np.argsort(felt)[::-1]:
            if felt[index] == 0.0:
                return choice
            tries += 1
            better = solved(task, choice, task.windows[index], None, REACH).choice
            if task.worst(better) < worst - GAIN_UM:
                choice = better
                break
            if tries >= MOST_TRIES:
                return choice
        else:
            return choice
    return choice


def _fewest(task: Task, choice: Choice, target_um: float) -> Choice:
    """Window after window, until a sweep saves nothing."""
    for _ in range(MOST_SWEEPS):
        before = effort(choice)
        for window in task.windows:
            if any(choice[site].pieces for site in window):
                choice = solved(task, choice, window, target_um, REACH).choice
        if effort(choice) == before:
            break
    return choice


def _parts(task: Task) -> list[Task]:
    """The task with rails alone and with blocks alone: what the least squares share among both may round badly."""
    of_screws = np.zeros_like(task.allowed)
    of_screws[task.neighbours.ravel()] = True
    masks = (task.allowed & of_screws, task.allowed & ~of_screws)
    return [replace(task, allowed=mask) for mask in masks if mask.any() and not mask[task.allowed].all()]


def _best_start(task: Task, ideal: Ideal, now: Choice) -> Choice:
    """Of what lies there and all heights of any thickness rounded to whole pieces, that of the least worst misfit."""
    levels = np.array(task.box.levels_um)
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
        if all(laid) and task.fits(choice := tuple(ways[0] for ways in laid)):
            return choice
    return now
