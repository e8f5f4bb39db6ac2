"""Pull readings as a function of friction, seal drag and the seats' stiffness: what `calibrate` fits.

Takes a study; gives the running forces and bare blocks of its stage (N,) with what they should be for any values:
seal drag + friction · ΣQ summed over the blocks, ΣQ from the equilibrium with seats of that stiffness.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.polynomial.chebyshev import chebder, chebpts1, chebvander

from framevis.carriage import Mechanism
from framevis.frame import Carriage, Flags, Floats, SeatStiffness
from framevis.pulls.pull import block_loads, by_station, preload_sum
from framevis.study import Study

FIT_DRAWS = 300
SEAT_LOG = float(np.log(10.0))  # seats are looked for within a factor of ten
SEAT_U_LOG = float(np.log(2.0))  # what is entered is taken to be right within a factor of two (1 u): our own choice
NODES = 11  # equilibria over that range; an odd number has the seats as entered among them
LEAST_FRICTION = 1e-5

Values = dict["Parameter", float]


@dataclass(frozen=True)
class Parameter:
    """Friction or seal drag of a guide, or the (logarithm of the) scale of a carriage's seat stiffness."""

    kind: Literal["friction", "seal", "seat"]
    of: str


@dataclass(frozen=True, eq=False)
class Pulled:
    """The running forces of one sweep at its stations (M,), N, and its bare blocks (B,), by their place."""

    mechanism: Mechanism
    station_mm: Floats
    found: Floats
    u: Floats
    bare_at: tuple[int, ...]
    bare: Floats
    u_bare: float

    @cached_property
    def guides(self) -> list[str]:
        return [line.guide.name for line in self.mechanism.lines]


def scaled_seat(seat: SeatStiffness | None, scale: float) -> SeatStiffness | None:
    """A seat that is stiffer by a factor in every direction; what is rigid stays so."""
    if seat is None:
        return None
    return SeatStiffness(**{k: None if value is None else scale * value for k, value in vars(seat).items()})


def _gives(carriage: Carriage) -> bool:
    seat = carriage.seat_stiffness
    return seat is not None and any(value is not None for value in vars(seat).values())


def model_of(study: Study) -> Model | None:
    """All running forces of a stage as a model; None where there are none."""
    pulled = tuple(_pulled(study))
    if not pulled:
        return None
    guides = dict.fromkeys(name for each in pulled for name in each.guides)
    seats = dict.fromkeys(each.mechanism.carriage.name for each in pulled if _gives(each.mechanism.carriage))
    parameters = [Parameter(kind, name) for kind in ("friction", "seal") for name in guides]
    parameters += [Parameter("seat", name) for name in seats]
    return Model(study, pulled, tuple(parameters), {})


def _pulled(study: Study) -> Iterator[Pulled]:
    """The sweeps that have a running force."""
    for readings in study.readings.pulls:
        mechanism = study.mechanisms[readings.pull.carriage.name]
        taken, given = by_station(readings, mechanism), readings.pull.bare_block_n
        there = np.isfinite(taken.found)
        at = tuple(i for i, value in enumerate(given) if value is not None)
        bare = np.array([value for value in given if value is not None])
        forces = (taken.station_mm[there], taken.found[there], taken.u[there])
        if there.any():
            yield Pulled(mechanism, *forces, at, bare, readings.pull.u_n)


@dataclass(frozen=True, eq=False)
class Model:
    """Readings (N,): all running forces sweep by sweep, each sweep's bare blocks after them; at the end, as readings
    of their own, the scales of the seats, 1 within a factor of two: so friction and seal drag carry the doubt of them.

    `known` keeps ball loads by sweep, for its seats as entered or over their scale: they cost equilibria of all draws.
    """

    study: Study
    pulled: tuple[Pulled, ...]
    parameters: tuple[Parameter, ...]
    known: dict[tuple[int, bool], tuple[Floats, Floats]]

    @cached_property
    def drawn(self) -> Floats:
        return self.study.posterior.draws(FIT_DRAWS, self.study.seed)

    @property
    def seats(self) -> tuple[Parameter, ...]:
        return tuple(parameter for parameter in self.parameters if parameter.kind == "seat")

    @cached_property
    def found(self) -> Floats:
        pulls = [part for each in self.pulled for part in (each.found, each.bare)]
        return np.concatenate([*pulls, np.zeros(len(self.seats))])

    @cached_property
    def u(self) -> Floats:
        pulls = [part for each in self.pulled for part in (each.u, np.full(each.bare.size, each.u_bare))]
        return np.concatenate([*pulls, np.full(len(self.seats), SEAT_U_LOG)])

    @cached_property
    def is_running(self) -> Flags:
        """Which of the readings are running forces (N,)."""
        pulls = [np.full(part.size, i == 0) for each in self.pulled for i, part in enumerate((each.found, each.bare))]
        return np.concatenate([*pulls, np.zeros(len(self.seats), dtype=bool)])

    @property
    def running(self) -> int:
        return sum(each.found.size for each in self.pulled)

    @property
    def bare(self) -> int:
        return sum(each.bare.size for each in self.pulled)

    @property
    def drag_a_block(self) -> Floats:
        """Running forces shared evenly among the blocks."""
        return np.concatenate([each.found / len(each.guides) for each in self.pulled])

    def entered(self, parameter: Parameter) -> float:
        """The value that the frame file gives."""
        if parameter.kind == "seat":
            return 0.0
        guides = (line.guide for each in self.pulled for line in each.mechanism.lines)
        guide = next(each for each in guides if each.name == parameter.of)
        return guide.friction if parameter.kind == "friction" else guide.seal_drag_n

    def as_entered(self) -> Floats:
        return np.array([self.entered(parameter) for parameter in self.parameters])

    def start(self) -> Floats:
        """As entered, inside the bounds: a fit can't leave them."""
        least = {"friction": 1e-3, "seal": 1e-2, "seat": -np.inf}
        pairs = zip(self.parameters, self.as_entered(), strict=True)
        return np.array([max(value, least[parameter.kind]) for parameter, value in pairs])

    def bounds(self) -> tuple[Floats, Floats]:
        both = {"friction": (LEAST_FRICTION, np.inf), "seal": (0.0, np.inf), "seat": (-SEAT_LOG, SEAT_LOG)}
        low, high = zip(*(both[parameter.kind] for parameter in self.parameters), strict=True)
        return np.array(low), np.array(high)

    def _values(self, theta: Floats) -> Values:
        return dict(zip(self.parameters, theta.tolist(), strict=True))

    def _block_values(self, kind: Literal["friction", "seal"], each: Pulled, values: Values) -> Floats:
        names = (Parameter(kind, name) for name in each.guides)
        return np.array([values.get(name, self.entered(name)) for name in names])

    def _nodes(self, index: int) -> tuple[Floats, Floats]:
        """ΣQ (nodes, blocks, M) in the mean of the draws and what each draw has beyond it (nodes, blocks, M, D), as
        Chebyshev coefficients over the logarithm of the seats' scale; one node where the seats are not fitted."""
        each = self.pulled[index]
        carriage = each.mechanism.carriage
        fitted = Parameter("seat", carriage.name) in self.parameters
        if (index, fitted) not in self.known:
            logs = SEAT_LOG * chebpts1(NODES) if fitted else np.zeros(1)
            seats = [scaled_seat(carriage.seat_stiffness, float(np.exp(log))) for log in logs]
            mechanisms = [replace(each.mechanism, carriage=replace(carriage, seat_stiffness=seat)) for seat in seats]
            loads = [block_loads(self.study, one, each.station_mm, self.drawn).draws for one in mechanisms]
            inverse = np.linalg.inv(chebvander(logs / SEAT_LOG, logs.size - 1))
            coefficients = np.tensordot(inverse, np.array(loads), axes=1)
            mean = coefficients.mean(axis=3)
            self.known[index, fitted] = mean, coefficients - mean[..., None]
        return self.known[index, fitted]

    def _loads(self, index: int, values: Values) -> tuple[Floats, Floats]:
        """ΣQ (blocks, M) in the mean of the draws, and what each draw has beyond it (blocks, M, D)."""
        mean, beyond = self._nodes(index)
        basis = chebvander(self._seat(index, values) / SEAT_LOG, len(mean) - 1)[0]
        return np.tensordot(basis, mean, axes=1), np.tensordot(basis, beyond, axes=1)

    def _seat(self, index: int, values: Values) -> float:
        return values.get(Parameter("seat", self.pulled[index].mechanism.carriage.name), 0.0)

    def predict(self, theta: Floats) -> Floats:
        """What each reading should be (N,)."""
        values, parts = self._values(theta), []
        for index, each in enumerate(self.pulled):
            seal, friction = self._block_values("seal", each, values), self._block_values("friction", each, values)
            alone = seal + friction * preload_sum(each.mechanism)
            parts += [seal.sum() + friction @ self._loads(index, values)[0], alone[list(each.bare_at)]]
        return np.concatenate([*parts, [values[seat] for seat in self.seats]])

    def jacobian(self, theta: Floats) -> Floats:
        """Derivatives (N, p) of what `predict` gives."""
        values = self._values(theta)
        rows = []
        for index, each in enumerate(self.pulled):
            load = self._loads(index, values)[0]
            alone, guides = preload_sum(each.mechanism), np.array(each.guides)
            at = list(each.bare_at)
            columns = []
            for parameter in self.parameters:
                mine = (guides == parameter.of).astype(np.float64)
                if parameter.kind == "friction":
                    columns.append(np.concatenate([mine @ load, (mine * alone)[at]]))
                elif parameter.kind == "seal":
                    columns.append(np.concatenate([np.full(load.shape[1], mine.sum()), mine[at]]))
                else:
                    seated = parameter.of == each.mechanism.carriage.name
                    slope = self._by_seat(index, values) if seated else np.zeros(load.shape[1])
                    columns.append(np.concatenate([slope, np.zeros(len(at))]))
            rows.append(np.column_stack(columns))
        own = [[float(parameter == seat) for parameter in self.parameters] for seat in self.seats]
        return np.concatenate([*rows, np.reshape(own, (len(own), len(self.parameters)))])

    def _by_seat(self, index: int, values: Values) -> Floats:
        """Change of the running force (M,) by the logarithm of the seats' scale."""
        mean, _ = self._nodes(index)
        slope = chebder(mean, axis=0) / SEAT_LOG
        basis = chebvander(self._seat(index, values) / SEAT_LOG, len(slope) - 1)[0]
        friction = self._block_values("friction", self.pulled[index], values)
        return np.asarray(friction @ np.tensordot(basis, slope, axes=1))

    def covariance(self, theta: Floats) -> Floats:
        """(N, N) of the prediction, by what the readings of the frame leave open: over the draws."""
        values, parts = self._values(theta), []
        for index, each in enumerate(self.pulled):
            friction = self._block_values("friction", each, values)
            off = np.einsum("b,bmd->md", friction, self._loads(index, values)[1])
            parts += [off, np.zeros((each.bare.size, off.shape[1]))]
        stacked = np.concatenate([*parts, np.zeros((len(self.seats), parts[0].shape[1]))])
        return np.asarray(stacked @ stacked.T / (stacked.shape[1] - 1))

    def rms(self, theta: Floats) -> float:
        """Of what the running forces differ from the prediction, N."""
        off = (self.found - self.predict(theta))[self.is_running]
        return float(np.sqrt(np.mean(off**2)))
