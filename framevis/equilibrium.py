"""Equilibrium of a carriage at many states at once, on all cores.

Takes a `Mechanism` and the deviations (blocks, 5, N) of its blocks' rails at N states, gives pose, ball loads and
displacements of each. Starts near the answer, then Newton's method in `carriage_newton`.
"""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from framevis.carriage import Mechanism
from framevis.carriage_newton import Batch, States
from framevis.frame import Floats
from framevis.small_matrices import full

CHUNK = 4096  # states at once: more would not fit a core's cache, fewer cost more calls than arithmetic
cores = os.cpu_count() or 1  # that `solve` uses; `processes` sets it to 1 in each of many processes
TETHER = 0.01  # share of the nominal stiffness in the linear answer from which draws start


@dataclass(frozen=True, eq=False)
class Equilibrium:
    """Solved states. `plate` (5, N) pose µm, mrad; `displacement` (blocks, 5, N) of each block against its rail;
    `load_sum_n` (blocks, N) ΣQ; `peak_n` (blocks, N) highest ball load; `residual` (N,) N and N·mm.
    """

    plate: Floats
    displacement: Floats
    load_sum_n: Floats
    peak_n: Floats
    residual: Floats


@lru_cache(maxsize=256)
def on_perfect_frame(mechanism: Mechanism, rigid_seats: bool = False) -> Equilibrium:
    """The one state (N = 1) of a carriage under its weight on a perfect frame, without shims."""
    bare = Mechanism(mechanism.carriage, mechanism.up)
    return solve(bare, np.zeros((len(bare.lines), 5, 1)), rigid_seats=rigid_seats)


@dataclass(frozen=True, eq=False)
class Near:
    """Solved states (S) to start from and the deviations (blocks, 5, S) that they answer; each stands for `count`
    states in a row."""

    solved: Equilibrium
    deviations: Floats
    count: int = 1

    def repeated(self, count: int) -> Near:
        """The same, for `count` states each."""
        return replace(self, count=count)


def solve(
    mechanism: Mechanism,
    deviations: Floats,
    *,
    rigid_seats: bool = False,
    near: Near | None = None,
) -> Equilibrium:
    """Equilibrium of a carriage whose blocks' rails deviate by `deviations` (blocks, 5, N): µm, mrad.

    Block shims count; `rigid_seats` leaves the seat stiffness out. `near`: solved states that lie close, to start
    from, N with their repeats.
    """
    batch = _batch(mechanism, rigid_seats)
    moved = None if near is None else response_near(batch, near)

    def run(part: Part) -> States:
        here = deviations[:, :, part.states]
        wanted = here - mechanism.block_shims[:, :, None]
        if near is None or moved is None:
            return batch.run(wanted, *from_rails(batch, wanted))
        return batch.run(wanted, *from_near(batch, near, moved, here, part.near))

    parts = parts_of(deviations.shape[2], 1 if near is None else near.count)
    if len(parts) == 1:
        done = [run(parts[0])]
    else:
        with ThreadPoolExecutor(cores) as pool:  # numpy lets go of the interpreter in its loops
            done = list(pool.map(run, parts))
    names = ("plate", "block", "load_sum", "peak", "residual")
    return Equilibrium(*(np.concatenate([getattr(part, name) for part in done], axis=-1) for name in names))


@lru_cache(maxsize=256)
def _batch(mechanism: Mechanism, rigid_seats: bool) -> Batch:
    """A mechanism's constant matrices, built once and before threads ask for them."""
    batch = Batch(mechanism, rigid_seats)
    batch.warm()
    return batch


@dataclass(frozen=True)
class Part:
    """States that one core solves at once, and the solved states near to which they lie."""

    states: slice
    near: slice


def parts_of(states: int, count: int) -> list[Part]:
    """Cut N states, `count` a solved one, into parts of `CHUNK` at most."""
    if count > CHUNK:
        cuts = [(at, min(at + CHUNK, first + count)) for first in range(0, states, count)
                for at in range(first, first + count, CHUNK)]  # fmt: skip
        return [Part(slice(a, b), slice(a // count, a // count + 1)) for a, b in cuts]
    whole = CHUNK // count
    return [
        Part(slice(at * count, (at + whole) * count), slice(at, at + whole))
        for at in range(0, max(1, states // count), whole)
    ]


def from_rails(batch: Batch, wanted: Floats) -> tuple[Floats, Floats]:
    """Start (5, N), (blocks, 5, N) from the best rigid fit of the plate to the rails, weighed by stiffness."""
    blocks, _, count = wanted.shape
    mechanism = batch.mechanism
    sag = np.linalg.solve(mechanism.nominal_stiffness, batch.load)
    plate = mechanism.rigid_fit @ wanted.reshape(blocks * 5, count) + sag
    block = batch.carried(plate) - wanted
    return plate, block if batch.compliance is None else np.matmul(mechanism.share_of_block, block)


def response_near(batch: Batch, near: Near) -> Floats:
    """What plate and blocks of solved states (S) do per deviation: (S, 5 + blocks · 5, blocks · 5).

    Linear, with the balls as stiff as they are there; a little of the nominal stiffness keeps a plate in place that
    nothing touches.
    """
    mechanism, leverage = batch.mechanism, batch.mechanism.leverage
    solved, blocks = near.solved, len(leverage)
    tangents = [
        batch.seat_tangent(i, batch.blocks[i].sums(moved)[1].reshape(12, -1))
        for i, moved in enumerate(solved.displacement)
    ]
    effective = np.stack([full(tangent) for tangent in tangents], axis=1)  # (S, blocks, 5, 5)
    effective = (1.0 - TETHER) * effective + TETHER * mechanism.nominal_tangents
    pulled = leverage.swapaxes(1, 2) @ effective
    stiffness = np.sum(pulled @ leverage, axis=1)
    sides = pulled.transpose(0, 2, 1, 3).reshape(-1, 5, 5 * blocks)
    plate = np.linalg.solve(stiffness, sides)
    block = np.einsum("bij,sjk->sbik", leverage, plate)
    for index in range(blocks):
        block[:, index, :, 5 * index : 5 * index + 5] -= np.eye(5)
    if batch.compliance is not None:
        block -= batch.compliance * (effective @ block)
    return np.concatenate([plate, block.reshape(-1, 5 * blocks, 5 * blocks)], axis=1)


def from_near(batch: Batch, near: Near, moved: Floats, here: Floats, which: slice) -> tuple[Floats, Floats]:
    """Start (5, N), (blocks, 5, N) from solved states, moved by the linear answer to what differs."""
    blocks, _, count = here.shape
    there, plate, block = (
        part[..., which, None] for part in (near.deviations, near.solved.plate, near.solved.displacement)
    )
    differs = (here.reshape(blocks, 5, there.shape[2], -1) - there).reshape(blocks * 5, there.shape[2], -1)
    step = np.matmul(moved[which], differs.swapaxes(0, 1)).swapaxes(0, 1)
    start = step[:5] + plate, step[5:].reshape(blocks, 5, there.shape[2], -1) + block
    return start[0].reshape(5, count), start[1].reshape(blocks, 5, count)
