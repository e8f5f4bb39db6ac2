"""Newton's method for a batch of states of one carriage: the hot loop of the numerical half.

Takes a `Mechanism`, where its blocks' displacements count from and where to start; gives plates, blocks and ball loads.
States are the last axis of every array, so that all work is small matrix products over thousands of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from framevis.ball_pass import BlockPass
from framevis.carriage import Mechanism
from framevis.frame import Flags, Floats
from framevis.small_matrices import DIAGONAL, UPPER, solve_spd, through_seat, times

TOLERANCE = 3e-7  # of the residual, N and N·mm; the last Newton step usually leaves far less
MOST_STEPS = 200
LARGEST_STEP_UM = 60.0  # of a plate's corner in one step: a block in clearance has no stiffness to stop it
LEAST_ADDED = 1e-9  # share of the nominal stiffness added always: for directions in which nothing touches
FEW_LEFT = 0.75  # share of the states still at work from which on the others are left out


@dataclass(frozen=True, eq=False)
class States:
    """Carriage states as Newton leaves them: `plate` (5, N), `block` (blocks, 5, N), `load_sum` and `peak` (blocks, N),
    `residual` (N,)."""

    plate: Floats
    block: Floats
    load_sum: Floats
    peak: Floats
    residual: Floats


@dataclass(frozen=True, eq=False)
class Response:
    """What the balls answer at one iterate of N states.

    `load_sum` (blocks, N); `pressed` (blocks, 5, N) wrench on the rails; `stiff` (blocks, 12, N) sums of ball
    stiffness; `gap` (blocks, 5, N) what the seats have to give beyond what they do, None where they are rigid, and
    `strain` by how much their wrench exceeds the balls'; `out` (5, N) the plate's residual; `norm` (N,) of all of it.
    """

    load_sum: Floats
    pressed: Floats
    stiff: Floats
    gap: Floats | None
    strain: Floats | None
    out: Floats
    norm: Floats

    def only(self, wanted: Flags) -> Response:
        """Some of the states (N,) bool."""
        gap, strain = (None if part is None else part[..., wanted] for part in (self.gap, self.strain))
        load_sum, pressed, stiff = (part[..., wanted] for part in (self.load_sum, self.pressed, self.stiff))
        return Response(load_sum, pressed, stiff, gap, strain, self.out[:, wanted], self.norm[wanted])


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
        for name in ("compliance", "seat_stiffness", "load", "pull", "congruence", "plate_of_sums", "nominal"):
            getattr(self, name)
        for block in self.blocks:
            for name in ("seen", "places_mm", "weights", "tangent_of_sums"):
                getattr(block, name)

    @cached_property
    def blocks(self) -> tuple[BlockPass, ...]:
        return tuple(BlockPass(lines) for lines in self.mechanism.lines)

    @cached_property
    def compliance(self) -> Floats | None:
        """C of the seats (5, 1), None where they are rigid."""
        rigid = self.rigid_seats or not np.any(self.mechanism.seat_compliance)
        return None if rigid else self.mechanism.seat_compliance[:, None]

    @cached_property
    def seat_stiffness(self) -> Floats:
        """1/C of the seats (5, 1); 0 where rigid: there seat and block never part."""
        compliance = self.mechanism.seat_compliance
        return np.divide(1.0, compliance, out=np.zeros(5), where=compliance > 0.0)[:, None]

    @cached_property
    def load(self) -> Floats:
        return self.mechanism.load[:, None]

    @cached_property
    def nominal(self) -> Floats:
        """Diagonal of the plate's nominal stiffness (5, 1)."""
        return np.diag(self.mechanism.nominal_stiffness)[:, None].copy()

    @cached_property
    def pull(self) -> Floats:
        """(5, blocks · 5): the wrench on the plate from those on the blocks, ΣJᵀf."""
        return np.concatenate(list(self.mechanism.leverage), axis=0).T

    @cached_property
    def congruence(self) -> list[Floats]:
        """(15, 15) a block: its part JᵀTJ of the plate's tangent from its own, upper triangles both."""
        result = []
        for jacobian in self.mechanism.leverage:
            units = np.zeros((15, 5, 5))
            for position, (i, j) in enumerate(UPPER):
                units[position, i, j] = units[position, j, i] = 1.0
            moved = jacobian.T @ units @ jacobian
            result.append(np.array([moved[:, k, m] for k, m in UPPER]))
        return result

    @cached_property
    def plate_of_sums(self) -> Floats:
        """(15, blocks · 12): the plate's tangent from sums of ball stiffness, where seats are rigid."""
        pairs = zip(self.congruence, self.blocks, strict=True)
        return np.concatenate([part @ block.tangent_of_sums for part, block in pairs], axis=1)

    def run(self, wanted: Floats, plate: Floats, block: Floats) -> States:
        """Solve states from a start: `wanted` (blocks, 5, N) is where each block's displacement counts from."""
        count = wanted.shape[2]
        load_sum, residual = np.zeros((len(wanted), count)), np.zeros(count)
        index, at, x, e = np.arange(count), plate, block, wanted
        last = Step(np.zeros_like(plate), np.zeros_like(block), np.full(count, -np.inf), np.zeros(count))
        for step in range(MOST_STEPS):
            answer = self.respond(at, x, e)
            busy = answer.norm > TOLERANCE
            left = np.count_nonzero(busy)
            ended = step + 1 == MOST_STEPS or not left
            if ended or left < FEW_LEFT * busy.size:
                plate[:, index], block[:, :, index] = at, x
                load_sum[:, index], residual[index] = answer.load_sum, answer.norm
                if ended:
                    break
                index, at, x, e = index[busy], at[:, busy], x[:, :, busy], e[:, :, busy]
                answer, last = answer.only(busy), last.only(busy)
            move, last = self._next(answer, last)
            at = at + move.plate
            x = x + move.block if self.compliance is not None else self.carried(at) - e
        peak = np.array([part.peak_n(x) for part, x in zip(self.blocks, block, strict=True)])
        return States(plate, block, load_sum, peak, residual)

    def carried(self, plate: Floats) -> Floats:
        """Displacement (blocks, 5, N) of every block's seat with the plate."""
        return np.asarray(np.matmul(self.mechanism.leverage, plate))

    def respond(self, plate: Floats, block: Floats, wanted: Floats) -> Response:
        """What the balls answer to plates (5, N) and blocks (blocks, 5, N)."""
        blocks, _, count = block.shape
        load_sum, pressed = np.empty((blocks, count)), np.empty((blocks, 5, count))
        stiff = np.empty((blocks, 12, count))
        for index, part in enumerate(self.blocks):
            load, sums = part.sums(block[index])
            load_sum[index] = load[0].sum(axis=0)
            pressed[index] = part.pressed(load)
            stiff[index] = sums.reshape(12, count)
        out = self.pull @ pressed.reshape(blocks * 5, count) - self.load
        square = np.einsum("in,in->n", out, out)
        gap = strain = None
        if self.compliance is not None:
            gap = self.carried(plate) - wanted - block - self.compliance * pressed
            strain = gap * self.seat_stiffness
            square = square + np.einsum("bin,bin->n", strain, strain)
        return Response(load_sum, pressed, stiff, gap, strain, out, np.sqrt(square))

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
            total += np.einsum("bin,bin->n", answer.pressed + answer.strain, self.carried(step.plate) - step.block)
        return np.asarray(total)

    def seat_tangent(self, index: int, stiff: Floats) -> Floats:
        """A block's tangent through its seat (15, N) from its sums of ball stiffness (12, N)."""
        tangent = self.blocks[index].tangent_of_sums @ stiff
        return tangent if self.compliance is None else through_seat(tangent, self.compliance[:, 0])

    def _newton(self, answer: Response, added: Floats) -> Step:
        """The Newton step with some stiffness `added` (N,), never longer than `LARGEST_STEP_UM`."""
        if self.compliance is None or answer.gap is None:
            stiffness = self.plate_of_sums @ answer.stiff.reshape(-1, added.size)
            plate = self._plate_step(stiffness, answer.out, added)
            return self._short(answer, plate, self.carried(plate), added)
        effective = [self.seat_tangent(index, stiff) for index, stiff in enumerate(answer.stiff)]
        stiffness, out = np.zeros_like(effective[0]), answer.out.copy()
        for tangent, part, leverage, gap in zip(
            effective, self.congruence, self.mechanism.leverage, answer.gap, strict=True
        ):
            stiffness += part @ tangent
            out += leverage.T @ times(tangent, gap)
        plate = self._plate_step(stiffness, out, added)
        block = self.carried(plate) + answer.gap
        for tangent, moved in zip(effective, block, strict=True):
            moved -= self.compliance * times(tangent, moved)
        return self._short(answer, plate, block, added)

    def _plate_step(self, stiffness: Floats, out: Floats, added: Floats) -> Floats:
        stiffness[DIAGONAL] += added * self.nominal
        return -solve_spd(stiffness, out)

    def _short(self, answer: Response, plate: Floats, block: Floats, added: Floats) -> Step:
        """A step of plate (5, N) and blocks (blocks, 5, N), never longer than `LARGEST_STEP_UM`."""
        reach = np.abs(plate[:2]).max(axis=0) + self.mechanism.span_mm * np.abs(plate[2:]).max(axis=0)
        shorten = np.minimum(1.0, LARGEST_STEP_UM / np.maximum(reach, 1e-12))
        step = Step(plate * shorten, block * shorten, np.zeros(added.size), added)
        return Step(step.plate, step.block, self._slope(answer, step), added)
