"""The machine as drawn: frozen records of sections, guides, beams, rails, carriages, sweeps and shims.

Takes checked values (`frame_file` reads and checks them), gives geometry in machine coordinates.
Lengths mm, angles degrees where the file says so. Along a beam: s from start to end, n out of the mounting
face, t = n × s, to the left. Everything after the door trusts these records.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from math import cos, radians, sin
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Flags = NDArray[np.bool_]
Shape = Literal["channel", "box", "plate"]
Mouth = Literal["toward_rails", "away_from_rails"]
Arrangement = Literal["gothic", "O", "X"]
Direction = Literal["lateral", "height"]
Side = Literal["left", "right"]
Part = Literal["full", "left", "right"]


BALL_PITCH = 1.05  # distance between the balls of a row / ball diameter


def locked(values: object) -> Floats:
    """A float64 copy that can't be written to."""
    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array


@dataclass(frozen=True)
class Limits:
    """Where tight begins, where binding begins, and the static safety below which a block counts as binding."""

    tight_drag_ratio: float = 1.5
    binding_drag_ratio: float = 3.0
    static_safety: float = 2.0


@dataclass(frozen=True)
class ShimStock:
    """The shims in the box, those already fitted included. `count` None: unlimited.

    `max_step_um`: by how much the edges of a rail's neighbouring screws may differ.
    """

    thickness_um: tuple[float, ...]
    count: tuple[int, ...] | None
    max_layers: int
    max_step_um: float = 40.0


@dataclass(frozen=True)
class Material:
    name: str
    e_gpa: float
    alpha_per_k: float


@dataclass(frozen=True)
class Section:
    """Outline of an extrusion: width across, depth along the normal of the mounting face, both outside (mm)."""

    name: str
    shape: Shape
    width_mm: float
    depth_mm: float
    wall_mm: float
    mouth: Mouth | None
    material: Material


@dataclass(frozen=True)
class Guide:
    """One kind of rail with the block that rides it. Lengths mm, forces N."""

    name: str
    arrangement: Arrangement
    rail_width_mm: float
    rail_height_mm: float
    block_length_mm: float
    block_width_mm: float
    block_height_mm: float
    ball_height_mm: float
    ball_diameter_mm: float
    balls_per_row: int
    row_spacing_mm: float
    row_gap_mm: float
    contact_angle_deg: float
    conformity: float
    preload_interference_um: float
    friction: float
    seal_drag_n: float
    screw: str | None
    screw_pitch_mm: float
    c_n: float | None = None
    c0_n: float | None = None
    screw_clearance_um: float = 0.0  # by how much a slackened rail can be pushed either way at a screw
    rail_ei_nm2: float | None = None  # bending stiffness upward; None: that of the rail's outline in steel
    screw_class: str = "8.8"  # property class of the rail's screws
    screw_friction: float = 0.14  # µ in the thread and under the head
    torque_nm: float | None = None  # the maker's own final torque: it wins


@dataclass(frozen=True, eq=False)
class Beam:
    """An extrusion. `start` and `end` lie on the centre line of the mounting face, machine coordinates."""

    name: str
    section: Section
    start_mm: Floats
    end_mm: Floats
    normal: Floats
    carried_by: tuple[str, ...] = ()
    carried_at_mm: float | None = None  # where the (first) carrier stands when start and end hold; None: mid travel

    @cached_property
    def length_mm(self) -> float:
        return float(np.linalg.norm(self.end_mm - self.start_mm))

    @cached_property
    def axes(self) -> Floats:
        """Unit vectors s, t, n as rows, shape (3, 3), machine coordinates, right-handed."""
        s = (self.end_mm - self.start_mm) / self.length_mm
        n = self.normal - s * (s @ self.normal)
        n = n / np.linalg.norm(n)
        return locked([s, np.cross(n, s), n])

    def point(self, station_mm: float, across_mm: float = 0.0, up_mm: float = 0.0) -> Floats:
        """Machine coordinates (3,) of a place given in the beam's own axes."""
        s, t, n = self.axes
        return np.asarray(self.start_mm + s * station_mm + t * across_mm + n * up_mm)

    def station_of(self, point_mm: Floats) -> float:
        """Station (mm from start) at the foot of the perpendicular from a point (3,) in machine coordinates."""
        return float((point_mm - self.start_mm) @ self.axes[0])


@dataclass(frozen=True)
class Rail:
    """A rail on a face of a beam. `seat` is across from the centre line of that face, to the left."""

    name: str
    beam: Beam
    guide: Guide
    seat_mm: float
    first_screw_mm: float
    screws: int
    face_deg: float = 0.0

    @cached_property
    def _turn(self) -> tuple[float, float]:
        """Cosine and sine of the face's turn about the beam's axis, exact at quarter turns."""
        turn = self.face_deg % 360.0
        exact = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}
        return exact.get(turn, (cos(radians(turn)), sin(radians(turn))))

    @cached_property
    def axes_in_beam(self) -> Floats:
        """The rail's t' and n' as rows (2, 2) in the beam's (t, n)."""
        c, s = self._turn
        return locked([[c, s], [-s, c]])

    @cached_property
    def axes(self) -> Floats:
        """Unit vectors s, t', n' of the rail's face as rows (3, 3), machine coordinates."""
        s, t, n = self.beam.axes
        (tt, tn), (nt, nn) = self.axes_in_beam
        return locked([s, tt * t + tn * n, nt * t + nn * n])

    @cached_property
    def seat_in_beam(self) -> tuple[float, float]:
        """The seat's place (t, n) in the beam's axes, mm: faces are turned about the section's centre."""
        section = self.beam.section
        (tt, tn), (nt, nn) = self.axes_in_beam
        half = (section.depth_mm * abs(nn) + section.width_mm * abs(nt)) / 2.0
        return half * nt + self.seat_mm * tt, -section.depth_mm / 2.0 + half * nn + self.seat_mm * tn

    @cached_property
    def screw_stations_mm(self) -> Floats:
        return locked(self.first_screw_mm + self.guide.screw_pitch_mm * np.arange(self.screws))

    def point(self, station_mm: float, up_mm: float = 0.0) -> Floats:
        """Machine coordinates (3,) of a place `up_mm` above the seat line."""
        across, up = self.seat_in_beam
        return np.asarray(self.beam.point(station_mm, across, up) + self.axes[2] * up_mm)


@dataclass(frozen=True)
class SeatStiffness:
    """How a block's seat on the plate gives. None: rigid."""

    lateral_n_per_um: float | None = None
    height_n_per_um: float | None = None
    roll_nm_per_mrad: float | None = None
    pitch_nm_per_mrad: float | None = None
    yaw_nm_per_mrad: float | None = None


@dataclass(frozen=True)
class Block:
    """A bearing block: its rail, and its centre along the carriage from the carriage's own origin (mm)."""

    name: str
    rail: Rail
    along_mm: float


@dataclass(frozen=True)
class Carriage:
    """A rigid plate on blocks. Its origin travels along the first block's beam.

    `centre_mm` and `payload_centre_mm` are (along, across, up) in the axes of that beam, from its centre line.
    """

    name: str
    blocks: tuple[Block, ...]
    travel_mm: tuple[float, float]
    mass_kg: float = 0.0
    centre_mm: tuple[float, float, float] | None = None
    payload_kg: float = 0.0
    payload_centre_mm: tuple[float, float, float] | None = None
    bolted_at_mm: float | None = None
    seat_stiffness: SeatStiffness | None = None

    @property
    def beam(self) -> Beam:
        return self.blocks[0].rail.beam

    def origin(self, position_mm: float) -> Floats:
        """Machine coordinates (3,) of the carriage's origin at a position along its travel."""
        return self.beam.point(position_mm)

    def station(self, block: Block, position_mm: float) -> float:
        """Where on its own rail's beam a block stands (mm from that beam's start)."""
        return block.rail.beam.station_of(self.origin(position_mm) + self.beam.axes[0] * block.along_mm)

    @cached_property
    def station_map(self) -> tuple[Floats, Floats]:
        """Offset and direction (±1) of each block's station: station = offset + direction · position."""
        start = np.array([self.station(block, 0.0) for block in self.blocks])
        one = np.array([np.sign(block.rail.axes[0] @ self.beam.axes[0]) for block in self.blocks])
        return locked(start), locked(one)


SweepKind = Literal["indicator", "level_along", "level_across", "bridge", "gap", "mouth", "diagonal", "pull"]
ANGLE_KINDS = frozenset({"level_along", "level_across"})


@dataclass(frozen=True)
class ErrorCurve:
    """Calibrated error of a straightedge or wire: µm toward +t or +n at stations (mm), linear in between."""

    station_mm: Floats = field(compare=False)
    error_um: Floats = field(compare=False)


@dataclass(frozen=True)
class Edge:
    """One edge of the block or rail top that a straightedge touches or a feeler goes in at."""

    rail: Rail
    side: Side


@dataclass(frozen=True)
class Sweep:
    """One way of measuring. `u` is the standard uncertainty of one reading, µm, or mrad for levels. `error` what is
    known of the reference, its sag included; `sag_um` the most that is sag.

    `sign` is −1 where the instrument's plus means right (−t), down (−n) or right side up.
    """

    name: str
    kind: SweepKind
    u: float
    rails: tuple[Rail, ...] = ()
    beam: Beam | None = None
    direction: Direction | None = None
    reference: Literal["face", "straightedge", "wire"] | None = None
    error: ErrorCurve | None = None
    sag_um: float = 0.0
    reversed: bool = False
    base_mm: float | None = None
    instrument: str | None = None
    absolute: bool = False
    touches: tuple[Edge, ...] = ()
    feeler_at: Edge | None = None
    span_mm: float | None = None
    depth_at_mm: float = 0.0
    nominal_um: float | None = None
    sign: float = 1.0

    @property
    def is_angle(self) -> bool:
        return self.kind in ANGLE_KINDS

    def follows_line_of(self, other: Sweep) -> bool:
        """Whether both are indicator sweeps along one line of one rail, against the same kind of reference."""
        mine, its = ((s.kind, s.rails, s.direction, s.reference or "straightedge") for s in (self, other))
        return mine == its and self.kind == "indicator"

    @property
    def station_beam(self) -> Beam:
        """The beam along which this sweep's stations count."""
        if self.beam is not None:
            return self.beam
        return self.rails[0].beam


@dataclass(frozen=True, eq=False)
class PullSweep:
    """One way of pulling a carriage by a spring scale. `u_n` is the standard uncertainty of one reading.

    `bare_block_n`: what each block takes alone on the bare rail, in the order of the carriage's blocks (None: not
    taken); empty where none was.
    """

    name: str
    carriage: Carriage
    u_n: float
    bare_block_n: tuple[float | None, ...] = ()


@dataclass(frozen=True)
class BlockSpot:
    carriage: str
    block: str
    part: Part

    def __str__(self) -> str:
        return f"{self.carriage}/{self.block}/{self.part}"


@dataclass(frozen=True)
class RailSpot:
    rail: str
    screw: int  # 1 = nearest the beam's start
    part: Part

    def __str__(self) -> str:
        return f"{self.rail}@{self.screw}/{self.part}"


Spot = BlockSpot | RailSpot


@dataclass(frozen=True)
class Shim:
    """What has been fitted at one spot, from a stage on, until the stage at which it was taken out (if it was)."""

    stage: str
    spot: Spot
    thickness_um: float
    out_at: str | None = None


@dataclass(frozen=True)
class Push:
    """How far a rail was pushed sideways at one screw, from a stage on: µm to the left along the rail's own beam."""

    stage: str
    rail: str
    screw: int
    push_um: float


ScrewOrder = Literal["start", "end", "centre"]


@dataclass(frozen=True)
class Tightening:
    """The builder's own choice: from where each rail's screws are tightened (`by_rail`, else `first`), and which rails
    are masters; none named: the rail of each carriage's first block."""

    first: ScrewOrder = "start"
    by_rail: tuple[tuple[str, ScrewOrder], ...] = ()
    masters: tuple[str, ...] = ()

    def order_of(self, rail: str) -> ScrewOrder:
        return dict(self.by_rail).get(rail, self.first)


@dataclass(frozen=True, eq=False)
class Frame:
    """A whole machine as drawn, with the ways of measuring it and the shims fitted so far."""

    name: str
    length_unit: Literal["mm", "in"]
    stages: tuple[str, ...]
    limits: Limits
    stock: ShimStock | None
    up: Floats  # unit vector against gravity, machine coordinates
    beams: tuple[Beam, ...]
    rails: tuple[Rail, ...]
    carriages: tuple[Carriage, ...]
    sweeps: tuple[Sweep, ...]
    shims: tuple[Shim, ...]
    pushes: tuple[Push, ...] = ()
    pulls: tuple[PullSweep, ...] = ()
    tightening: Tightening = Tightening()
    folder: Path | None = None
    warnings: tuple[str, ...] = ()

    def shims_at(self, stage: str) -> tuple[Shim, ...]:
        """The shims that sit in the machine at a stage: fitted at it or at an earlier one, not taken out yet."""
        done = self.stages[: self.stages.index(stage) + 1]
        return tuple(shim for shim in self.shims if shim.stage in done and shim.out_at not in done)

    def pushes_at(self, stage: str) -> tuple[Push, ...]:
        """The pushes that the rails have had up to a stage; those at one screw add up."""
        done = self.stages[: self.stages.index(stage) + 1]
        return tuple(push for push in self.pushes if push.stage in done)

    @property
    def masters(self) -> tuple[str, ...]:
        """The master rails: those named, else the rail of each carriage's first block."""
        first = (carriage.blocks[0].rail.name for carriage in self.carriages)
        return self.tightening.masters or tuple(dict.fromkeys(first))

    def beam(self, name: str) -> Beam:
        return next(beam for beam in self.beams if beam.name == name)

    def rail(self, name: str) -> Rail:
        return next(rail for rail in self.rails if rail.name == name)

    def carriage(self, name: str) -> Carriage:
        return next(carriage for carriage in self.carriages if carriage.name == name)


@dataclass(frozen=True, eq=False)
class SweepReadings:
    """The readings of one sweep in one stage. All arrays (N,), one entry a reading, in the order of the file.

    `values` and `u` in µm, or mrad for levels; `order` counts the rows of the file from 0 (for drift).
    Of a gap given as go / no-go the value is the middle, and u includes the interval / √12.
    """

    sweep: Sweep
    station_mm: Floats
    values: Floats
    u: Floats
    order: Floats
    line: tuple[int, ...]
    temperature_c: float | None = None
    file: str = ""


@dataclass(frozen=True, eq=False)
class PullReadings:
    """The forces of one pull sweep in one stage. All arrays (N,), one entry a reading, in the order of the file.

    `station_mm` is the carriage's position; `force_n` N; `back` where it was pulled toward lower stations, `breakaway`
    where it is the force that sets the carriage going, else the force that keeps it going.
    """

    pull: PullSweep
    station_mm: Floats
    force_n: Floats
    back: Flags
    breakaway: Flags
    line: tuple[int, ...]
    temperature_c: float | None = None
    file: str = ""


@dataclass(frozen=True, eq=False)
class Stage:
    """All sweeps that were taken in one state of the machine."""

    name: str
    sweeps: tuple[SweepReadings, ...]
    warnings: tuple[str, ...] = ()
    pulls: tuple[PullReadings, ...] = ()
