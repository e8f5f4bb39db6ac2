"""The mixed-integer programme of shims (scipy's HiGHS): what lies at some sites, all else held.

Takes a `Task` (a group of carriages as weighed misfits, the box of shims), gives a choice. Unknown is how many pieces
of each size lie under the full width and under each edge of each site: few integers, so that HiGHS is quick. That no
misfit is longer than the worst is a cone; it is approached from outside by planes that touch it where an answer left
it, first for parts of pieces (linear programmes), then for whole ones.
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
from framevis.planning.layers import Box, Laid, Layers

# Nodes, not time, so that plans don't depend on the speed of a machine; time for once that HiGHS forgets about nodes
CARE: Any = {"node_limit": 500, "mip_rel_gap": 5e-4, "time_limit": 2.0}
FIRST_PLANES, MOST_RELAXED, MOST_ROUNDS = 60, 40, 6
OUTSIDE_UM, CLOSE_UM = 0.01, 0.04  # by which an answer may leave the cone; by which it may miss the least
PIECE_COST_UM, SPOT_COST = 5e-4, 0.01  # of misfit, without which HiGHS wanders among equals; of a piece
EDGES_OF_PARTS = np.array([[1.0, 1.0], [1.0, 0.0], [0.0, 1.0]])  # which edges (left, right) full, left, right lift
Choice = tuple[Laid, ...]  # what lies at every site


@dataclass(frozen=True, eq=False)
class Task:
    """What is to be shimmed. `bare_um` (P, 5) the weighed misfits without any shim, `per_um` (P, 5, sites, 2) by the
    height under each edge, `free` (sizes,) how many pieces there are (inf: no limit), `neighbours` (pairs, 2) sites of
    neighbouring screws, `allowed` (sites,)."""

    bare_um: Floats
    per_um: Floats
    box: Box
    free: Floats
    neighbours: Indices
    allowed: Flags

    @cached_property
    def flat(self) -> Floats:
        """(P, 5, 2 · sites)."""
        return np.ascontiguousarray(self.per_um.reshape(*self.bare_um.shape, -1))

    @cached_property
    def reach_of_site(self) -> Flags:
        """(P, sites) whether a place feels a site."""
        return np.asarray(np.any(self.per_um != 0.0, axis=(1, 3)))

    @cached_property
    def _felt(self) -> csr_matrix:
        """(P · 5, 2 · sites): a place feels a few screws of a long rail."""
        return csr_matrix(self.flat.reshape(self.bare_um.size, -1))

    def misfits(self, heights_um: Floats) -> Floats:
        """(P, 5) for heights (2 · sites,)."""
        return self.changed(self.bare_um, heights_um)

    def changed(self, misfits: Floats, heights_um: Floats) -> Floats:
        """(P, 5), or (K, P, 5), of misfits (P, 5) by more of heights (2 · sites,), or (K, 2 · sites)."""
        by = (self._felt @ heights_um.T).T
        return np.asarray(misfits + by.reshape(*by.shape[:-1], *misfits.shape))

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
    return np.array([laid.heights for laid in choice], dtype=np.float64)


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


def solved(task: Task, choice: Choice, sites: Indices, target_um: float | None = None) -> Answer:
    """The best choice at some sites, all else held: without a target the least worst misfit, with one the fewest
    pieces, then spots, that keep to it. What was there stays where nothing better is found."""
    programme = Programme.of(task, choice, sites)
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
        better = there <= limit + OUTSIDE_UM and (fewer or here > limit + OUTSIDE_UM)
    return Answer(new if better else choice, bound, proven)


@dataclass(frozen=True, eq=False)
class Programme:
    """N amounts: for each of the sites chosen, and for its full width, its left and its right edge, how many pieces of
    each size. Places P that feel them: `base_um` (P, 5) what is held, `by_piece` (P, 5, N) what each piece brings;
    `present` (N,) what is there."""

    task: Task
    sites: Indices
    base_um: Floats
    by_piece: Floats
    present: Floats
    held: Choice

    @staticmethod
    def of(task: Task, choice: Choice, sites: Indices) -> Programme:
        held, sizes = list(choice), task.box.sizes_um
        for site in sites:
            held[site] = Laid()
        felt = np.flatnonzero(task.reach_of_site[:, sites].any(axis=1))
        base = task.bare_um[felt] + task.flat[felt] @ heights(tuple(held)).ravel()
        per = task.per_um[np.ix_(felt, np.arange(5), sites)] @ EDGES_OF_PARTS.T  # (P, 5, sites, parts)
        by = (per[..., None] * np.array(sizes)).reshape(*base.shape, -1)
        parts = [layers for site in sites for _, layers in choice[site].parts]
        present = np.array([[layers.count(size) for size in sizes] for layers in parts], dtype=np.float64).ravel()
        return Programme(task, sites, base, by, present, tuple(held))

    def misfits(self, amounts: Floats) -> Floats:
        """(P, 5) of amounts (N,)."""
        return np.asarray(self.base_um + self.by_piece @ amounts)

    def worst(self, amounts: Floats) -> float:
        return float(np.linalg.norm(self.misfits(amounts), axis=1).max(initial=0.0))

    def carried_out(self, choice: Choice, amounts: Floats) -> Choice:
        """A choice with the amounts (N,) at the sites; where pieces don't run out, layered with the least effort."""
        new, box = list(choice), self.task.box
        by_site = amounts.reshape(self.sites.size, 3, -1)
        for site, parts in zip(self.sites, by_site, strict=True):
            laid = Laid(*(_layers(box, row) for row in parts))
            ways = () if np.isfinite(self.task.free).any() else box.laid(*laid.heights)
            new[site] = min((laid, *ways), key=lambda way: way.effort)
        return tuple(new)

    def solve(self, limit_um: float, least: bool) -> tuple[Floats | None, float, bool]:
        """The amounts (N,), the proven bound and whether it is reached."""
        planes = Planes.touching(self, np.concatenate([self.misfits(self.present), self.base_um]))
        planes = self._relaxed(planes, limit_um, least)
        best: Floats | None = None
        for _ in range(MOST_ROUNDS):
            answer = self._answer(planes, limit_um, least)
            bound = -np.inf if answer.mip_dual_bound is None else float(answer.mip_dual_bound)
            bound -= PIECE_COST_UM * (1.0 + SPOT_COST) * 2.0 * float(self._most.sum()) if least else 0.0
            if answer.x is None:
                return best, bound, False
            chosen = np.round(answer.x[: self.present.size])
            allowed = (float(answer.x[-1]) if least else limit_um) + OUTSIDE_UM
            if least:
                best = min((self.present if best is None else best, chosen), key=self.worst)
            misfits = self.misfits(chosen)
            beyond = np.flatnonzero(np.linalg.norm(misfits, axis=1) > allowed)
            if least and best is not None and self.worst(best) <= bound + CLOSE_UM:
                return best, bound, True
            if not beyond.size or answer.status != 0:
                return (best if least or beyond.size else chosen), bound, answer.status == 0
            planes = planes.and_at(self, beyond, misfits)
        return best, -np.inf, False

    def _relaxed(self, planes: Planes, limit_um: float, least: bool) -> Planes:
        """Planes enough for parts of pieces: linear programmes are soon solved, and then few whole ones are needed."""
        for _ in range(MOST_RELAXED):
            answer = self._answer(planes, limit_um, least, parts=True)
            if answer.x is None:
                break
            misfits = self.misfits(answer.x[: self.present.size])
            allowed = (float(answer.x[-1]) if least else limit_um) + OUTSIDE_UM
            beyond = np.flatnonzero(np.linalg.norm(misfits, axis=1) > allowed)
            if not beyond.size:
                break
            planes = planes.and_at(self, beyond, misfits)
        return planes

    def _answer(self, planes: Planes, limit_um: float, least: bool, parts: bool = False) -> OptimizeResult:
        """Amounts (N,), whether anything lies at each spot (3 · sites,), the worst misfit."""
        pieces, spots = self.present.size, 3 * self.sites.size
        price = np.r_[np.ones(pieces), np.full(spots, SPOT_COST)] * (PIECE_COST_UM if least else 1.0)
        return milp(
            np.r_[price, float(least)],
            constraints=[LinearConstraint(self._with(planes.by_piece, -1.0), -np.inf, -planes.base_um), *self._rules],
            integrality=np.r_[np.full(pieces + spots, float(not parts)), 0.0],
            bounds=Bounds(
                np.zeros(pieces + spots + 1), np.r_[np.full(pieces, self._most.max()), np.ones(spots), limit_um]
            ),
            options=CARE,
        )

    @cached_property
    def _most(self) -> Floats:
        """Layers under one edge of each site (sites,): those of the box, or what is there if that is more."""
        by_site = self.present.reshape(self.sites.size, 3, -1).sum(axis=2)
        return np.asarray(np.maximum(by_site[:, 0] + by_site[:, 1:].max(axis=1), float(self.task.box.max_layers)))

    @cached_property
    def _rules(self) -> list[LinearConstraint]:
        """Layers, spots, steps, and the pieces that there are."""
        sizes = len(self.task.box.sizes_um)
        counted = np.repeat(np.eye(3 * self.sites.size), sizes, axis=1)  # pieces at each spot
        edges = np.kron(np.eye(self.sites.size), np.repeat(EDGES_OF_PARTS.T, sizes, axis=1))
        most = np.repeat(self._most, 2)
        taken = np.hstack([counted, -np.diag(np.repeat(self._most, 3)), np.zeros((len(counted), 1))])
        at_spots = LinearConstraint(csr_matrix(taken), -np.inf, 0.0)
        return [LinearConstraint(self._with(edges), -np.inf, most), at_spots, *self._steps, *self._stock]

    @cached_property
    def _steps(self) -> list[LinearConstraint]:
        """Steps between neighbouring screws, under each edge."""
        place = np.full(len(self.held), -1)
        place[self.sites] = np.arange(self.sites.size)
        pairs = self.task.neighbours[np.any(place[self.task.neighbours] >= 0, axis=1)]
        if not len(pairs):
            return []
        held, most = heights(self.held), self.task.box.max_step_um
        found = []
        for edge, parts in enumerate(EDGES_OF_PARTS.T):
            high = np.kron(np.eye(self.sites.size), np.outer(parts, self.task.box.sizes_um).ravel())
            of_site = np.vstack([high, np.zeros(self.present.size)])
            rows = of_site[place[pairs[:, 0]]] - of_site[place[pairs[:, 1]]]
            outside = held[pairs[:, 0], edge] - held[pairs[:, 1], edge]
            found.append(LinearConstraint(self._with(rows), -most - outside, most - outside))
        return found

    @cached_property
    def _stock(self) -> list[LinearConstraint]:
        """The pieces that there are, of sizes of which there are not enough for anything."""
        few = np.isfinite(self.task.free)
        if not few.any():
            return []
        used = np.tile(np.eye(few.size), 3 * self.sites.size)[few]
        left = self.task.free - self.task.used(self.held)
        return [LinearConstraint(self._with(used), -np.inf, left[few])]

    def _with(self, rows: Floats, last: float = 0.0) -> csr_matrix:
        """Rows over the amounts, and the columns of the spots and of the worst misfit."""
        count = len(rows)
        return csr_matrix(np.hstack([rows, np.zeros((count, 3 * self.sites.size)), np.full((count, 1), last)]))


def _layers(box: Box, amounts: Floats) -> Layers:
    return tuple(size for size, count in zip(box.sizes_um, amounts, strict=True) for _ in range(int(count)))


@dataclass(frozen=True, eq=False)
class Planes:
    """Planes that touch the cones: direction · misfit ≤ worst. `by_piece` (planes, N), `base_um` (planes,)."""

    by_piece: Floats
    base_um: Floats

    @staticmethod
    def touching(programme: Programme, misfits: Floats) -> Planes:
        """Planes for the longest of misfits (k · P, 5), which belong to the places in turn."""
        longest = np.argsort(-np.linalg.norm(misfits, axis=1))[:FIRST_PLANES]
        none = Planes(np.zeros((0, programme.present.size)), np.zeros(0))
        return none.at(programme, longest % len(programme.base_um), misfits[longest])

    def and_at(self, programme: Programme, places: Indices, misfits: Floats) -> Planes:
        """And those that touch at the misfits (P, 5) of some places."""
        return self.at(programme, places, misfits[places])

    def at(self, programme: Programme, places: Indices, misfits: Floats) -> Planes:
        direction = misfits / np.maximum(np.linalg.norm(misfits, axis=1, keepdims=True), 1e-12)
        rows = np.einsum("pc,pco->po", direction, programme.by_piece[places])
        base = np.sum(direction * programme.base_um[places], axis=1)
        return Planes(np.concatenate([self.by_piece, rows]), np.concatenate([self.base_um, base]))
