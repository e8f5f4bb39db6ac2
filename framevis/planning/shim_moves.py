"""Shims by small moves: runs of neighbouring screws, or single blocks, one level up or down, or taken out altogether.

Takes a task and a choice, gives a better choice: first a shorter worst misfit, then fewer pieces within a target. A
move along a run shifts a step of a staircase, which no single shim can do without making things worse first.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from framevis.frame import Floats, Indices
from framevis.planning.layers import Box
from framevis.planning.shim_programme import Choice, Task, effort, heights

SHARPNESS = 16  # power of the norm that stands for the worst: it still sees the second worst
MOST_MOVES, WATCHED = 200, 32  # moves in a row; places, the worst, that the first look at a move counts
LOOKED_AT, MOST_LOOKED_AT = 20, 400  # moves that are looked at with all places; tried at all, allowed or not
AT_ONCE = 24  # savings that are looked at together
PAIRED = 60  # moves, the most promising, of which two at once are tried
LONGEST_RUN = 12  # screws, of runs that don't reach the end of their rail
ENDLESS = 1_000_000


@dataclass(frozen=True, eq=False)
class Mover:
    """Moves by `runs` of sites in `order`, nine kinds each: see `steps_um`."""

    task: Task

    @cached_property
    def levels(self) -> Floats:
        return np.array(self.task.box.levels_um)

    @cached_property
    def order(self) -> Indices:
        """Sites that may be shimmed, rail by rail, screw by screw."""
        return np.flatnonzero(self.task.allowed)

    @cached_property
    def runs(self) -> tuple[Indices, Indices]:
        """First and one beyond the last place in `order` of runs of neighbours: short ones, and all to a rail's end."""
        joined = {(int(a), int(b)) for a, b in self.task.neighbours}
        pairs = zip(self.order[:-1].tolist(), self.order[1:].tolist(), strict=True)
        breaks = [place for place, pair in enumerate(pairs, 1) if pair not in joined]
        ends = np.array([0, *breaks, self.order.size])
        found = [
            (first, beyond)
            for start, end in pairwise(ends.tolist())
            for first in range(start, end)
            for beyond in range(first + 1, end + 1)
            if beyond - first <= LONGEST_RUN or first == start or beyond == end
        ]
        both = np.array(found, dtype=np.intp).reshape(-1, 2)
        return both[:, 0], both[:, 1]

    def steps_um(self, high: Floats) -> Floats:
        """(kinds, sites, 2): each edge a level up, both; a level down, both; each edge and both taken out."""
        at = np.clip(np.searchsorted(self.levels, high - 1e-6), 0, self.levels.size - 1)
        up = np.maximum(self.levels[np.minimum(at + 1, self.levels.size - 1)] - high, 0.0)
        down = np.minimum(self.levels[np.maximum(at - 1, 0)] - high, 0.0)
        return np.stack([way * edges for way in (up, down, -high) for edges in ([1.0, 0.0], [0.0, 1.0], [1.0, 1.0])])

    def changes(self, steps: Floats, places: Indices, moves: tuple[Indices, Indices]) -> Floats:
        """(moves, places, 5): what moves, by kind and run, change of the misfits at some places."""
        per = self.task.per_um[np.ix_(places, np.arange(5), self.order)]  # (p, 5, sites, 2)
        each = np.einsum("pcse,kse->kspc", per, steps[:, self.order])
        summed = np.concatenate([np.zeros_like(each[:, :1]), np.cumsum(each, axis=1)], axis=1)
        kind, run = moves
        return np.asarray(summed[kind, self.runs[1][run]] - summed[kind, self.runs[0][run]])

    def all_moves(self, kinds: int) -> tuple[Indices, Indices]:
        kind, run = np.indices((kinds, self.runs[0].size)).reshape(2, -1)
        return kind, run

    def moved(self, high: Floats, steps: Floats, kind: int, run: int) -> Floats:
        """Heights (sites, 2) after one move."""
        new = high.copy()
        sites = self.order[self.runs[0][run] : self.runs[1][run]]
        new[sites] += steps[kind, sites]
        return new


def shorter(task: Task, choice: Choice) -> Choice:
    """Moves that bring the worst misfit down, the best first, two at once where one doesn't, until none does."""
    mover, high = Mover(task), heights(choice)
    for _ in range(MOST_MOVES):
        better = _first_better(mover, choice, high)
        if better is None:
            return choice
        high, choice = better
    return choice


def _first_better(mover: Mover, choice: Choice, high: Floats) -> tuple[Floats, Choice] | None:
    """Heights and choice after the best move that shortens the worst misfit, or after the best two."""
    task, steps = mover.task, mover.steps_um(high)
    misfits = task.misfits(high.ravel())
    lengths = np.linalg.norm(misfits, axis=1)
    here, worst = _sharp(lengths, lengths.max()) * (1.0 - 1e-6), lengths.max()
    watched = np.argsort(-lengths)[:WATCHED]
    kind, run = mover.all_moves(len(steps))
    changes = mover.changes(steps, watched, (kind, run))
    single = _sharp(np.linalg.norm(misfits[watched] + changes, axis=2), worst)
    ranked = np.argsort(single, kind="stable")
    one, other = (ranked[:PAIRED][at] for at in np.triu_indices(min(PAIRED, ranked.size), 1))

    def best(after: Floats, moves: list[Indices]) -> tuple[Floats, Choice] | None:
        found, least, looked = None, here, 0
        for at in np.argsort(after, kind="stable")[:MOST_LOOKED_AT]:
            if after[at] >= least or looked >= LOOKED_AT:
                break
            new = high + sum(mover.moved(high, steps, int(kind[m[at]]), int(run[m[at]])) - high for m in moves)
            laid = _laid(task, choice, new)
            if laid is not None:
                looked += 1
                there = _sharp(np.linalg.norm(task.misfits(new.ravel()), axis=1), worst)
                if there < least:
                    found, least = (new, laid), there
        return found

    alone = best(single, [np.arange(kind.size)])
    if alone is not None or not one.size:
        return alone
    return best(_sharp(np.linalg.norm(misfits[watched] + changes[one] + changes[other], axis=2), worst), [one, other])


def sparing(task: Task, choice: Choice, target_um: float) -> Choice:
    """Moves that save pieces, or spots, while no misfit is longer than the target, until none does; then tidy."""
    mover, high = Mover(task), heights(choice)
    for _ in range(MOST_MOVES):
        for new in _cheaper(mover, high, target_um):
            laid = _laid(task, choice, new)
            if laid is not None and effort(laid) < effort(choice):
                high, choice = new, laid
                break
        else:
            break
    return _tidy(task, choice, target_um)


def _tidy(task: Task, choice: Choice, target_um: float) -> Choice:
    """What lies at neighbouring screws changed over where that makes fewer, longer runs and keeps to the target."""
    for _ in range(MOST_MOVES):
        for a, b in task.neighbours:
            swapped = list(choice)
            swapped[a], swapped[b] = choice[b], choice[a]
            new = tuple(swapped)
            fewer = _changes(task, new) < _changes(task, choice)
            if fewer and task.allowed[[a, b]].all() and task.fits(new) and task.worst(new) <= target_um:
                choice = new
                break
        else:
            return choice
    return choice


def _changes(task: Task, choice: Choice) -> int:
    """At how many places along the rails the height changes."""
    high = heights(choice)
    return int(np.any(high[task.neighbours[:, 0]] != high[task.neighbours[:, 1]], axis=1).sum())


def _cheaper(mover: Mover, high: Floats, target_um: float) -> Iterator[Floats]:
    """Heights after moves that save something and keep to the target, those that save most first."""
    task, steps = mover.task, mover.steps_um(high)
    now = high[mover.order]
    prices = np.array([[_price(task.box, edges) for edges in each] for each in (now, *(now + steps[:, mover.order]))])
    saved = prices[0] - prices[1:]
    summed = np.concatenate([np.zeros((len(steps), 1)), np.cumsum(saved, axis=1)], axis=1)
    first, beyond = mover.runs
    gain = summed[:, beyond] - summed[:, first]
    kind, run = np.nonzero(gain > 1e-9)
    gain = gain[kind, run]
    misfits = task.misfits(high.ravel())
    watched = np.argsort(-np.linalg.norm(misfits, axis=1))[:WATCHED]
    after = np.linalg.norm(misfits[watched] + mover.changes(steps, watched, (kind, run)), axis=2).max(axis=1)
    promising = [move for move in np.argsort(-gain, kind="stable") if after[move] <= target_um]
    for start in range(0, len(promising), AT_ONCE):
        part = promising[start : start + AT_ONCE]
        new = np.array([mover.moved(high, steps, int(kind[move]), int(run[move])) for move in part])
        worst = np.linalg.norm(task.changed(misfits, (new - high).reshape(len(part), -1)), axis=2).max(axis=1)
        yield from new[worst <= target_um]


def _sharp(lengths: Floats, scale: float) -> Floats:
    return np.asarray(np.sum((lengths / max(scale, 1e-9)) ** SHARPNESS, axis=-1))


def _price(box: Box, edges: Floats) -> float:
    ways = box.laid(float(edges[0]), float(edges[1]))
    return ways[0].effort[0] + 0.01 * ways[0].effort[1] if ways else ENDLESS


def _laid(task: Task, choice: Choice, high: Floats) -> Choice | None:
    """The heights as layers, what doesn't change as it lies; None where the box or the steps don't allow it."""
    new = list(choice)
    for site in np.flatnonzero(np.abs(heights(choice) - high).max(axis=1) > 1e-6):
        ways = task.box.laid(float(high[site, 0]), float(high[site, 1]))
        if not ways:
            return None
        new[site] = ways[0]
    made = tuple(new)
    return made if task.fits(made) else None
