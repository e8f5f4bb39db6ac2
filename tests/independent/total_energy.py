"""The energy of a carriage ball by ball, for minimisers: nothing is solved here and nothing comes from framevis.

Places and directions of balls are those of `mechanics.slow_reference`, worked out from the beams' ends. The plate has
5 unknowns, every direction in which a seat gives one more (its stretch). All motions are small, so the approach of
every ball is linear in the unknowns: δ = δ₀ + A x. N, µm, mrad, mm; energies in N·µm.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from mechanics.slow_reference import SlowCarriage, hertz_of_groove


@dataclass(frozen=True, eq=False)
class TotalEnergy:
    """Σ ⅖ K max(δ, 0)^2.5 + Σ ½ k x² − load · plate, over the unknowns x = (plate (5,), stretch of soft seats).

    `approach` A (balls, n), `start_um` δ₀ (balls,), `stiffness` K (balls,), `springs` k (n,), 0 for the plate's own,
    `load` (n,) weight and payload as a wrench, `block` (balls,) which block each ball belongs to.
    """

    approach: np.ndarray
    start_um: np.ndarray
    stiffness: np.ndarray
    springs: np.ndarray
    load: np.ndarray
    block: np.ndarray

    def pressed(self, x: np.ndarray) -> np.ndarray:
        """δ of every ball (balls,), µm, none below zero."""
        return np.maximum(self.start_um + self.approach @ x, 0.0)

    def loads(self, x: np.ndarray) -> np.ndarray:
        """Q of every ball (balls,), N."""
        return self.stiffness * self.pressed(x) ** 1.5

    def value(self, x: np.ndarray) -> float:
        elastic = 0.4 * self.stiffness @ self.pressed(x) ** 2.5
        return float(elastic + 0.5 * self.springs @ x**2 - self.load @ x)

    def gradient(self, x: np.ndarray) -> np.ndarray:
        return self.approach.T @ self.loads(x) + self.springs * x - self.load

    def hessian(self, x: np.ndarray) -> np.ndarray:
        tangent = 1.5 * self.stiffness * np.sqrt(self.pressed(x))
        return self.approach.T @ (tangent[:, None] * self.approach) + np.diag(self.springs)


def total_energy(slow: SlowCarriage, rail_moves: np.ndarray) -> TotalEnergy:
    """For rails displaced by `rail_moves` (blocks, 5) in their own axes. Seats and shims are those of `slow`."""
    count = len(slow.blocks)
    soft = np.flatnonzero(slow.compliance)
    names = [*range(5), *(5 + 5 * b + c for b in range(count) for c in soft)]  # unknowns among plate and all seats
    rigid = np.array([[slow.seat(block, unit) for unit in np.eye(5)] for block in slow.blocks])  # (blocks, 5, 5)
    rows, start, stiffness, of_block = [], [], [], []
    for b, block in enumerate(slow.blocks):
        moves = np.zeros((5 + 5 * count, 5))  # a unit of each unknown moves the block by this
        moves[:5] = rigid[b]
        moves[5 + 5 * b : 10 + 5 * b] = -np.eye(5)  # a seat that gives way leaves the block behind
        rows.append(np.column_stack([approach(block, five) for five in moves[names]]))
        still = -rail_moves[b] + slow.shimmed[b]
        start.append(approach(block, still) + block.guide.preload_interference_um)
        stiffness.append(
            np.full(len(block.balls), hertz_of_groove(block.guide.ball_diameter_mm, block.guide.conformity)[0])
        )
        of_block.append(np.full(len(block.balls), b))
    springs = np.concatenate([np.zeros(5), np.tile(1.0 / slow.compliance[soft], count)])
    load = np.concatenate([weight_on_plate(slow), np.zeros(springs.size - 5)])
    joined = (np.concatenate(part) for part in (start, stiffness))
    return TotalEnergy(np.concatenate(rows), *joined, springs, load, np.concatenate(of_block))


def approach(block, five: np.ndarray) -> np.ndarray:
    """By how much every ball (balls,) is pressed when a block moves by lateral, height, roll, pitch, yaw."""
    shift, turn = block.in_space(five)
    return np.sum((shift + np.cross(turn, block.places)) * block.ways, axis=1)


def weight_on_plate(slow: SlowCarriage) -> np.ndarray:
    """Force along t, n and moment about s, t, n of the first block (5,); what pulls along the travel is held."""
    force, moment = slow.weight
    s, t, n = slow.blocks[0].axes
    return np.array([force @ t, force @ n, moment @ s, moment @ t, moment @ n])
