"""How far every point of a body is displaced, cause by cause: what the picture magnifies.

Takes deviations (through the same weights as the numbers) and plate poses, gives displacements (N, 3) µm in
machine axes. A beam's sections stay plane and turn with its bow; rails and blocks are rigid across; a carried
beam takes its carriers' motion, and everything that stands on it takes the same.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from framevis.deviations import CAUSES, Cause, Deviations, Kind, rail_weights
from framevis.frame import Beam, Carriage, Floats, Frame, Rail
from framevis.opening import is_flange, opening_motion
from framevis.pictures.travel import beam_offset, carriers
from framevis.pose import PlatePose
from framevis.verdicts import CarriageAssessment

Displacement = dict[Cause, Floats]
SAME_STATION_MM = 1.0  # carriers nearer than this along the carried beam hold it as one


class StudyLike(Protocol):
    """What a picture needs of a study."""

    @property
    def frame(self) -> Frame: ...
    @property
    def stage(self) -> str: ...
    @property
    def deviations(self) -> Deviations: ...
    @property
    def carriages(self) -> tuple[CarriageAssessment, ...]: ...
    def pose(self, carriage_name: str, position_mm: float) -> PlatePose: ...


@dataclass(frozen=True, eq=False)
class Rigid:
    """A small rigid motion: of each cause a shift (3,) µm and a turn (3,) mrad about a point (3,) mm."""

    point_mm: Floats
    shift_um: Mapping[Cause, Floats]
    turn_mrad: Mapping[Cause, Floats]

    def motion(self, points_mm: Floats) -> Displacement:
        """Displacement (N, 3) µm of points (N, 3) mm, of each cause."""
        arm = points_mm - self.point_mm
        return {cause: self.shift_um[cause] + np.cross(self.turn_mrad[cause], arm) for cause in CAUSES}


def added(*displacements: Displacement) -> Displacement:
    """The sum, cause by cause."""
    return {cause: sum((d[cause] for d in displacements[1:]), displacements[0][cause]) for cause in CAUSES}


def _values(deviations: Deviations, beam: Beam, stations_mm: Floats) -> tuple[Floats, Floats]:
    """Rows (4, N): bow lateral, bow height µm, twist, opening mrad; and their derivatives by s."""
    kinds: tuple[Kind, ...] = ("bow_lateral", "bow_height", "twist", "opening")
    unique, place = np.unique(stations_mm, return_inverse=True)
    rows = [[deviations.value((kind, beam.name), unique, order) for kind in kinds] for order in (0, 1)]
    value, slope = np.array(rows)[:, :, place]
    return value, slope


def beam_motion(deviations: Deviations, beam: Beam, local_mm: Floats) -> Displacement:
    """Displacement of points (N, 3) mm given as (s, t, n) in a beam's own axes, by the beam's own deviations."""
    stations, across, up = local_mm.T
    (lateral, height, twist, opening), slope = _values(deviations, beam, stations)
    section = beam.section
    g_t, g_n, _ = opening_motion(section, across, up, is_flange(section, across))
    zero = np.zeros_like(stations)
    along = -(slope[0] * across + slope[1] * up)  # plane sections stay square to the bowed axis
    own: dict[Cause, list[Floats]] = {
        "bow": [along, lateral, height],
        "twist": [zero, -twist * up, twist * across],
        "opening": [zero, opening * g_t, opening * g_n],
    }
    return {c: np.column_stack(own.get(c, [zero, zero, zero])) @ beam.axes for c in CAUSES}


def _seat(deviations: Deviations, rail: Rail, stations_mm: Floats, cause: Cause) -> Floats:
    """Rows (6, N) of a rail at its seat: shift along, lateral, height µm; lateral', height' and roll mrad."""
    weights = {
        "lateral": rail_weights(rail, "lateral", up_mm=0.0),
        "height": rail_weights(rail, "height"),
        "roll": rail_weights(rail, "roll"),
    }
    wanted = (("lateral", 0), ("height", 0), ("lateral", 1), ("height", 1), ("roll", 0))
    rows = [deviations.along(weights[name], stations_mm, order, [cause]) for name, order in wanted]
    along = np.zeros_like(stations_mm)
    if cause == "bow":
        across, up = rail.seat_in_beam
        _, slope = _values(deviations, rail.beam, stations_mm)
        along = -(slope[0] * across + slope[1] * up)
    return np.array([along, *rows])


def rail_motion(deviations: Deviations, rail: Rail, local_mm: Floats) -> Displacement:
    """Displacement of points (N, 3) mm given as (s, t', n') from a rail's seat line, in the axes of its face."""
    stations, across, up = local_mm.T
    unique, place = np.unique(stations, return_inverse=True)
    total: Displacement = {}
    for cause in CAUSES:
        along, lateral, height, yaw, rise, roll = _seat(deviations, rail, unique, cause)[:, place]
        parts = [along - yaw * across - rise * up, lateral - roll * up, height + roll * across]
        total[cause] = np.column_stack(parts) @ rail.axes
    return total


def block_motion(deviations: Deviations, rail: Rail, station_mm: float) -> Rigid:
    """The rigid motion of a block that follows its own rail at its own station."""
    shift: dict[Cause, Floats] = {}
    turn: dict[Cause, Floats] = {}
    for cause in CAUSES:
        at = _seat(deviations, rail, np.array([station_mm]), cause)[:, 0]
        shift[cause] = at[:3] @ rail.axes
        turn[cause] = np.array([at[5], -at[4], at[3]]) @ rail.axes
    return Rigid(rail.point(station_mm), shift, turn)


@dataclass(frozen=True, eq=False)
class Carry:
    """How a carried beam moves with its carriers: its line shifts and leans, and it turns about its axis.

    With x = distance (mm) along the beam from `point_mm` (3,), on its line where it now stands: of each cause
    shift + lean · x (3,) µm, and a roll of two numbers, r + g · x mrad.
    """

    axes: Floats
    point_mm: Floats
    shift_um: Mapping[Cause, Floats]
    lean_mrad: Mapping[Cause, Floats]
    roll_mrad: Mapping[Cause, Floats]

    def motion(self, points_mm: Floats) -> Displacement:
        """Displacement (N, 3) µm of points (N, 3) mm of the beam."""
        x, across, up = ((points_mm - self.point_mm) @ self.axes.T).T
        total: Displacement = {}
        for cause in CAUSES:
            lean = self.axes @ self.lean_mrad[cause]
            roll = self.roll_mrad[cause][0] + self.roll_mrad[cause][1] * x
            section = np.column_stack([-lean[2] * up - lean[1] * across, -roll * up, roll * across])
            total[cause] = self.shift_um[cause] + x[:, None] * self.lean_mrad[cause] + section @ self.axes
        return total

    def rigid_at(self, point_mm: Floats) -> Rigid:
        """The motion, as that of one rigid body, of what stands on the beam near a point (3,) mm."""
        s, t, n = self.axes
        x = float((point_mm - self.point_mm) @ s)
        lean, roll = self.lean_mrad, self.roll_mrad
        shift = {c: self.shift_um[c] + x * lean[c] for c in CAUSES}
        turn = {c: s * (roll[c] @ (1.0, x)) - t * (lean[c] @ n) + n * (lean[c] @ t) for c in CAUSES}
        return Rigid(self.point_mm + x * s, shift, turn)


def carry_of(study: StudyLike, beam: Beam, positions: Mapping[str, float]) -> Carry | None:
    """How a beam moves with its carriers, which stand at positions (mm); None for a beam that nobody carries.

    Between several carriers everything goes linearly along the beam; a single one holds it rigidly.
    """
    if not beam.carried_by:
        return None
    frame, (s, _, _) = study.frame, beam.axes
    start = beam.start_mm + beam_offset(frame, beam, positions)
    held = [_hold(study, carriage, positions) for carriage in carriers(frame, beam)]
    x = np.array([float((origin - start) @ s) for origin, _ in held])
    middle, spread = float(x.mean()), x - x.mean()
    one = float(np.ptp(x)) < SAME_STATION_MM
    weight = np.zeros_like(spread) if one else spread / (spread @ spread)
    shift: dict[Cause, Floats] = {}
    lean: dict[Cause, Floats] = {}
    roll: dict[Cause, Floats] = {}
    for cause in CAUSES:
        points = (start + (middle if one else at) * s for at in x)
        moved = np.array([_moved(rigids, p, cause) for p, (_, rigids) in zip(points, held, strict=True)])
        turned = np.array([sum((r.turn_mrad[cause] for r in rigids), np.zeros(3)) for _, rigids in held])
        shift[cause] = moved.mean(axis=0)
        lean[cause] = np.cross(turned.mean(axis=0), s) if one else weight @ moved
        roll[cause] = np.array([(turned @ s).mean(), weight @ (turned @ s)])
    return Carry(beam.axes, start + middle * s, shift, lean, roll)


def _hold(study: StudyLike, carriage: Carriage, positions: Mapping[str, float]) -> tuple[Floats, tuple[Rigid, ...]]:
    """Where a carrier's origin stands (3,) mm, and the rigid motions of its plate that add up."""
    at = positions[carriage.name]
    by = beam_offset(study.frame, carriage.beam, positions)
    pose = study.pose(carriage.name, at)
    plate = Rigid(pose.point_mm + by, pose.shift_um, pose.turn_mrad)
    origin = carriage.origin(at) + by
    under = carry_of(study, carriage.beam, positions)
    return origin, (plate,) if under is None else (plate, under.rigid_at(origin))


def _moved(rigids: tuple[Rigid, ...], point_mm: Floats, cause: Cause) -> Floats:
    """Σ displacement (3,) µm of one point."""
    arms = ((r.shift_um[cause], r.turn_mrad[cause], point_mm - r.point_mm) for r in rigids)
    return np.asarray(sum((shift + np.cross(turn, arm) for shift, turn, arm in arms), np.zeros(3)))
