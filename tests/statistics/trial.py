"""One random frame gone through: what framevis says of it beside what is true.

Gives for every quantity where the truth lies in framevis' distribution (0 … 1: uniform if it is calibrated), and for
every block the chances that framevis gives and what comes true. The truth goes through the same equilibrium.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from plain_interpolation import interpolated_ride
from random_frames import random_frame
from random_truth import FAMILIES, ROUGHNESS, Family, Roughness, random_readings, random_truth
from scipy.special import ndtr

from framevis.carriage import COMPONENTS, Mechanism
from framevis.contact import pressure_of
from framevis.curves import UNMEASURED
from framevis.deviations import Deviations, rail_weights
from framevis.equilibrium import Equilibrium, Near, solve
from framevis.frame import Flags, Floats, Frame, Limits, Stage
from framevis.observe import Part
from framevis.ride import RideRows, mean_ride, ride_rows
from framevis.risk import assess, effects
from framevis.rows import part_design
from framevis.study import Study, work_through
from framevis.verdicts import CarriageAssessment

STEPS_MM = {"dense": (40.0, 70.0), "sparse": (120.0, 220.0)}
LEVELS_THAT_DRIFT = 0.15  # share of frames
PRIOR = ", prior only"
PLACES = 8  # along a beam or a travel at which quantities are looked at


@dataclass(frozen=True)
class Circumstances:
    """How a frame came about: what results are told apart by."""

    family: str
    roughness: str
    density: str
    arrangement: str
    measuring: str
    aligned: bool
    level_drifts: bool

    @property
    def all_felt_measured(self) -> bool:
        """Whether readings see all that the blocks feel: nothing sees one face of a beam against another."""
        return self.measuring != "some missing" and self.arrangement != "second face"


@dataclass(frozen=True)
class BlockOutcome:
    """One block: the chances and the verdict, and whether it is tight and binding in truth (`tight`, `binding`), for
    the likeliest shape alone (`mean_`), and by interpolation of a plain survey (`plain_`; None: another survey)."""

    p_tight: float
    p_binding: float
    verdict: str
    tight: bool
    binding: bool
    mean_tight: bool
    mean_binding: bool
    plain_tight: bool | None
    plain_binding: bool | None


@dataclass(frozen=True, eq=False)
class Trial:
    """One frame. `places`: quantity → where the truth lies in framevis' distribution (N,), 0 … 1. `blocks` with the
    frame's own limits; `open_blocks` with limits put where the readings leave the answer open."""

    seed: int
    number: int
    of: Circumstances
    places: dict[str, Floats]
    blocks: tuple[BlockOutcome, ...]
    open_blocks: tuple[BlockOutcome, ...]


def circumstances_of(number: int) -> tuple[Family, Roughness, str]:
    """Family, class of roughness and density of the number-th frame: every combination in turn."""
    density = tuple(STEPS_MM)[number // (len(FAMILIES) * len(ROUGHNESS)) % len(STEPS_MM)]
    return FAMILIES[number % len(FAMILIES)], ROUGHNESS[number // len(FAMILIES) % len(ROUGHNESS)], density


@dataclass(frozen=True, eq=False)
class Measured:
    """A random machine with its true shape and the readings taken of it; `random` for what is drawn later."""

    seed: int
    number: int
    of: Circumstances
    frame: Frame
    true: Deviations
    readings: Stage
    random: np.random.Generator


def measured_frame(seed: int, number: int) -> Measured:
    """Draw the number-th frame of a seed and measure it."""
    family, roughness, density = circumstances_of(number)
    random = np.random.default_rng([seed, number])
    drawn = random_frame(random)
    complete = drawn.measuring != "some missing" and drawn.arrangement != "second face"
    aligned = family == "waves" or complete or bool(random.random() < 0.5)
    level_drifts = complete and bool(random.random() < LEVELS_THAT_DRIFT)
    of = Circumstances(family, roughness, density, drawn.arrangement, drawn.measuring, aligned, level_drifts)
    true = random_truth(drawn.frame, family, roughness, aligned, random)
    readings = random_readings(drawn.frame, true, float(random.uniform(*STEPS_MM[density])), level_drifts, random)
    return Measured(seed, number, of, drawn.frame, true, readings, random)


def run_trial(seed: int, number: int, draws: int) -> Trial:
    """Draw the number-th frame of a seed, measure it, let framevis assess it, and hold that against the truth."""
    return judged(measured_frame(seed, number), draws)


def judged(here: Measured, draws: int) -> Trial:
    """What framevis says of a measured frame, held against its true shape."""
    study, plain = work_through(here.frame, here.readings, draws, here.number), here.of.measuring == "plain"
    places: dict[str, list[Floats]] = defaultdict(list)
    for name, place in _of_functions(study, here.true):
        places[name].append(place)
    blocks: list[BlockOutcome] = []
    open_blocks: list[BlockOutcome] = []
    for assessed in study.carriages:
        seen = Seen.of(study, assessed, here.true, plain)
        blocks += _outcomes(seen, assessed, here.frame.limits)
        drawn = _drawn_worst(study, seen)
        limits = _open_limits(drawn["worst drag ratio"], here.random)
        again = assess(seen.mechanism, limits, assessed.stations_mm, seen.mean, seen.rows.of(study.drawn))
        open_blocks += _outcomes(seen, again, limits)
        for name, place in (*_pair_difference(study, seen), *_felt(study, seen, drawn)):
            places[name].append(place)
    joined = {name: np.concatenate(parts) for name, parts in places.items()}
    return Trial(here.seed, here.number, here.of, joined, tuple(blocks), tuple(open_blocks))


def _placed(study: Study, functionals: Floats, error: Floats) -> tuple[str, Floats]:
    """Where the truth lies, and whether that rests on the prior. `functionals` (N, size), `error` (N,) mean − truth."""
    sd, before = study.posterior.sd(functionals), study.posterior.prior_sd(functionals)
    measured = np.sum(sd**2) < UNMEASURED**2 * np.sum(before**2)  # as the report has it
    return ("" if measured else PRIOR), ndtr(-error / np.maximum(sd, 1e-12))


def _of_functions(study: Study, true: Deviations) -> Iterator[tuple[str, Floats]]:
    """Every unknown function, and every rail's curves, without the offset and slope that no sweep need see."""
    layout, mean = study.posterior.layout, study.deviations
    curves = [(key[0], {key: 1.0}, strip.length_mm, 1) for key, strip in layout.strips.items()]
    for rail in study.frame.rails:
        for component, degree in (("lateral", 1), ("height", 1), ("roll", 0)):
            weights = rail_weights(rail, component)  # type: ignore[arg-type]
            curves.append((f"rail {component}", weights, rail.beam.length_mm, degree))  # type: ignore[arg-type]
    for name, weights, length, degree in curves:
        s = np.linspace(20.0, length - 20.0, 3 * PLACES)
        basis = np.vander(s - s.mean(), degree + 1)
        off = (np.eye(s.size) - basis @ np.linalg.pinv(basis))[1::3]
        functionals = off @ part_design(layout, Part(weights, s))
        error = off @ (mean.along(weights, s) - true.along(weights, s))
        told, place = _placed(study, functionals, error)
        yield name + told, place


@dataclass(frozen=True, eq=False)
class Seen:
    """What the blocks of a carriage meet (blocks, 5, S): in truth, by the likeliest shape, interpolated by hand."""

    mechanism: Mechanism
    rows: RideRows
    truth: Floats
    mean: Floats
    by_hand: Floats | None

    @staticmethod
    def of(study: Study, assessed: CarriageAssessment, true: Deviations, plain: bool) -> Seen:
        carriage, positions, likeliest = assessed.carriage, assessed.stations_mm, study.deviations
        rows = ride_rows(likeliest.layout, likeliest.known, carriage, positions)
        rides = (mean_ride(carriage, each, positions) for each in (true, likeliest))
        by_hand = interpolated_ride(study.frame, carriage, study.readings, positions) if plain else None
        return Seen(study.mechanisms[carriage.name], rows, *rides, by_hand)


def _outcomes(seen: Seen, assessed: CarriageAssessment, limits: Limits) -> list[BlockOutcome]:
    really, likeliest = (_fails(seen.mechanism, limits, ride) for ride in (seen.truth, seen.mean))
    by_hand = None if seen.by_hand is None else _fails(seen.mechanism, limits, seen.by_hand)
    return [
        BlockOutcome(
            block.p_tight,
            block.p_binding,
            block.verdict,
            *(bool(fails[i]) for fails in (*really, *likeliest)),
            *((None, None) if by_hand is None else (bool(fails[i]) for fails in by_hand)),
        )
        for i, block in enumerate(assessed.blocks)
    ]


def _fails(mechanism: Mechanism, limits: Limits, ride: Floats) -> tuple[Flags, Flags]:
    """Which blocks (blocks,) are tight, which binding somewhere along the travel, as `risk.assess` has it of a draw."""
    found = effects(mechanism, solve(mechanism, ride))
    worst, unsafe = found.ratio.max(axis=1), found.safety.min(axis=1) < limits.static_safety
    return (worst >= limits.tight_drag_ratio) | unsafe, (worst >= limits.binding_drag_ratio) | unsafe


def _open_limits(drag_ratio: Floats, random: np.random.Generator) -> Limits:
    """Limits among the drawn drag ratios (blocks, D) of some block: chosen by the readings, not by the truth.

    Static safety is left out: it would settle many a block.
    """
    block = drag_ratio[int(random.integers(len(drag_ratio)))]
    tight, binding = np.sort(np.quantile(block, random.uniform(0.05, 0.95, 2)))
    return Limits(float(tight), float(binding), 0.0)


def _pair_difference(study: Study, seen: Seen) -> Iterator[tuple[str, Floats]]:
    """Second rail less first rail, as two blocks side by side meet them."""
    wrong = seen.mean - seen.truth
    side_by_side = (0, len(wrong) // 2)
    here = np.linspace(0, wrong.shape[2] - 1, PLACES).astype(int)
    for k, component in enumerate(COMPONENTS):
        first, second = (seen.rows.design[block, k, here] for block in side_by_side)
        functionals = np.zeros((PLACES, study.posterior.layout.size))
        functionals[:, seen.rows.columns] = second - first
        error = wrong[side_by_side[1], k, here] - wrong[side_by_side[0], k, here]
        told, place = _placed(study, functionals, error)
        yield f"pair {component}{told}", place


def _drawn_worst(study: Study, seen: Seen) -> dict[str, Floats]:
    """Drag, pressure and safety (blocks, D) of every draw, each where it is worst."""
    blocks, _, stations = seen.mean.shape
    near = Near(solve(seen.mechanism, seen.mean), seen.mean).repeated(study.draws)
    solved = solve(seen.mechanism, seen.rows.of(study.drawn).reshape(blocks, 5, -1), near=near)
    return _worst(seen.mechanism, solved, stations)


def _felt(study: Study, seen: Seen, drawn: dict[str, Floats]) -> Iterator[tuple[str, Floats]]:
    """Misfit at some places, and drag, pressure and safety where each is worst, among the draws."""
    blocks, _, stations = seen.mean.shape
    here = np.linspace(0, stations - 1, PLACES // 2).astype(int)
    rides = (seen.rows.of(study.drawn)[:, :, here], seen.truth[:, :, here])
    rigid = [solve(seen.mechanism, ride.reshape(blocks, 5, -1), rigid_seats=True).displacement for ride in rides]
    draws, true = (each.reshape(blocks, 5, here.size, -1) for each in rigid)
    for k, component in enumerate(COMPONENTS):
        yield f"misfit {component}", _among(draws[:, k], true[:, k, :, 0])
    worst = _worst(seen.mechanism, solve(seen.mechanism, seen.truth), stations)
    for name in worst:
        yield name, _among(drawn[name], worst[name][:, 0])


def _worst(mechanism: Mechanism, solved: Equilibrium, stations: int) -> dict[str, Floats]:
    """Highest drag ratio and pressure, least safety (blocks, D) along the travel."""
    found = effects(mechanism, solved)
    pressure = np.array([pressure_of(solved.peak_n[i], line.static_n) for i, line in enumerate(mechanism.lines)])
    ratio, pressure, safety = (x.reshape(len(x), stations, -1) for x in (found.ratio, pressure, found.safety))
    highest = {"worst drag ratio": ratio.max(axis=1), "worst pressure": pressure.max(axis=1)}
    return highest | {"worst safety": safety.min(axis=1)}


def _among(draws: Floats, truth: Floats) -> Floats:
    """Share of the draws (…, D) below the truth (…,), ties counted half: (N,)."""
    below = np.mean(draws < truth[..., None], axis=-1) + 0.5 * np.mean(draws == truth[..., None], axis=-1)
    return np.asarray(below.ravel())
