"""The chance of a wrong verdict, now and as it would be once further readings were taken.

The likeliest shape says of every block that it is free, or that it is not. That is wrong in the share of the
posterior draws that say otherwise. Readings to come are unknown, so their worth is what is expected of that share
before they are taken (preposterior analysis: Raiffa and Schlaifer, Applied Statistical Decision Theory, 1961; from
memory). Every draw is in turn the truth: what would then be read is simulated, noise included, the likeliest shape
that follows is linear in it, and its equilibrium says whether the block is free. No chance is ever worked out from a
linear carriage: that only chooses which readings to try.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from framevis.advising.candidates import Candidate
from framevis.equilibrium import Near, solve
from framevis.frame import Flags, Floats
from framevis.ride import RideRows, mean_ride, ride_rows
from framevis.risk import effects
from framevis.study import Study
from framevis.verdicts import BlockAssessment, CarriageAssessment

DIRECTIONS = 3  # of what is open about a block: so many tell nearly all of it
NEAR_WORST = 0.9  # stations that may become the worst, as a share of the highest drag ratio (95 %)


@dataclass(frozen=True, eq=False)
class Open:
    """A block whose verdict may be wrong. `rows` (directions, size): what of its misfit the readings leave most open,
    as functionals of all coefficients; `tight` (D,) whether it is tight in each draw that readings are tried on;
    `error` the chance that the likeliest shape says the wrong thing of it, from all draws,
    `tried_error` from those."""

    carriage: CarriageAssessment
    block: BlockAssessment
    rows: Floats
    tight: Flags
    error: float
    tried_error: float


@dataclass(frozen=True, eq=False)
class Told:
    """Readings to come, their own unknowns taken out. `design` (N, size), `noise` (N, N); `weight` (N, N) the inverse
    of the covariance of the readings."""

    design: Floats
    noise: Floats
    weight: Floats


def is_tight(study: Study, block: BlockAssessment) -> bool:
    """Whether the likeliest shape makes a block tight, or worse, anywhere."""
    limits = study.frame.limits
    unsafe = float(block.static_safety.min()) < limits.static_safety
    return unsafe or float(block.drag_ratio.max()) >= limits.tight_drag_ratio


def error_now(study: Study, block: BlockAssessment) -> float:
    """The chance that the likeliest shape says the wrong thing of a block, from all the study's draws."""
    return 1.0 - block.p_tight if is_tight(study, block) else block.p_tight


def open_of(study: Study, draws: Floats, carriage: CarriageAssessment, block: BlockAssessment) -> Open:
    """What is open about a block: its misfit's widest directions over draws (size, D), where it may be worst."""
    mechanism = study.mechanisms[carriage.name]
    index = [other.name for other in carriage.blocks].index(block.name)
    highest = block.drag_ratio_p95
    at = carriage.stations_mm[highest >= NEAR_WORST * highest.max()]
    rides = ride_rows(study.posterior.layout, study.deviations.known, carriage.carriage, at)
    felt = rides.design.transpose(2, 0, 1, 3).reshape(at.size, 5 * len(carriage.blocks), -1)
    misfit = mechanism.leverage[index] @ mechanism.rigid_fit @ felt - felt[:, 5 * index : 5 * index + 5]
    line = mechanism.lines[index]
    lever = np.abs(line.fixed).max(axis=0) + np.abs(line.along).max(axis=0) * line.places_mm[-1]
    weighed = (misfit * lever[:, None]).reshape(5 * at.size, -1)
    spread = weighed @ (draws - draws.mean(axis=1, keepdims=True))[rides.columns]
    widest = np.linalg.svd(spread, full_matrices=False)[0][:, :DIRECTIONS]
    rows = np.zeros((widest.shape[1], study.posterior.layout.size))
    rows[:, rides.columns] = widest.T @ weighed
    tight = block.tight_draws[: draws.shape[1]]
    tried = float(np.mean(tight != is_tight(study, block)))
    return Open(carriage, block, rows, tight, error_now(study, block), tried)


def told(study: Study, candidate: Candidate) -> Told:
    design, noise, own = candidate.seen.design, candidate.seen.noise, candidate.seen.own
    if own.size:
        kept = np.linalg.qr(own, mode="complete")[0][:, own.shape[1] :].T
        design, noise = kept @ design, kept @ noise @ kept.T
    covariance = study.posterior.covariance(design, design) + noise
    return Told(design, noise, np.asarray(np.linalg.inv(covariance), dtype=np.float64))


def narrowed(study: Study, about: Open, readings: Told) -> float:
    """By which share readings lower the variance of what is open about a block: what there is to try them for."""
    shared = study.posterior.covariance(readings.design, about.rows)
    drop = float(np.sum(shared * (readings.weight @ shared)))
    return drop / max(float(np.sum(study.posterior.sd(about.rows) ** 2)), 1e-300)


@dataclass(frozen=True, eq=False)
class Trial:
    """A carriage, ready for the likeliest shapes that readings may lead to. `about`: its open blocks."""

    study: Study
    about: tuple[Open, ...]
    rides: RideRows
    near: Near

    @classmethod
    def of(cls, study: Study, about: Iterable[Open]) -> Trial:
        opened = tuple(about)
        assessed = opened[0].carriage
        carriage, positions = assessed.carriage, assessed.stations_mm
        mean = mean_ride(carriage, study.deviations, positions)
        rides = ride_rows(study.posterior.layout, study.deviations.known, carriage, positions)
        return cls(study, opened, rides, Near(solve(study.mechanisms[carriage.name], mean), mean))

    def errors(self, readings: Told, draws: Floats, seed: int) -> list[float]:
        """The chance, per block, that the likeliest shape is wrong after readings, tried on draws (size, D).

        What the draws say of the change is applied to the chance from all draws.
        """
        study, carriage = self.study, self.about[0].carriage
        shapes = likeliest(study, readings, draws, seed, self.rides)
        rides = self.rides.design @ shapes + self.rides.constant[..., None]
        blocks, _, stations, count = rides.shape
        mechanism, limits = study.mechanisms[carriage.name], study.frame.limits
        solved = solve(mechanism, rides.reshape(blocks, 5, stations * count), near=self.near.repeated(count))
        found = effects(mechanism, solved)
        ratio, safety = (each.reshape(blocks, stations, count) for each in (found.ratio, found.safety))
        tight = (ratio.max(axis=1) >= limits.tight_drag_ratio) | (safety.min(axis=1) < limits.static_safety)
        names = [block.name for block in carriage.blocks]
        wrong = [float(np.mean(tight[names.index(each.block.name)] != each.tight)) for each in self.about]
        return [
            min(1.0, max(0.0, each.error + after - each.tried_error))
            for each, after in zip(self.about, wrong, strict=True)
        ]


def likeliest(study: Study, readings: Told, draws: Floats, seed: int, rides: RideRows) -> Floats:
    """The posterior means (n, D), of the coefficients that rides take, after what would be read of each draw."""
    posterior, columns = study.posterior, rides.columns
    root = np.linalg.cholesky(readings.noise)
    random = np.random.default_rng(seed).standard_normal((len(readings.noise), draws.shape[1]))
    read = readings.design @ (draws - posterior.mean[:, None]) + root @ random
    unit = np.zeros((columns.size, posterior.layout.size))
    unit[np.arange(columns.size), columns] = 1.0
    gain = posterior.covariance(unit, readings.design) @ readings.weight
    return np.asarray(posterior.mean[columns, None] + gain @ read)
