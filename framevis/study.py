"""One stage of one frame, worked through once: everything that is shown is a function of this record.

Takes a frame and a stage's readings, gives the estimate, the assessments and the poses of the carriages.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from framevis.carriage import Mechanism
from framevis.deviations import CAUSES, Cause, Deviations, Known, Layout
from framevis.equilibrium import solve
from framevis.estimate import Posterior, estimate
from framevis.frame import Carriage, Floats, Frame, Stage
from framevis.pose import PlatePose
from framevis.rail_shims import known_functions
from framevis.ride import bolted_ride, mean_ride, positions_of, ride_rows
from framevis.risk import assess
from framevis.verdicts import CarriageAssessment

DRAWS, SEED = 1000, 0


@dataclass(frozen=True, eq=False)
class Study:
    """The work on one stage. `deviations` is the posterior mean; `carriages` in the order of the frame."""

    frame: Frame
    readings: Stage
    posterior: Posterior
    deviations: Deviations
    carriages: tuple[CarriageAssessment, ...]
    draws: int
    seed: int

    @property
    def stage(self) -> str:
        return self.readings.name

    @cached_property
    def mechanisms(self) -> dict[str, Mechanism]:
        return {carriage.name: mechanism(self.frame, carriage, self.stage) for carriage in self.frame.carriages}

    def assessment(self, carriage_name: str) -> CarriageAssessment:
        return next(carriage for carriage in self.carriages if carriage.name == carriage_name)

    def pose(self, carriage_name: str, position_mm: float) -> PlatePose:
        """The plate of a carriage at a position, cause by cause, the nonlinear remainder shared among them."""
        return plate_pose(self.mechanisms[carriage_name], self.deviations, position_mm)


def mechanism(frame: Frame, carriage: Carriage, stage: str) -> Mechanism:
    return Mechanism(carriage, frame.up, frame.shims_at(stage))


def work_through(frame: Frame, readings: Stage, draws: int = DRAWS, seed: int = SEED) -> Study:
    """Estimate, then assess every carriage, with the same posterior draws for all."""
    layout = Layout.of(frame)
    known: Known = known_functions(frame.rails, frame.shims_at(readings.name))
    posterior = estimate(layout, known, readings)
    deviations = Deviations(layout, posterior.mean, known)
    drawn = posterior.draws(draws, seed)
    carriages = []
    for carriage in frame.carriages:
        positions = positions_of(carriage)
        rides = ride_rows(layout, known, carriage, positions).of(drawn)
        mean = mean_ride(carriage, deviations, positions)
        carriages.append(assess(mechanism(frame, carriage, readings.name), frame.limits, positions, mean, rides))
    return Study(frame, readings, posterior, deviations, tuple(carriages), draws, seed)


def linear_poses(mechanism: Mechanism, deviations: Deviations, position_mm: float) -> dict[Cause, Floats]:
    """The plate's best rigid fit (5,) to what each cause alone would do to the rails; they add up to that of all."""
    at = np.array([position_mm])
    poses = {}
    for cause in CAUSES:
        ride = mean_ride(mechanism.carriage, deviations, at, (cause,))
        if cause == "shims":
            ride = ride - mechanism.block_shims[:, :, None]
        poses[cause] = mechanism.rigid_fit @ ride.reshape(-1)
    return poses


def plate_pose(mechanism: Mechanism, deviations: Deviations, position_mm: float) -> PlatePose:
    carriage = mechanism.carriage
    linear = linear_poses(mechanism, deviations, position_mm)
    ride = mean_ride(carriage, deviations, np.array([position_mm]))
    bare = Mechanism(carriage, mechanism.up)
    sag = solve(bare, np.zeros_like(ride)).plate[:, 0]
    rest = solve(mechanism, ride).plate[:, 0] - sag - np.sum(list(linear.values()), axis=0)
    size = {cause: float(np.sum(pose**2)) for cause, pose in linear.items()}
    whole = sum(size.values())
    s, t, n = mechanism.axes
    shift, turn = {}, {}
    for cause, pose in linear.items():
        bolted = mechanism.rigid_fit @ bolted_ride(carriage, deviations, (cause,)).reshape(-1)
        full = pose + bolted + (rest * size[cause] / whole if whole > 0.0 else 0.0)
        shift[cause] = full[0] * t + full[1] * n
        turn[cause] = full[2] * s + full[3] * t + full[4] * n
    point = carriage.origin(position_mm) + mechanism.middle_mm
    return PlatePose(carriage, position_mm, point, shift, turn)
