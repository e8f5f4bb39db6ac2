"""Newton's method for many carriage states at once: the hot loop of the numerical half.

Takes a `Mechanism` and the deviations (blocks, 5, N) of its blocks' rails at N states, gives pose, ball loads and
displacements of each. The balls of a line differ only in where they stand, and the approach varies linearly along
the line: a block is four lines, each with its sums over balls, and everything else is small matrix products.
"""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cached_property, lru_cache, partial

import numpy as np

from framevis.carriage import Mechanism
from framevis.frame import Flags, Floats
from framevis.small_matrices import UPPER, solve_spd, through_seat, times

TOLERANCE = 3e-7  # of the residual, N and N·mm; the last Newton step usually leaves far less
CHUNK = 4096  # states at once: more would not fit a core's cache, fewer cost more calls than arithmetic
MOST_STEPS = 200
LARGEST_STEP_UM = 60.0  # of a plate's corner in one step: a block in clearance has no stiffness to stop it
LEAST_ADDED = 1e-9  # share of the nominal stiffness added always: for directions in which nothing touches


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
    """Solved states (N) to start from, and the deviations (blocks, 5, N) that they answer."""

    solved: Equilibrium
    deviations: Floats

    def repeated(self, count: int) -> Near:
        """Each state `count` times in a row."""
        names = ("plate", "displacement", "load_sum_n", "peak_n", "residual")
        states = (np.repeat(getattr(self.solved, name), count, axis=-1) for name in names)
        return Near(Equilibrium(*states), np.repeat(self.deviations, count, axis=-1))

    def part(self, states: slice) -> tuple[Floats, Floats, Floats]:
        solved = self.solved
        return solved.plate[:, states], solved.displacement[..., states], self.deviations[..., states]


def solve(
    mechanism: Mechanism,
    deviations: Floats,
    *,
    rigid_seats: bool = False,
    near: Near | None = None,
) -> Equilibrium:
    """Equilibrium of a carriage whose blocks' rails deviate by `deviations` (blocks, 5, N): µm, mrad.

    Block shims count; `rigid_seats` leaves the seat stiffness out. `near`: N solved states that lie
    close, to start from.
    """
    batch = Batch(mechanism, rigid_seats)
    places = [slice(at, at + CHUNK) for at in range(0, deviations.shape[2], CHUNK)]

    def run(states: slice) -> Equilibrium:
        wanted = np.ascontiguousarray(deviations[:, :, states] - mechanism.block_shims[:, :, None])
        if near is None:
            return batch.run(wanted, batch.from_rails(wanted))
        return batch.run(wanted, batch.from_near(deviations[:, :, states], *near.part(states)))

    if len(places) == 1:
        parts = [run(places[0])]
    else:
        batch.warm()
        with ThreadPoolExecutor(os.cpu_count() or 1) as pool:  # numpy lets go of the interpreter in its loops
            parts = list(pool.map(run, places))
    join = partial(np.concatenate, axis=-1)
    fields = ("plate", "displacement", "load_sum_n", "peak_n", "residual")
    return Equilibrium(*(join([getattr(part, name) for part in parts]) for name in fields))


@dataclass(frozen=True, eq=False)
class Response:
    """What the balls answer at one iterate of N states: everything a Newton step needs.

    `load_sum` (blocks, N); `pressed` (blocks, 5, N) wrench on the rails; `tangent` (blocks, 15, N) of the blocks
    and `effective`, the same seen through the seats; `strain` (blocks, 5, N) by which the seats' wrench exceeds
    the balls'; `out` (5, N) the plate's residual once that is relaxed; `norm` (N,) of the true residual.
    """

    load_sum: Floats
    pressed: Floats
    tangent: Floats
    effective: Floats
    strain: Floats | None
    out: Floats
    norm: Floats

    def only(self, wanted: Flags) -> Response:
        """Some of the states (N,) bool."""
        strain = None if self.strain is None else self.strain[..., wanted]
        same = self.effective is self.tangent
        tangent = self.tangent[..., wanted]
        effective = tangent if same else self.effective[..., wanted]
        rest = (self.out[..., wanted], self.norm[wanted])
        return Response(self.load_sum[..., wanted], self.pressed[..., wanted], tangent, effective, strain, *rest)


@dataclass(frozen=True, eq=False)
class Step:
    """A step of plate (5, N) and blocks (blocks, 5, N), the energy's slope (N,) along it where it began, and the
    stiffness (N,), as a share of the nominal one, that was added to keep it short where nothing touches."""

    plate: Floats
    block: Floats
    slope: Floats
    added: Floats

    def only(self, wanted: Flags) -> Step:
        """Some of the states (N,) bool."""
        return Step(self.plate[:, wanted], self.block[..., wanted], self.slope[wanted], self.added[wanted])


@dataclass(frozen=True, eq=False)
class Batch:
    """The constant matrices of a mechanism, arranged for products over many states."""

    mechanism: Mechanism
    rigid_seats: bool

    def warm(self) -> None:
        """Build what is built on first use, before threads ask for it."""
        for name in ("lines", "preload_um", "balls", "tangent_of_sums", "congruence", "pull", "compliance", "load"):
            getattr(self, name)

    @cached_property
    def compliance(self) -> Floats | None:
        """C of the seats (5,), None where they are rigid."""
        rigid = self.rigid_seats or not np.any(self.mechanism.seat_compliance)
        return None if rigid else self.mechanism.seat_compliance

    @cached_property
    def load(self) -> Floats:
        return self.mechanism.load[:, None]

    @cached_property
    def lines(self) -> tuple[Floats, Floats]:
        """`fixed` and `along` of every block's lines, (blocks, 4, 5) each."""
        lines = self.mechanism.lines
        return np.array([line.fixed for line in lines]), np.array([line.along for line in lines])

    @cached_property
    def preload_um(self) -> Floats:
        return np.array([line.guide.preload_interference_um for line in self.mechanism.lines])[:, None, None]

    @cached_property
    def balls(self) -> tuple[Floats, Floats]:
        """Place (mm) and K of the k-th ball on every block's lines, (balls, blocks, 1, 1); K = 0 where it has none."""
        lines = self.mechanism.lines
        place, stiffness = np.zeros((2, max(line.places_mm.size for line in lines), len(lines)))
        for block, line in enumerate(lines):
            place[: line.places_mm.size, block] = line.places_mm
            stiffness[: line.places_mm.size, block] = line.stiffness
        return place[:, :, None, None], stiffness[:, :, None, None]

    @cached_property
    def tangent_of_sums(self) -> Floats:
        """(blocks, 15, 12): a block's tangent, upper triangle, from the stiffness sums of its four lines."""
        a, b = (part[:, :, :, None] for part in self.lines)
        outer = [a * a.swapaxes(2, 3), a * b.swapaxes(2, 3) + b * a.swapaxes(2, 3), b * b.swapaxes(2, 3)]
        stacked = np.concatenate(outer, axis=1)  # (blocks, 12, 5, 5)
        return np.stack([stacked[:, :, i, j] for i, j in UPPER], axis=1)

    @cached_property
    def congruence(self) -> Floats:
        """(15, blocks · 15): the plate's tangent ΣJᵀTJ from the blocks', upper triangles both."""
        columns = []
        for jacobian in self.mechanism.leverage:
            for i, j in UPPER:
                unit = np.zeros((5, 5))
                unit[i, j] = unit[j, i] = 1.0
                moved = jacobian.T @ unit @ jacobian
                columns.append([moved[k, m] for k, m in UPPER])
        return np.array(columns).T

    @cached_property
    def pull(self) -> Floats:
        """(5, blocks · 5): the wrench on the plate from those on the blocks, ΣJᵀf."""
        return np.concatenate(list(self.mechanism.leverage), axis=0).T

    def run(self, wanted: Floats, start: tuple[Floats, Floats]) -> Equilibrium:
        """Solve one chunk: `wanted` (blocks, 5, N) is where each block's displacement counts from."""
        plate, block = start
        load_sum, residual = np.zeros((len(wanted), wanted.shape[2])), np.zeros(wanted.shape[2])
        index, at, x, e = np.arange(wanted.shape[2]), plate, block, wanted
        last = Step(np.zeros_like(plate), np.zeros_like(block), np.full(index.size, -np.inf), np.zeros(index.size))
        for count in range(MOST_STEPS):
            answer = self._respond(at, x, e)
            busy = answer.norm > TOLERANCE
            ended = count + 1 == MOST_STEPS or not busy.any()
            if ended or 2 * np.count_nonzero(busy) < busy.size:
                plate[:, index], block[:, :, index] = at, x
                load_sum[:, index], residual[index] = answer.load_sum, answer.norm
                if ended:
                    break
                index, at, x, e = index[busy], at[:, busy], x[:, :, busy], e[:, :, busy]
                answer, last = answer.only(busy), last.only(busy)
            move, last = self._next(answer, last)
            at = at + move.plate
            x = x + move.block if answer.strain is not None else self._carried(at) - e
        return Equilibrium(plate, block, load_sum, self._peak(block), residual)

    def from_rails(self, wanted: Floats) -> tuple[Floats, Floats]:
        """Best rigid fit of the plate to the rails, weighed by stiffness, and the blocks that go with it."""
        blocks, _, count = wanted.shape
        mechanism = self.mechanism
        sag = np.linalg.solve(mechanism.nominal_stiffness, self.load)
        plate = mechanism.rigid_fit @ wanted.reshape(blocks * 5, count) + sag
        block = self._carried(plate) - wanted
        return plate, block if self.compliance is None else np.matmul(mechanism.share_of_block, block)

    def from_near(self, deviations: Floats, plate: Floats, block: Floats, there: Floats) -> tuple[Floats, Floats]:
        """From solved states for deviations `there`, moved by the linear answer to what differs."""
        blocks, _, count = deviations.shape
        differs = deviations - there
        step = self.mechanism.rigid_fit @ differs.reshape(blocks * 5, count)
        moved = self._carried(step) - differs
        if self.compliance is not None:
            moved = np.matmul(self.mechanism.share_of_block, moved)
        return plate + step, block + moved

    def _carried(self, plate: Floats) -> Floats:
        """Displacement (blocks, 5, N) of every block's seat with the plate."""
        return np.asarray(np.matmul(self.mechanism.leverage, plate))

    def _sums(self, block: Floats) -> tuple[Floats, Floats]:
        """ΣQ, ΣsQ (2, blocks, 4, N) and ΣQ′, ΣsQ′, Σs²Q′ (3, blocks, 4, N) over the balls of each line."""
        fixed, along = self.lines
        middle = np.matmul(fixed, block) + self.preload_um
        slope = np.matmul(along, block)
        force, tangent = np.zeros((2, *middle.shape)), np.zeros((3, *middle.shape))
        for place, stiffness in zip(*self.balls, strict=True):
            load = slope * place
            load += middle
            np.maximum(load, 0.0, out=load)  # δ
            root = np.sqrt(load)
            root *= stiffness  # K δ^½
            load *= root  # Q
            force[0] += load
            load *= place
            force[1] += load
            tangent[0] += root
            root *= place
            tangent[1] += root
            root *= place
            tangent[2] += root
        tangent *= 1.5
        return force, tangent

    def _respond(self, plate: Floats, block: Floats, wanted: Floats) -> Response:
        blocks, _, count = block.shape
        force, sums = self._sums(block)
        fixed, along = self.lines
        pressed = np.matmul(fixed.swapaxes(1, 2), force[0]) + np.matmul(along.swapaxes(1, 2), force[1])
        tangent = np.matmul(self.tangent_of_sums, sums.swapaxes(0, 1).reshape(blocks, 12, count))
        out = self.pull @ pressed.reshape(blocks * 5, count) - self.load
        square = np.einsum("in,in->n", out, out)
        effective, strain = tangent, None
        if self.compliance is not None:
            gap = self._carried(plate) - wanted - block - self.compliance[:, None] * pressed
            effective = through_seat(tangent, self.compliance)
            strain = gap * self._seat_stiffness
            square = square + np.einsum("bin,bin->n", strain, strain)
            out = out + self.pull @ times(effective, gap).reshape(blocks * 5, count)
        return Response(force[0].sum(axis=1), pressed, tangent, effective, strain, out, np.sqrt(square))

    @cached_property
    def _seat_stiffness(self) -> Floats:
        """1/C of the seats (5, 1); 0 where rigid: there seat and block never part."""
        compliance = self.mechanism.seat_compliance
        return np.divide(1.0, compliance, out=np.zeros(5), where=compliance > 0.0)[:, None]

    def _next(self, answer: Response, last: Step) -> tuple[Step, Step]:
        """The move to make, and what it now is a step of: on by a new step, or part of the last one taken back.

        The energy is convex, so its slope along a step tells how far past the minimum the step went.
        """
        slope = self._slope(answer, last)
        past = slope > 0.5 * np.abs(last.slope)
        added = np.where(past, np.maximum(10.0 * last.added, 1e4 * LEAST_ADDED), last.added / 3.0)
        new = self._newton(answer, np.maximum(added, LEAST_ADDED))
        if not past.any():
            return new, new
        drop = np.where(past, np.abs(last.slope), 1.0)
        keep = np.clip(drop / (drop + np.where(past, slope, 0.0)), 0.1, 0.6)
        back, kept = np.where(past, keep - 1.0, 1.0), np.where(past, keep, 1.0)
        plate, block = np.where(past, last.plate, new.plate), np.where(past, last.block, new.block)
        slope0 = np.where(past, last.slope * keep, new.slope)
        move = Step(back * plate, back * block, slope0, new.added)
        return move, Step(kept * plate, kept * block, slope0, new.added)

    def _slope(self, answer: Response, step: Step) -> Floats:
        """Change of elastic energy and load along a step (N,): µJ per whole step."""
        total = np.einsum("bin,bin->n", answer.pressed, step.block) - np.einsum("in,in->n", self.load, step.plate)
        if answer.strain is not None:
            total += np.einsum("bin,bin->n", answer.pressed + answer.strain, self._carried(step.plate) - step.block)
        return np.asarray(total)

    def _newton(self, answer: Response, added: Floats) -> Step:
        """The Newton step with some stiffness `added` (N,), never longer than `LARGEST_STEP_UM`."""
        blocks, _, count = answer.tangent.shape
        stiffness = self.congruence @ answer.effective.reshape(blocks * 15, count)
        nominal = self.mechanism.nominal_stiffness
        for position, (i, j) in enumerate(UPPER):
            if i == j:
                stiffness[position] += added * nominal[i, i]
        plate = -solve_spd(stiffness, answer.out)
        reach = np.abs(plate[:2]).max(axis=0) + self.mechanism.span_mm * np.abs(plate[2:]).max(axis=0)
        shorten = np.minimum(1.0, LARGEST_STEP_UM / np.maximum(reach, 1e-12))
        block = self._carried(plate)
        if answer.strain is not None and self.compliance is not None:
            gap = answer.strain * self.compliance[:, None]
            moved = block + gap
            block = moved - self.compliance[:, None] * times(answer.effective, moved)
        step = Step(plate * shorten, block * shorten, np.zeros(count), added)
        return Step(step.plate, step.block, self._slope(answer, step), added)

    def _peak(self, block: Floats) -> Floats:
        """Highest ball load (blocks, N): along a line the approach is linear, so one of its ends has it."""
        fixed, along = self.lines
        middle, slope = np.matmul(fixed, block) + self.preload_um, np.matmul(along, block)
        lines = self.mechanism.lines
        reach = np.array([line.places_mm[-1] for line in lines])[:, None, None]
        most = np.maximum((middle + np.abs(slope) * reach).max(axis=1), 0.0)
        return np.asarray(np.array([line.stiffness for line in lines])[:, None] * most**1.5)
