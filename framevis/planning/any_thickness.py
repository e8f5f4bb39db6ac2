"""Shims of any thickness: where a search starts from, and the limit below which no plan can go.

Takes a `Task`, gives heights that are never negative. The least worst misfit is approached by least squares whose
weights grow where misfits are long (Lawson 1961, after Rice & Usow 1968): for any weights that sum to 1 the worst is at
least the root of the least weighted mean square, which is the proven limit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cholesky, solve_triangular
from scipy.optimize import nnls

from framevis.frame import Floats
from framevis.planning.shim_programme import Task

ROUNDS = 8
LEAST_WEIGHT, STIFFENING = 1e-3, 1e-7  # of the mean weight; of the largest diagonal
THRIFT = np.geomspace(10.0, 1e-3, 33)  # price of a µm of shim against the misfits, the dearest first
TOLERABLE = 0.2  # share of the gain that thinner shims may give away
PUSH_PRICE = 10.0  # of a µm of push against one of shim


@dataclass(frozen=True, eq=False)
class Ideal:
    """`bound_um`: no plan has a shorter worst misfit. `heights_um` (ways, sites, 2): shims from the thinnest to those
    that do most; `pushes_um` (ways, K) to the left; `worst_um` (ways,) what each leaves."""

    bound_um: float
    heights_um: Floats
    pushes_um: Floats
    worst_um: Floats

    @property
    def thrifty(self) -> int:
        """The thinnest way that gives away next to nothing of what the best would gain."""
        least, most = float(self.worst_um.min()), float(self.worst_um.max())
        return int(np.argmax(self.worst_um <= least + TOLERABLE * (most - least)))


def any_thickness(task: Task, push_per_um: Floats | None = None, room_um: tuple[Floats, Floats] | None = None) -> Ideal:
    """Shims of any thickness within the layers of the box, and pushes, of which `push_per_um` (P, 5, K) and the room
    (K,) to the right (negative) and to the left are given."""
    sides = 2 * len(task.allowed)
    push = np.zeros((*task.bare_um.shape, 0)) if push_per_um is None else push_per_um
    low, high = (np.zeros(0), np.zeros(0)) if room_um is None else room_um
    per = np.concatenate([task.flat, push, -push], axis=2)
    highest = np.where(np.repeat(task.allowed, 2), max(task.box.levels_um), 0.0)
    most = np.concatenate([highest, high, -low])
    per = per * (most > 0.0)
    price = np.concatenate([np.ones(sides), np.full(2 * low.size, PUSH_PRICE)])
    even = np.ones(len(per))
    ways = np.array([np.minimum(_least(task.bare_um, per, even, thrift * price), most) for thrift in THRIFT])
    worst = np.array([np.linalg.norm(task.bare_um + per @ way, axis=1).max() for way in ways])
    pushes = ways[:, sides:].reshape(len(ways), 2, -1)
    heights = ways[:, :sides].reshape(len(ways), -1, 2)
    return Ideal(_bound(task.bare_um, per), heights, pushes[:, 0] - pushes[:, 1], worst)


def _bound(bare: Floats, per: Floats) -> float:
    """The proven limit of the worst misfit."""
    weights, bound = np.ones(len(bare)), 0.0
    for _ in range(ROUNDS):
        length = np.linalg.norm(bare + per @ _least(bare, per, weights, 0.0), axis=1)
        # what stiffening and rounding leave open is taken off
        bound = max(bound, float(np.sqrt(np.average(length**2, weights=weights))) * (1.0 - 1e-3))
        weights = np.maximum(weights * length / max(length.mean(), 1e-12), LEAST_WEIGHT)
        weights = weights / weights.mean()
    return bound


def _least(bare: Floats, per: Floats, weights: Floats, price: Floats | float) -> Floats:
    """Amounts (K,) ≥ 0 of the least Σ weight · |misfit|² + 2 price · amounts: non-negative least squares."""
    flat = (per * np.sqrt(weights)[:, None, None]).reshape(-1, per.shape[2])
    gram, pull = flat.T @ flat, -flat.T @ (bare * np.sqrt(weights)[:, None]).ravel()
    gram[np.diag_indices_from(gram)] += STIFFENING * max(gram.diagonal().max(), 1e-12)
    upper = cholesky(gram)
    return np.asarray(nnls(upper, solve_triangular(upper, pull - price, trans="T"), maxiter=50 * len(pull))[0])
