"""The mixed-integer programme of shims (scipy's HiGHS): what lies at some sites, all else held.

Takes a `Task` (a group of carriages as weighed misfits, the box of shims), gives a choice. One binary an option of a
site, an option being a pair of heights with its pieces: the linear relaxation is then the convex hull of each site,
which is what makes HiGHS quick. That no misfit is longer than the worst is a cone; it is approached from outside by
planes that touch it where an answer left it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, OptimizeResult, milp
from scipy.sparse import csr_matrix

from framevis.frame import Flags, Floats, Indices
from framevis.planning.layers import Box, Laid

NODES, WINDOW_NODES = 3000, 20  # of the search tree: plans must not depend on the speed of a machine
GAP, WINDOW_GAP = 1e-3, 0.05  # relative, to which the programme's answer counts as the best
WHOLE: Any = {"node_limit": NODES, "mip_rel_gap": GAP}
WINDOW: Any = {"node_limit": WINDOW_NODES, "mip_rel_gap": WINDOW_GAP}
FIRST_PLANES, MOST_ROUNDS = 60, 25
OUTSIDE_UM, WINDOW_OUTSIDE_UM = 0.005, 0.03  # by which an answer may leave the cone
PIECE_COST_UM, SPOT_COST = 1e-3, 0.01
Choice = tuple[Laid, ...]  # what lies at every site


@dataclass(frozen=True, eq=False)
class Task:
    """What is to be shimmed. `bare_um` (P, 5) the weighed misfits without any shim, `per_um` (P, 5, sites, 2) by the
    height under each edge, `free` (sizes,) how many pieces there are (inf: no limit), `neighbours` (pairs, 2) sites of
    neighbouring screws, `allowed` (sites,), `windows` sites to be chosen together."""

    bare_um: Floats
    per_um: Floats
    box: Box
    free: Floats
    neighbours: Indices
    allowed: Flags
    windows: tuple[Indices, ...]

    @cached_property
    def flat(self) -> Floats:
        """(P, 5, 2 · sites)."""
        return np.ascontiguousarray(self.per_um.reshape(*self.bare_um.shape, -1))

    @cached_property
    def reach_of_site(self) -> Flags:
        """(P, sites) whether a place feels a site."""
        return np.asarray(np.any(self.per_um != 0.0, axis=(1, 3)))

    def misfits(self, heights_um: Floats) -> Floats:
        """(P, 5) for heights (2 · sites,)."""
        return np.asarray(self.bare_um + self.flat @ heights_um)

    def lengths(self, choice: Choice) -> Floats:
        """(P,) µm: root mean square change of approach of each block's balls."""
        return np.asarray(np.linalg.norm(self.misfits(heights(choice).ravel()), axis=1))

    def worst(self, choice: Choice) -> float:
        return float(self.lengths(choice).max())

    def used(self, choice: Sequence[Laid]) -> Floats:
        """Pieces of each size (sizes,)."""
        sizes = self.box.sizes_um
        return np.array([sum(laid.pieces.count(size) for laid in choice) for size in sizes], dtype=np.float64)

    def fits(self, choice: Choice) -> bool:
        """Whether a choice keeps to the box and its steps."""
        high = heights(choice)
        steps = np.abs(high[self.neighbours[:, 0]] - high[self.neighbours[:, 1]])
        return bool(np.all(self.used(choice) <= self.free) and np.all(steps <= self.box.max_step_um + 1e-9))


def heights(choice: Choice) -> Floats:
    """(sites, 2) µm under left and right edges."""
    return np.array([laid.heights for laid in choice])


def effort(choice: Choice) -> tuple[int, int]:
    """Pieces, then spots."""
    each = [laid.effort for laid in choice]
    return sum(pieces for pieces, _ in each), sum(spots for _, spots in each)


@dataclass(frozen=True, eq=False)
class Answer:
    """`bound`: proven limit of what was minimised; `proven` whether the choice reaches it."""

    choice: Choice
    bound: float
    proven: bool


def solved(task: Task, choice: Choice, sites: Indices, target_um: float | None, reach: int | None) -> Answer:
    """The best choice at some sites, all else held: without a target the least worst misfit, with one the fewest
    pieces, then spots, that keep to it. Heights within `reach` levels of the present ones (None: all), or none at all.
    What was there stays where nothing better is found."""
    programme = Programme.of(task, choice, sites, reach)
    here = programme.worst(programme.present)
    limit = here if target_um is None else target_um
    found, bound, proven = programme.solve(limit, target_um is None)
    if found is None:
        return Answer(choice, bound, False)
    new, there = programme.carried_out(choice, found), programme.worst(found)
    fewer = effort(new) < effort(choice)
    if target_um is None:
        better = there < here - 1e-6 or (there < here + 1e-6 and fewer)
    else:
        better = there <= limit + WINDOW_OUTSIDE_UM and (fewer or here > limit + WINDOW_OUTSIDE_UM)
    return Answer(new if better else choice, bound, proven)


@dataclass(frozen=True, eq=False)
class Programme:
    """`options` the ways at each of the sites chosen; places P that feel them: `base_um` (P, 5) what is held,
    `by_option` (P, 5, options) what each way brings; `pick` (sites, options) which belong together; `present`
    (options,) what is there; `whole`: all heights are open, so that the answer can be proven."""

    task: Task
    sites: Indices
    options: tuple[tuple[Laid, ...], ...]
    base_um: Floats
    by_option: Floats
    pick: Floats
    present: Floats
    held: Choice
    whole: bool

    @staticmethod
    def of(task: Task, choice: Choice, sites: Indices, reach: int | None) -> Programme:
        options = tuple(_options(task, choice[site], reach) for site in sites)
        held = list(choice)
        for site in sites:
            held[site] = Laid()
        felt = np.flatnonzero(task.reach_of_site[:, sites].any(axis=1))
        base = task.bare_um[felt] + task.flat[felt] @ heights(tuple(held)).ravel()
        high = [np.array([laid.heights for laid in ways]).T for ways in options]
        by = [task.per_um[felt, :, site] @ each for site, each in zip(sites, high, strict=True)]
        pick = np.repeat(np.eye(sites.size), [len(ways) for ways in options], axis=1)
        present = [np.arange(len(ways)) == ways.index(choice[site]) for site, ways in zip(sites, options, strict=True)]
        now = np.concatenate(present).astype(np.float64)
        return Programme(task, sites, options, base, np.concatenate(by, -1), pick, now, tuple(held), reach is None)

    @cached_property
    def ways(self) -> list[Laid]:
        return [laid for ways in self.options for laid in ways]

    def misfits(self, chosen: Floats) -> Floats:
        """(P, 5) of options chosen (options,)."""
        return np.asarray(self.base_um + self.by_option @ chosen)

    def worst(self, chosen: Floats) -> float:
        return float(np.linalg.norm(self.misfits(chosen), axis=1).max(initial=0.0))

    def carried_out(self, choice: Choice, chosen: Floats) -> Choice:
        """A choice with the options (options,) that were chosen."""
        new = list(choice)
        starts = np.cumsum([0, *(len(ways) for ways in self.options)])
        for place, site in enumerate(self.sites):
            part = chosen[starts[place] : starts[place + 1]]
            new[site] = self.options[place][int(np.argmax(part))]
        return tuple(new)

    def solve(self, limit_um: float, least: bool) -> tuple[Floats | None, float, bool]:
        """The options chosen (options,), the proven bound and whether it is reached."""
        outside = OUTSIDE_UM if self.whole else WINDOW_OUTSIDE_UM
        planes = Planes.touching(self, np.concatenate([self.misfits(self.present), self.base_um]))
        best: Floats | None = None
        for _ in range(MOST_ROUNDS):
            answer = self._answer(planes, limit_um, least)
            bound = -np.inf if answer.mip_dual_bound is None else float(answer.mip_dual_bound)
            if answer.x is None:
                return best, bound, False
            chosen = np.round(answer.x[:-1])
            allowed = (float(answer.x[-1]) if least else limit_um) + outside
            if least and (best is None or self.worst(chosen) < self.worst(best)):
                best = chosen
            misfits = self.misfits(chosen)
            beyond = np.flatnonzero(np.linalg.norm(misfits, axis=1) > allowed)
            if not beyond.size:
                return (best if least else chosen), bound, answer.status == 0
            planes = planes.and_at(self, beyond, misfits)
        return best, -np.inf, False

    def _answer(self, planes: Planes, limit_um: float, least: bool) -> OptimizeResult:
        count = self.pick.shape[1]
        price = np.array([laid.effort for laid in self.ways]) @ np.array([1.0, SPOT_COST])
        return milp(
            np.r_[price * (PIECE_COST_UM if least else 1.0), float(least)],
            constraints=[
                LinearConstraint(_with(planes.by_option, -1.0), -np.inf, -planes.base_um),
                LinearConstraint(_with(self.pick), 1.0, 1.0),
                *self._steps,
                *self._stock,
            ],
            integrality=np.r_[np.ones(count), 0.0],
            bounds=Bounds(np.zeros(count + 1), np.r_[np.ones(count), limit_um]),
            options=WHOLE if self.whole else WINDOW,
        )

    @cached_property
    def _steps(self) -> list[LinearConstraint]:
        """Steps between neighbouring screws, under each edge."""
        place = np.full(len(self.held), -1)
        place[self.sites] = np.arange(self.sites.size)
        pairs = self.task.neighbours[np.any(place[self.task.neighbours] >= 0, axis=1)]
        if not len(pairs):
            return []
        high = np.array([laid.heights for laid in self.ways])
        held, most = heights(self.held), self.task.box.max_step_um
        found = []
        for edge in (0, 1):
            of_site = np.vstack([self.pick * high[:, edge], np.zeros(self.pick.shape[1])])
            rows = of_site[place[pairs[:, 0]]] - of_site[place[pairs[:, 1]]]
            outside = held[pairs[:, 0], edge] - held[pairs[:, 1], edge]
            found.append(LinearConstraint(_with(rows), -most - outside, most - outside))
        return found

    @cached_property
    def _stock(self) -> list[LinearConstraint]:
        """The pieces that there are, of sizes of which there are not enough for anything."""
        few = np.isfinite(self.task.free)
        if not few.any():
            return []
        used = np.array([[laid.pieces.count(size) for laid in self.ways] for size in self.task.box.sizes_um])
        left = self.task.free - self.task.used(self.held)
        return [LinearConstraint(_with(used[few].astype(np.float64)), -np.inf, left[few])]


@dataclass(frozen=True, eq=False)
class Planes:
    """Planes that touch the cones: direction · misfit ≤ worst. `by_option` (planes, options), `base_um` (planes,)."""

    by_option: Floats
    base_um: Floats

    @staticmethod
    def touching(programme: Programme, misfits: Floats) -> Planes:
        """Planes for the longest of misfits (k · P, 5), which belong to the places in turn."""
        longest = np.argsort(-np.linalg.norm(misfits, axis=1))[:FIRST_PLANES]
        none = Planes(np.zeros((0, programme.pick.shape[1])), np.zeros(0))
        return none.at(programme, longest % len(programme.base_um), misfits[longest])

    def and_at(self, programme: Programme, places: Indices, misfits: Floats) -> Planes:
        """And those that touch at the misfits (P, 5) of some places."""
        return self.at(programme, places, misfits[places])

    def at(self, programme: Programme, places: Indices, misfits: Floats) -> Planes:
        direction = misfits / np.maximum(np.linalg.norm(misfits, axis=1, keepdims=True), 1e-12)
        rows = np.einsum("pc,pco->po", direction, programme.by_option[places])
        base = np.sum(direction * programme.base_um[places], axis=1)
        return Planes(np.concatenate([self.by_option, rows]), np.concatenate([self.base_um, base]))


def _with(rows: Floats, last: float = 0.0) -> csr_matrix:
    """Rows over the options, and the column of the worst misfit."""
    return csr_matrix(np.column_stack([rows, np.full(len(rows), last)]))


def _options(task: Task, present: Laid, reach: int | None) -> tuple[Laid, ...]:
    """The ways at one site: heights near the present ones, or nothing; what lies there first."""
    levels = np.array(task.box.levels_um)
    near = [_near(levels, height, reach) for height in present.heights]
    ways = [way for left in near[0] for right in near[1] for way in task.box.laid(left, right)]
    return tuple(dict.fromkeys([present, *ways]))


def _near(levels: Floats, height_um: float, reach: int | None) -> list[float]:
    if reach is None:
        return [float(level) for level in levels]
    at = int(np.argmin(np.abs(levels - height_um)))
    return sorted({0.0, *(float(level) for level in levels[max(at - reach, 0) : at + reach + 1])})
