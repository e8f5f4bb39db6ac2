"""The same mechanics written again, slowly: every ball a point in space, every moment a cross product.

Nothing here comes from framevis but the frame's records: places and directions are worked out anew from the beams'
ends, the Hertz constants from Carlson's integrals, and the equilibrium is left to `scipy.optimize`. Machine
coordinates throughout; lengths mm, displacements µm, angles mrad, forces N (mrad · mm = µm).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import cos, log, pi, radians, sin

import numpy as np
from scipy.optimize import minimize, root
from scipy.spatial.transform import Rotation
from scipy.special import elliprd, elliprf

from framevis.frame import BlockSpot, Carriage, Guide, Rail, Shim

GRAVITY = 9.80665
E_STAR_MPA = 206e3 / (2.0 * (1.0 - 0.3**2))  # ball and groove of steel, E = 206 GPa, ν = 0.3
BALL_PITCH = 1.05  # in ball diameters


@lru_cache
def hertz_of_groove(ball_mm: float, conformity: float) -> tuple[float, float]:
    """(K, p) of a ball between two straight grooves: Q = K δ^1.5 in N and µm for both ends together, and the peak
    pressure in MPa at Q = 1 N.

    A pressure p₀ √(1 − x²/a² − y²/b²) on the ellipse moves a half-space (Johnson, Contact Mechanics, 3.5) by
    p₀ab/2E* ∫(1 − x²/(a²+w) − y²/(b²+w)) dw / √((a²+w)(b²+w)w); the integrals are Carlson's R_F and R_D.
    """
    flat = 2.0 / ball_mm - 1.0 / (conformity * ball_mm)  # across the groove: the long axis a
    steep = 2.0 / ball_mm

    def curvatures(a: float) -> tuple[float, float]:
        """The two curvatures that p₀ab/E* = 1 makes on an ellipse of b = 1."""
        return 2.0 / 3.0 * elliprd(0.0, 1.0, a * a), 2.0 / 3.0 * elliprd(0.0, a * a, 1.0)

    low, high = 0.0, log(1e3)
    for _ in range(200):  # bisection
        middle = (low + high) / 2.0
        x, y = curvatures(np.exp(middle))
        low, high = (middle, high) if y / x < steep / flat else (low, middle)
    k = np.exp((low + high) / 2.0)
    # with b the short semi-axis, c = p₀ab/E*: curvature flat = c x(k) / b³, approach = c R_F(0, k², 1) / b
    x, _ = curvatures(k)
    b = (3.0 * x / (2.0 * pi * E_STAR_MPA * flat)) ** (1.0 / 3.0)  # Q = 1 N: p₀ = 3 / 2πab, so c = 3 / 2πE*
    pressure = 3.0 / (2.0 * pi * k * b * b)
    approach_mm = 3.0 / (2.0 * pi * E_STAR_MPA) * elliprf(0.0, k * k, 1.0) / b
    return (2.0 * 1000.0 * approach_mm) ** -1.5, pressure


@dataclass(frozen=True, eq=False)
class Ball:
    """One contact: where (3,) from the middle of its block, which way (3,) the block must move to press it."""

    place: np.ndarray
    way: np.ndarray


def axes_of(rail: Rail) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """s, t, n of the face that a rail sits on."""
    start, end = np.array(rail.beam.start_mm), np.array(rail.beam.end_mm)
    s = (end - start) / np.linalg.norm(end - start)
    n = np.array(rail.beam.normal) - np.dot(rail.beam.normal, s) * s
    n = n / np.linalg.norm(n)
    turned = Rotation.from_rotvec(radians(rail.face_deg) * s)
    return s, turned.apply(np.cross(n, s)), turned.apply(n)


def place_of(rail: Rail, along_s: float, up: float) -> np.ndarray:
    """A point `up` above a rail's seat, at a station of its beam: faces stand about the middle of the section."""
    section = rail.beam.section
    s, t, n = axes_of(rail)
    _, beam_t, beam_n = axes_of(Rail("", rail.beam, rail.guide, 0.0, 0.0, 0))
    middle = np.array(rail.beam.start_mm) - beam_n * section.depth_mm / 2.0
    reach = abs(np.dot(n, beam_t)) * section.width_mm / 2.0 + abs(np.dot(n, beam_n)) * section.depth_mm / 2.0
    return middle + s * along_s + n * (reach + up) + t * rail.seat_mm


def balls_of(guide: Guide, axes: tuple[np.ndarray, np.ndarray, np.ndarray]) -> list[Ball]:
    """Every contact of a block: two lines a side, in the words of the design's section 4."""
    s, t, n = axes
    beta = radians(guide.contact_angle_deg)
    balls = []
    for side in (+1, -1):
        for level in (+1, -1):
            rise = 0.0 if guide.arrangement == "gothic" else level * guide.row_gap_mm / 2.0
            up_or_down = -level if guide.arrangement == "X" else level
            way = -side * cos(beta) * t + up_or_down * sin(beta) * n
            for k in range(guide.balls_per_row):
                along = (k - (guide.balls_per_row - 1) / 2.0) * BALL_PITCH * guide.ball_diameter_mm
                balls.append(Ball(s * along + t * side * guide.row_spacing_mm / 2.0 + n * rise, way))
    return balls


@dataclass(frozen=True, eq=False)
class SlowBlock:
    """A block: its middle (3,) in space, its rail's axes, its contacts."""

    middle: np.ndarray
    axes: tuple[np.ndarray, np.ndarray, np.ndarray]
    balls: list[Ball]
    guide: Guide

    @cached_property
    def places(self) -> np.ndarray:
        return np.array([ball.place for ball in self.balls])

    @cached_property
    def ways(self) -> np.ndarray:
        return np.array([ball.way for ball in self.balls])

    def in_space(self, five: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Shift and turn (3,) of lateral, height, roll, pitch, yaw in this block's own axes."""
        s, t, n = self.axes
        return five[0] * t + five[1] * n, five[2] * s + five[3] * t + five[4] * n

    def in_own_axes(self, shift: np.ndarray, turn: np.ndarray) -> np.ndarray:
        s, t, n = self.axes
        return np.array([shift @ t, shift @ n, turn @ s, turn @ t, turn @ n])

    def loads(self, five: np.ndarray) -> np.ndarray:
        """Load of every ball (balls,), N, for the block displaced against its rail."""
        shift, turn = self.in_space(five)
        stiffness, _ = hertz_of_groove(self.guide.ball_diameter_mm, self.guide.conformity)
        moved = shift + np.cross(turn, self.places)
        press = self.guide.preload_interference_um + np.sum(moved * self.ways, axis=1)
        return stiffness * np.maximum(press, 0.0) ** 1.5

    def energy(self, five: np.ndarray) -> float:
        """∫Q dδ over all balls, N·µm."""
        stiffness, _ = hertz_of_groove(self.guide.ball_diameter_mm, self.guide.conformity)
        return float(np.sum(0.4 * stiffness * (self.loads(five) / stiffness) ** (5.0 / 3.0)))

    def force_and_moment(self, five: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """What the balls do to the block, moment about its middle."""
        forces = -self.loads(five)[:, None] * self.ways
        return forces.sum(axis=0), np.cross(self.places, forces).sum(axis=0)


@dataclass(frozen=True, eq=False)
class SlowCarriage:
    """A carriage on its rails. `rail_moves` is passed as (blocks, 5), in each block's own axes."""

    carriage: Carriage
    up: np.ndarray
    shims: tuple[Shim, ...] = ()
    rigid_seats: bool = False

    @cached_property
    def blocks(self) -> list[SlowBlock]:
        home = self.carriage.blocks[0].rail.beam
        travel = axes_of(self.carriage.blocks[0].rail)[0]
        blocks = []
        for block in self.carriage.blocks:
            rail, guide = block.rail, block.rail.guide
            point = np.array(home.start_mm) + travel * block.along_mm
            axes = axes_of(rail)
            station = float(np.dot(point - np.array(rail.beam.start_mm), axes[0]))
            middle = place_of(rail, station, guide.ball_height_mm)
            blocks.append(SlowBlock(middle, axes, balls_of(guide, axes), guide))
        return blocks

    @cached_property
    def middle(self) -> np.ndarray:
        return np.mean([block.middle for block in self.blocks], axis=0)

    @cached_property
    def weight(self) -> tuple[np.ndarray, np.ndarray]:
        """Force and moment of gravity about the middle of the blocks."""
        c = self.carriage
        s, t, n = axes_of(Rail("", c.blocks[0].rail.beam, c.blocks[0].rail.guide, 0.0, 0.0, 0))
        force, moment = np.zeros(3), np.zeros(3)
        for mass, centre in ((c.mass_kg, c.centre_mm), (c.payload_kg, c.payload_centre_mm)):
            pull = -mass * GRAVITY * np.array(self.up)
            force = force + pull
            if centre is not None:
                at = np.array(c.blocks[0].rail.beam.start_mm) + centre[0] * s + centre[1] * t + centre[2] * n
                moment = moment + np.cross(at - self.middle, pull)
        return force, moment

    @cached_property
    def compliance(self) -> np.ndarray:
        """µm/N and mrad/(N·mm) of a seat, 0 where rigid."""
        seat = self.carriage.seat_stiffness
        if seat is None or self.rigid_seats:
            return np.zeros(5)
        n_m = [seat.roll_nm_per_mrad, seat.pitch_nm_per_mrad, seat.yaw_nm_per_mrad]
        stiff = [seat.lateral_n_per_um, seat.height_n_per_um, *(None if k is None else 1000.0 * k for k in n_m)]
        return np.array([0.0 if k is None else 1.0 / k for k in stiff])

    @cached_property
    def shimmed(self) -> np.ndarray:
        """(blocks, 5) by which shims put each block off the plate: the seat's two edges sink by what lies on them."""
        moved = np.zeros((len(self.blocks), 5))
        names = [block.name for block in self.carriage.blocks]
        for shim in self.shims:
            spot = shim.spot
            if isinstance(spot, BlockSpot) and spot.carriage == self.carriage.name:
                left = shim.thickness_um if spot.part in ("full", "left") else 0.0
                right = shim.thickness_um if spot.part in ("full", "right") else 0.0
                at = names.index(spot.block)
                moved[at, 1] -= (left + right) / 2.0
                moved[at, 2] -= (left - right) / self.blocks[at].guide.block_width_mm
        return moved

    def seat(self, block: SlowBlock, plate: np.ndarray) -> np.ndarray:
        """(5,) by which the plate carries a block's seat, in the block's own axes."""
        s, t, n = self.blocks[0].axes
        shift, turn = plate[0] * t + plate[1] * n, plate[2] * s + plate[3] * t + plate[4] * n
        return block.in_own_axes(shift + np.cross(turn, block.middle - self.middle), turn)

    def displacements(self, state: np.ndarray, rail_moves: np.ndarray) -> np.ndarray:
        """(blocks, 5) of each block against its rail. State: the plate (5,), then the seats' give as wrenches."""
        rigid = np.array([self.seat(block, state[:5]) for block in self.blocks]) - rail_moves + self.shimmed
        if state.size == 5:
            return rigid
        return rigid - self.compliance * state[5:].reshape(-1, 5)

    def residual(self, state: np.ndarray, rail_moves: np.ndarray) -> np.ndarray:
        """What is left of the forces and moments on the plate (5,), then on each block between seat and balls."""
        force, moment = (part.copy() for part in self.weight)
        apart = []
        for i, (block, five) in enumerate(zip(self.blocks, self.displacements(state, rail_moves), strict=True)):
            ball_force, ball_moment = block.force_and_moment(five)
            force = force + ball_force
            moment = moment + ball_moment + np.cross(block.middle - self.middle, ball_force)
            if state.size > 5:
                through = state[5 + 5 * i : 10 + 5 * i]  # the seat presses the block: its balls press back
                apart.append(through + block.in_own_axes(ball_force, ball_moment))
        s, t, n = self.blocks[0].axes
        plate = [force @ t, force @ n, moment @ s, moment @ t, moment @ n]
        return np.concatenate([plate, *apart])

    def left_over(self, plate: np.ndarray, displacements: np.ndarray, rail_moves: np.ndarray) -> tuple[float, float]:
        """For somebody else's answer: the largest force or moment left on the plate or between a seat and its block
        (N, N·mm), and the largest distance (µm, mrad) between them where the seat is rigid."""
        carried = np.array([self.seat(block, plate) for block in self.blocks]) - rail_moves + self.shimmed
        force, moment = (part.copy() for part in self.weight)
        wrenches = []
        for block, five in zip(self.blocks, displacements, strict=True):
            ball_force, ball_moment = block.force_and_moment(five)
            force = force + ball_force
            moment = moment + ball_moment + np.cross(block.middle - self.middle, ball_force)
            wrenches.append(block.in_own_axes(ball_force, ball_moment))
        s, t, n = self.blocks[0].axes
        out = [force @ t, force @ n, moment @ s, moment @ t, moment @ n]
        soft = self.compliance > 0.0
        give = (carried - displacements)[:, soft] / self.compliance[soft] + np.array(wrenches)[:, soft]
        apart = np.abs((carried - displacements)[:, ~soft]).max(initial=0.0)
        return max(float(np.abs(out).max()), float(np.abs(give).max(initial=0.0))), float(apart)

    def energy(self, state: np.ndarray, rail_moves: np.ndarray) -> float:
        """Elastic energy less the work of the weight, rigid seats: the equilibrium is where it is least."""
        moved = zip(self.blocks, self.displacements(state[:5], rail_moves), strict=True)
        force, moment = self.weight
        s, t, n = self.blocks[0].axes
        shift, turn = state[0] * t + state[1] * n, state[2] * s + state[3] * t + state[4] * n
        return sum(block.energy(five) for block, five in moved) - float(force @ shift + moment @ turn)

    def solve(self, rail_moves: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """State and displacements (blocks, 5) at equilibrium."""
        plate = self._best_fit(rail_moves)
        found = minimize(
            self.energy, plate, (rail_moves,), jac=lambda x, m: -self.residual(x, m), options={"gtol": 1e-4}
        )
        state = found.x
        if np.any(self.compliance):
            presses = [
                -block.in_own_axes(*block.force_and_moment(five))
                for block, five in zip(self.blocks, self.displacements(state, rail_moves), strict=True)
            ]
            for share in (0.01, 0.1, 0.3, 1.0):  # seats go from stiff to as soft as they are
                start = np.concatenate([state[:5], *presses] if state.size == 5 else [state])
                state = self._with_compliance(share).polish(start, rail_moves)
        state = self.polish(state, rail_moves)
        return state, self.displacements(state, rail_moves)

    def _with_compliance(self, share: float) -> SlowCarriage:
        other = SlowCarriage(self.carriage, self.up, self.shims)
        other.__dict__["compliance"] = self.compliance * share
        return other

    def polish(self, state: np.ndarray, rail_moves: np.ndarray) -> np.ndarray:
        found = root(self.residual, state, (rail_moves,), method="hybr", options={"xtol": 1e-13, "maxfev": 20_000})
        again = root(self.residual, found.x, (rail_moves,), method="hybr", options={"xtol": 1e-14, "maxfev": 20_000})
        best = min((found, again), key=lambda each: float(np.abs(each.fun).max()))
        return np.asarray(best.x)

    def _best_fit(self, rail_moves: np.ndarray) -> np.ndarray:
        """The plate that fits its blocks to the rails in the sense of least squares, angles at 20 mm."""
        scale = np.array([1.0, 1.0, 20.0, 20.0, 20.0])
        columns = np.array([[self.seat(block, unit) * scale for block in self.blocks] for unit in np.eye(5)])
        wanted = ((rail_moves - self.shimmed) * scale).ravel()
        return np.linalg.lstsq(columns.reshape(5, -1).T, wanted, rcond=None)[0]

    def drags(self, displacements: np.ndarray) -> np.ndarray:
        moved = zip(self.blocks, displacements, strict=True)
        return np.array([b.guide.seal_drag_n + b.guide.friction * b.loads(five).sum() for b, five in moved])

    def peak_pressures(self, displacements: np.ndarray) -> np.ndarray:
        pressures = []
        for block, five in zip(self.blocks, displacements, strict=True):
            _, at_one_newton = hertz_of_groove(block.guide.ball_diameter_mm, block.guide.conformity)
            pressures.append(at_one_newton * block.loads(five).max() ** (1.0 / 3.0))
        return np.array(pressures)

    @cached_property
    def perfect_drags(self) -> np.ndarray:
        """Drag of the same carriage, as heavy, on a perfect frame and without shims."""
        bare = SlowCarriage(self.carriage, self.up)
        _, perfect = bare.solve(np.zeros((len(self.blocks), 5)))
        return bare.drags(perfect)

    def drag_ratios(self, displacements: np.ndarray) -> np.ndarray:
        return self.drags(displacements) / self.perfect_drags
