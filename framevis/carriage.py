"""Equilibrium of a carriage: a rigid plate on ball lines, at many stations and draws in one batch.

Takes a carriage and the deviations of its blocks' rails, gives the plate's pose and every block's displacement
and ball loads. Plate: 5 unknowns (lateral, height, roll, pitch, yaw; travel is free) about the middle of its
blocks, in the axes of the first block's rail. Units µm, mrad, mm, N, N·mm: mrad · mm = µm makes them consistent.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from framevis.contact import BallLines
from framevis.frame import BlockSpot, Carriage, Floats, Shim, locked
from framevis.units import GRAVITY_M_PER_S2

LATERAL, HEIGHT, ROLL, PITCH, YAW = range(5)
COMPONENTS = ("lateral", "height", "roll", "pitch", "yaw")


@dataclass(frozen=True, eq=False)
class Mechanism:
    """What of a carriage doesn't change along its travel: leverage of plate on blocks, ball lines, load, shims."""

    carriage: Carriage
    up: Floats
    shims: tuple[Shim, ...] = ()

    @cached_property
    def lines(self) -> tuple[BallLines, ...]:
        return tuple(BallLines(block.rail.guide) for block in self.carriage.blocks)

    @cached_property
    def _places(self) -> Floats:
        """Ball-centre middles of the blocks (blocks, 3), machine mm, with the carriage at its origin."""
        carriage = self.carriage
        rails = [(block.rail, carriage.station(block, 0.0)) for block in carriage.blocks]
        return np.array([rail.point(station, rail.guide.ball_height_mm) for rail, station in rails])

    @cached_property
    def middle_mm(self) -> Floats:
        """The plate's reference point, the mean of its blocks' ball centres, from the carriage's origin (3,)."""
        return locked(self._places.mean(axis=0) - self.carriage.beam.start_mm)

    @cached_property
    def axes(self) -> Floats:
        """s, t, n of the plate, those of the first block's rail (3, 3)."""
        return self.carriage.blocks[0].rail.axes

    @cached_property
    def leverage(self) -> Floats:
        """J (blocks, 5, 5): displacement of each block, in its own rail's axes, per displacement of the plate."""
        s, t, n = self.axes
        arms = self._places - self._places.mean(axis=0)
        rows = []
        for block, arm in zip(self.carriage.blocks, arms, strict=True):
            rail_s, rail_t, rail_n = block.rail.axes
            moves = [t, n, *(np.cross(axis, arm) for axis in (s, t, n))]
            turns = [np.zeros(3), np.zeros(3), s, t, n]
            columns = zip(moves, turns, strict=True)
            rows.append([(m @ rail_t, m @ rail_n, w @ rail_s, w @ rail_t, w @ rail_n) for m, w in columns])
        return locked(np.transpose(np.array(rows), (0, 2, 1)))

    @cached_property
    def span_mm(self) -> float:
        """Distance of the farthest block from the plate's reference point."""
        return float(np.linalg.norm(self._places - self._places.mean(axis=0), axis=1).max())

    @cached_property
    def load(self) -> Floats:
        """Weight of carriage and payload as a wrench (5,) on the plate, N and N·mm.

        What pulls along the travel is taken by the drive, at the middle of the blocks.
        """
        carriage, (s, t, n) = self.carriage, self.axes
        force, moment = np.zeros(3), np.zeros(3)
        for mass, centre in (
            (carriage.mass_kg, carriage.centre_mm),
            (carriage.payload_kg, carriage.payload_centre_mm),
        ):
            weight = -mass * GRAVITY_M_PER_S2 * self.up
            force = force + weight
            if centre is not None:
                moment = moment + np.cross(np.array(centre) @ carriage.beam.axes - self.middle_mm, weight)
        return locked([force @ t, force @ n, moment @ s, moment @ t, moment @ n])

    @cached_property
    def block_shims(self) -> Floats:
        """How far the shims between plate and block displace each block against the plate (blocks, 5).

        A full shim presses the block down by its thickness. An edge shim lifts one edge of the seat: the
        block turns about its other edge, so a gap of 80 µm across the block takes shims of 80 µm.
        """
        moved = np.zeros((len(self.carriage.blocks), 5))
        for shim in self.shims:
            spot = shim.spot
            if isinstance(spot, BlockSpot) and spot.carriage == self.carriage.name:
                index = [block.name for block in self.carriage.blocks].index(spot.block)
                side = {"full": 0.0, "left": -1.0, "right": 1.0}[spot.part]
                width = self.carriage.blocks[index].rail.guide.block_width_mm
                moved[index, HEIGHT] -= shim.thickness_um * (1.0 if side == 0.0 else 0.5)
                moved[index, ROLL] += side * shim.thickness_um / width
        return locked(moved)

    @cached_property
    def seat_compliance(self) -> Floats:
        """Compliance of each block's seat on the plate (5,): µm/N, mrad/(N·mm); 0 = rigid."""
        seat = self.carriage.seat_stiffness
        if seat is None:
            return locked(np.zeros(5))
        per_um = (seat.lateral_n_per_um, seat.height_n_per_um)
        per_mrad = (seat.roll_nm_per_mrad, seat.pitch_nm_per_mrad, seat.yaw_nm_per_mrad)
        given = [*per_um, *(None if value is None else 1000.0 * value for value in per_mrad)]
        return locked([0.0 if value is None else 1.0 / value for value in given])

    @cached_property
    def rigid_fit(self) -> Floats:
        """(5, blocks · 5): the plate's pose as a linear function of the blocks' rail deviations.

        The fit weighs each block by its stiffness at (at least 1 µm of) preload: the first Newton step.
        """
        stiff = self.nominal_tangents
        pulled = np.einsum("bji,bjk->bik", self.leverage, stiff)
        return np.linalg.solve(self.nominal_stiffness, np.concatenate(list(pulled), axis=1))

    @cached_property
    def nominal_stiffness(self) -> Floats:
        """Stiffness of the whole carriage (5, 5) with every ball pressed by its preload."""
        return locked(np.einsum("bji,bjk,bkl->il", self.leverage, self.nominal_tangents, self.leverage))

    @cached_property
    def share_of_block(self) -> Floats:
        """(blocks, 5, 5): what the balls take of a displacement between plate and rail; the seat takes the rest."""
        seat = np.diag(self.seat_compliance)
        return np.array([np.linalg.inv(np.eye(5) + seat @ tangent) for tangent in self._ball_tangents])

    @cached_property
    def _ball_tangents(self) -> list[Floats]:
        """Each block's stiffness (5, 5) with its balls pressed by their preload, or by 1 µm if that is more."""
        return [line.tangent(max(line.guide.preload_interference_um, 1.0)) for line in self.lines]

    @cached_property
    def nominal_tangents(self) -> Floats:
        """Each block's stiffness (blocks, 5, 5) through its seat, with every ball pressed by its preload."""
        seat = np.diag(self.seat_compliance)
        return np.array([np.linalg.solve(np.eye(5) + tangent @ seat, tangent) for tangent in self._ball_tangents])
