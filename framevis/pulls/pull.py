"""Pull force held against the prediction: what moving a carriage takes, and what its blocks' drag should add up to.

Takes a study with pull readings; gives, for each pull sweep, forces and predicted drag along the travel (N) and how
well they agree. The running force is the mean of both ways, which is free of a slope, a cable's pull and the weight
along the travel; one way only, the weight along a travel that climbs is taken off.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.special import chdtrc

from framevis.carriage import Mechanism
from framevis.equilibrium import Near, solve
from framevis.frame import Flags, Floats, PullReadings
from framevis.ride import mean_ride, ride_rows
from framevis.study import Study
from framevis.units import GRAVITY_M_PER_S2

LEAST_TO_COMPARE = 3
MOST_DRAWS = 400  # a band of 5 to 95 % needs no more


@dataclass(frozen=True, eq=False)
class Taken:
    """Forces by station (M,), N, repeats averaged; NaN where none was taken.

    `found` is the running force free of what differs between the ways, `u` its standard uncertainty; `uneven` half
    of what pulling toward higher stations takes more than pulling back, beyond the weight along the travel.
    """

    station_mm: Floats
    running: Floats
    running_back: Floats
    breakaway: Floats
    breakaway_back: Floats
    found: Floats
    u: Floats
    uneven: Floats


def weight_along(mechanism: Mechanism) -> float:
    """What carriage and payload weigh against a move toward higher stations, N."""
    carriage = mechanism.carriage
    mass = carriage.mass_kg + carriage.payload_kg
    return float(mass * GRAVITY_M_PER_S2 * (carriage.beam.axes[0] @ mechanism.up))


def by_station(readings: PullReadings, mechanism: Mechanism) -> Taken:
    """The forces of a sweep station by station, in the order of the travel."""
    stations, place = np.unique(np.round(readings.station_mm, 6), return_inverse=True)

    def mean(wanted: Flags) -> tuple[Floats, Floats]:
        count = np.bincount(place[wanted], minlength=stations.size).astype(np.float64)
        total = np.bincount(place[wanted], readings.force_n[wanted], stations.size)
        some = np.where(count > 0.0, count, np.nan)
        return np.asarray(total / some), np.asarray(readings.pull.u_n / np.sqrt(some))

    back, breakaway, up = readings.back, readings.breakaway, weight_along(mechanism)
    (out, u_out), (home, u_home) = mean(~back & ~breakaway), mean(back & ~breakaway)
    both = np.isfinite(out) & np.isfinite(home)
    one_way = np.where(np.isfinite(out), out - up, home + up)
    u_one_way = np.where(np.isfinite(out), u_out, u_home)
    return Taken(
        station_mm=stations,
        running=out,
        running_back=home,
        breakaway=mean(~back & breakaway)[0],
        breakaway_back=mean(back & breakaway)[0],
        found=np.where(both, (out + home) / 2.0, one_way),
        u=np.where(both, np.hypot(u_out, u_home) / 2.0, u_one_way),
        uneven=(out - home) / 2.0 - up,
    )


@dataclass(frozen=True, eq=False)
class Loads:
    """ΣQ of every block at stations (M,), N: of the posterior mean (blocks, M), of D draws (blocks, M, D)."""

    mean: Floats
    draws: Floats


def block_loads(study: Study, mechanism: Mechanism, station_mm: Floats, drawn: Floats) -> Loads:
    """The blocks' ball loads where a carriage was pulled, for draws (size, D) of the deviations."""
    carriage, blocks = mechanism.carriage, len(mechanism.lines)
    rides = ride_rows(study.posterior.layout, study.deviations.known, carriage, station_mm).of(drawn)
    mean = mean_ride(carriage, study.deviations, station_mm)
    solved = solve(mechanism, mean)
    near = Near(solved, mean).repeated(drawn.shape[1])
    states = solve(mechanism, rides.reshape(blocks, 5, -1), near=near)
    return Loads(solved.load_sum_n, states.load_sum_n.reshape(blocks, station_mm.size, -1))


def seals_and_friction(mechanism: Mechanism) -> tuple[Floats, Floats]:
    """Seal drag (N) and friction of each block (blocks,)."""
    guides = [line.guide for line in mechanism.lines]
    return np.array([guide.seal_drag_n for guide in guides]), np.array([guide.friction for guide in guides])


def preload_sum(mechanism: Mechanism) -> Floats:
    """ΣQ of each block alone on the bare rail, by its preload and nothing else (blocks,) N: K δ₀^1.5 a contact."""
    return np.array(
        [
            4.0 * line.places_mm.size * line.stiffness * max(line.guide.preload_interference_um, 0.0) ** 1.5
            for line in mechanism.lines
        ]
    )


def bare_drag(mechanism: Mechanism) -> Floats:
    """What each block should take alone on the bare rail (blocks,) N."""
    seal, friction = seals_and_friction(mechanism)
    return np.asarray(seal + friction * preload_sum(mechanism))


@dataclass(frozen=True, eq=False)
class Held:
    """One pull sweep held against the prediction at its own stations (M,), N.

    `predicted` is the carriage's drag of the posterior mean, `p05`, `p95` centiles over the draws; `covariance`
    (M, M) of the draws about the mean's.
    """

    readings: PullReadings
    mechanism: Mechanism
    taken: Taken
    predicted: Floats
    p05: Floats
    p95: Floats
    covariance: Floats

    @property
    def name(self) -> str:
        return self.readings.pull.name

    @property
    def standardised(self) -> Floats:
        """Running forces less prediction over their standard uncertainty (M,), NaN where none was taken."""
        return np.asarray((self.taken.found - self.predicted) / np.sqrt(self.taken.u**2 + np.diag(self.covariance)))

    @cached_property
    def compared(self) -> Compared | None:
        """Running forces and prediction side by side, where there are enough of them."""
        there = np.isfinite(self.taken.found)
        if np.count_nonzero(there) < LEAST_TO_COMPARE:
            return None
        covariance, taken = self.covariance[np.ix_(there, there)], self.taken
        return Compared(taken.station_mm[there], taken.found[there], taken.u[there], self.predicted[there], covariance)


@dataclass(frozen=True, eq=False)
class Compared:
    """Running force and prediction at the n stations that have one. Arrays (n,), N; `covariance` (n, n)."""

    station_mm: Floats
    found: Floats
    u: Floats
    predicted: Floats
    covariance: Floats

    @property
    def residual(self) -> Floats:
        return self.found - self.predicted

    @property
    def rms(self) -> float:
        return float(np.sqrt(np.mean(self.residual**2)))

    @cached_property
    def whole(self) -> Floats:
        """Covariance (n, n) of the residuals: the readings' own and the prediction's."""
        return np.asarray(np.diag(self.u**2) + self.covariance)

    @property
    def standardised(self) -> Floats:
        """Residuals over their standard uncertainty."""
        return np.asarray(self.residual / np.sqrt(np.diag(self.whole)))

    @property
    def level(self) -> float:
        """By how much the pull is higher than predicted, in the mean of all stations."""
        return float(self.residual.mean())

    @property
    def u_level(self) -> float:
        return float(np.sqrt(self.whole.sum())) / self.found.size

    @property
    def correlation(self) -> float | None:
        """Of the variation along the travel; None where one of the two doesn't vary at all."""
        one, other = self.found - self.found.mean(), self.predicted - self.predicted.mean()
        size = float(np.sqrt((one @ one) * (other @ other)))
        return float(one @ other) / size if size > 1e-12 else None

    @property
    def p_shape(self) -> float:
        """Chance of residuals that vary this much along the travel if prediction and uncertainties hold (χ², n − 1)."""
        weighted = np.linalg.solve(self.whole, np.column_stack([self.residual, np.ones(self.found.size)]))
        d_d, d_1, one_1 = self.residual @ weighted[:, 0], weighted[:, 0].sum(), weighted[:, 1].sum()
        return float(chdtrc(self.found.size - 1, max(d_d - d_1**2 / one_1, 0.0)))

    @property
    def p_even(self) -> float:
        """Chance of forces that vary this much along the travel, if the true ones don't (χ², n − 1)."""
        weight = self.u**-2.0
        mean = float(weight @ self.found) / float(weight.sum())
        return float(chdtrc(self.found.size - 1, float(weight @ (self.found - mean) ** 2)))

    @property
    def gain(self) -> float:
        """How many times as much the pull varies as predicted: slope of found against predicted, least squares."""
        other = self.predicted - self.predicted.mean()
        return float(other @ self.found) / float(other @ other)


def hold(study: Study) -> tuple[Held, ...]:
    """Every pull sweep of the stage against the study's estimate, by its own draws, `MOST_DRAWS` at most."""
    if not study.readings.pulls:
        return ()
    drawn = study.drawn[:, :MOST_DRAWS]
    return tuple(_hold(study, readings, drawn) for readings in study.readings.pulls)


def _hold(study: Study, readings: PullReadings, drawn: Floats) -> Held:
    mechanism = study.mechanisms[readings.pull.carriage.name]
    taken = by_station(readings, mechanism)
    loads = block_loads(study, mechanism, taken.station_mm, drawn)
    seal, friction = seals_and_friction(mechanism)
    predicted = seal.sum() + friction @ loads.mean
    draws = seal.sum() + np.einsum("b,bmd->md", friction, loads.draws)
    off = draws - predicted[:, None]
    p05, p95 = np.quantile(draws, (0.05, 0.95), axis=1)
    return Held(readings, mechanism, taken, predicted, p05, p95, off @ off.T / drawn.shape[1])
