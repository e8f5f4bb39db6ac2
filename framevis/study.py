"""One stage of one frame, worked through once: everything that is shown is a function of this record.

Takes a frame and a stage's readings, gives the estimate, the assessments and the poses of the carriages.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np

from framevis.carriage import Mechanism
from framevis.deviations import CAUSES, Deviations, Layout
from framevis.equilibrium import on_perfect_frame, solve
from framevis.estimate import Posterior, estimate
from framevis.frame import Floats, Frame, Push, RailSpot, Shim, Stage
from framevis.mistaken import Doubt, find_mistake
from framevis.pose import PlatePose
from framevis.rail_shims import known_at
from framevis.ride import asked, bolted_ride, mean_ride, positions_of, ride_rows
from framevis.risk import assess
from framevis.verdicts import CarriageAssessment

DRAWS, SEED = 1000, 0


@dataclass(frozen=True, eq=False)
class Study:
    """The work on one stage. `deviations` is the posterior mean; `carriages` in the order of the frame, `mechanisms`
    by their names."""

    frame: Frame
    readings: Stage
    posterior: Posterior
    deviations: Deviations
    mechanisms: dict[str, Mechanism]
    carriages: tuple[CarriageAssessment, ...]
    draws: int
    seed: int

    @property
    def stage(self) -> str:
        return self.readings.name

    @property
    def drawn(self) -> Floats:
        """The posterior draws behind every chance (size, draws)."""
        return _drawn(self.posterior, self.draws, self.seed)

    @cached_property
    def doubt(self) -> Doubt | None:
        """A sweep that reads as if it had been entered with the wrong sign or in the wrong unit."""
        return find_mistake(self.posterior)

    def assessment(self, carriage_name: str) -> CarriageAssessment:
        return next(carriage for carriage in self.carriages if carriage.name == carriage_name)

    def pose(self, carriage_name: str, position_mm: float) -> PlatePose:
        """The plate of a carriage at a position, cause by cause, the nonlinear remainder shared among them."""
        return plate_pose(self.mechanisms[carriage_name], self.deviations, position_mm)


def work_through(frame: Frame, readings: Stage, draws: int = DRAWS, seed: int = SEED) -> Study:
    """Estimate, then assess every carriage, with the same posterior draws for all."""
    return _assessed(frame, readings, estimate(Layout.of(frame), known_at(frame, readings.name), readings), draws, seed)


def refitted(study: Study, shims: tuple[Shim, ...], pushes: tuple[Push, ...]) -> Study:
    """The same readings, estimate and draws with other shims fitted and rails pushed elsewhere (all at this stage).

    Its readings are those taken before: what they would be now is for `expected` to say.
    """
    frame = replace(study.frame, shims=shims, pushes=pushes)
    same = {name for name in study.mechanisms if _done_to(frame, study, name) == _done_to(study.frame, study, name)}
    return _assessed(frame, study.readings, study.posterior, study.draws, study.seed, dict.fromkeys(same, study))


def _done_to(frame: Frame, study: Study, carriage: str) -> tuple[frozenset[object], ...]:
    """Shims and pushes that a carriage feels."""
    rails = {block.rail.name for block in frame.carriage(carriage).blocks}
    shims = frame.shims_at(study.stage)
    felt = (s for s in shims if (s.spot.rail in rails if isinstance(s.spot, RailSpot) else s.spot.carriage == carriage))
    return frozenset((s.spot, s.thickness_um) for s in felt), frozenset(
        push for push in frame.pushes_at(study.stage) if push.rail in rails
    )


def reassessed(study: Study, frame: Frame) -> Study:
    """The same readings, estimate and draws for a frame whose guides or seats have other values."""
    return _assessed(frame, study.readings, study.posterior, study.draws, study.seed)


def _assessed(
    frame: Frame, readings: Stage, posterior: Posterior, draws: int, seed: int, done: Mapping[str, Study] | None = None
) -> Study:
    """`done`: carriages that were assessed in another study and feel nothing that is different here."""
    done = done or {}
    layout, known = posterior.layout, known_at(frame, readings.name)
    shims = frame.shims_at(readings.name)
    mechanisms = {carriage.name: Mechanism(carriage, frame.up, shims) for carriage in frame.carriages}
    deviations = Deviations(layout, posterior.mean, known)
    drawn = _drawn(posterior, draws, seed)
    carriages = []
    for carriage in frame.carriages:
        if carriage.name in done:
            carriages.append(done[carriage.name].assessment(carriage.name))
            continue
        positions = positions_of(carriage)
        rows = ride_rows(layout, known, carriage, positions)
        mean = rows.of(posterior.mean[:, None])[..., 0]
        carriages.append(assess(mechanisms[carriage.name], frame.limits, positions, mean, rows.of(drawn)))
    return Study(frame, readings, posterior, deviations, mechanisms, tuple(carriages), draws, seed)


@lru_cache(maxsize=2)
def _drawn(posterior: Posterior, draws: int, seed: int) -> Floats:
    """The draws of a posterior, kept: a plan asks for the same again and again."""
    return posterior.draws(draws, seed)


def plate_pose(mechanism: Mechanism, deviations: Deviations, position_mm: float) -> PlatePose:
    """The equilibrium pose less the sag on a perfect frame: linear by cause, the rest shared by the causes' size."""
    carriage = mechanism.carriage
    linear = {
        cause: mechanism.rigid_fit @ asked(mechanism, deviations, position_mm, cause).reshape(-1) for cause in CAUSES
    }
    ride = mean_ride(carriage, deviations, np.array([position_mm]))
    sag = on_perfect_frame(mechanism).plate[:, 0]
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
