"""What a block suffers from, in numbers: which misfit is worst, which cause brings how much, what is in doubt.

Takes a study, gives one record a block. The split by causes is that of the linear carriage (the plate's best rigid
fit): its shares add up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from framevis.carriage import COMPONENTS, ROLL, Mechanism
from framevis.deviations import CAUSES, Cause
from framevis.equilibrium import on_perfect_frame
from framevis.frame import Block, Floats
from framevis.ride import asked, ride_rows
from framevis.risk import only_unsafe
from framevis.study import Study
from framevis.verdicts import BlockAssessment, CarriageAssessment

WELL_BELOW = 0.9


@dataclass(frozen=True, eq=False)
class Doubt:
    """The component of a block's misfit that the readings leave most open, weighed by what it does to the balls.

    `u` its standard uncertainty (µm or mrad); `row` (size,) the misfit as a functional of all coefficients.
    """

    component: str
    u: float
    row: Floats


@dataclass(frozen=True, eq=False)
class Reason:
    """Why a block runs hard where it is worst. Values µm (lateral, height) or mrad (roll, pitch, yaw).

    `misfit` against its own rail at equilibrium with rigid seats, less what the weight alone does; `pair` the block
    across from it and `relative` how its rail (with its block's shims) deviates from the pair's, in its own axes;
    `shares` what each cause brings of the misfit or, of a roll against a pair, of `relative`; `opening_mrad` of the
    block's beam there; `overloaded` the static safety where only that fails its limit; `doubt` where the mean alone
    would not give the verdict: what the readings leave open.
    """

    block: Block
    position_mm: float
    station_mm: float
    component: str
    misfit: float
    pair: Block | None
    relative: float
    across_um: float
    shares: dict[Cause, float]
    opening_mrad: float
    overloaded: float | None
    doubt: Doubt | None


def reason(study: Study, carriage: CarriageAssessment, block: BlockAssessment) -> Reason:
    """The reason for one block, at its worst station."""
    mechanism, index = study.mechanisms[carriage.name], _index(carriage, block)
    at = int(np.argmin(np.abs(carriage.stations_mm - block.worst_station_mm)))
    position = float(carriage.stations_mm[at])
    misfit = block.misfit[:, at] - on_perfect_frame(mechanism, rigid_seats=True).displacement[index, :, 0]
    component = int(np.argmax(np.abs(misfit) * _lever(mechanism, index)))
    pair = _pair_of(carriage.carriage.blocks, index)
    apart = _apart(study, mechanism, position, index, pair, component)
    of_the_pair = component == ROLL and pair is not None
    station = carriage.carriage.station(block.block, position)
    return Reason(
        block=block.block,
        position_mm=position,
        station_mm=station,
        component=COMPONENTS[component],
        misfit=float(misfit[component]),
        pair=carriage.carriage.blocks[pair] if pair is not None else None,
        relative=sum(apart.values()),
        across_um=abs(sum(apart.values()) if of_the_pair else float(misfit[component]))
        * block.block.rail.guide.block_width_mm,
        shares=apart if of_the_pair else _shares(study, mechanism, position, index, component),
        opening_mrad=float(study.deviations.value(("opening", block.block.rail.beam.name), np.array([station]))[0]),
        overloaded=_overloaded(study, block),
        doubt=doubt(study, carriage, block) if _by_doubt_alone(study, block) else None,
    )


def doubt(study: Study, carriage: CarriageAssessment, block: BlockAssessment) -> Doubt:
    """What the readings leave most open of a block's misfit, at its worst station."""
    mechanism, index = study.mechanisms[carriage.name], _index(carriage, block)
    at = np.array([block.worst_station_mm])
    rides = ride_rows(study.posterior.layout, study.deviations.known, carriage.carriage, at)
    felt = rides.design[:, :, 0].reshape(5 * len(carriage.blocks), -1)
    rows = np.zeros((5, study.posterior.layout.size))
    rows[:, rides.columns] = mechanism.leverage[index] @ mechanism.rigid_fit @ felt - felt[5 * index : 5 * index + 5]
    u = study.posterior.sd(rows)
    worst = int(np.argmax(u * _lever(mechanism, index)))
    return Doubt(COMPONENTS[worst], float(u[worst]), rows[worst])


def _index(carriage: CarriageAssessment, block: BlockAssessment) -> int:
    return [other.name for other in carriage.blocks].index(block.name)


def _lever(mechanism: Mechanism, index: int) -> Floats:
    """By how much (5,) a unit of each component presses the ball that feels it most."""
    line = mechanism.lines[index]
    return np.asarray(np.abs(line.fixed).max(axis=0) + np.abs(line.along).max(axis=0) * line.places_mm[-1])


def _overloaded(study: Study, block: BlockAssessment) -> float | None:
    unsafe = only_unsafe(block.drag_ratio, block.static_safety, study.frame.limits)
    return float(block.static_safety.min()) if unsafe else None


def _by_doubt_alone(study: Study, block: BlockAssessment) -> bool:
    """Whether the posterior mean alone stays well below the limit that the verdict names."""
    limits = study.frame.limits
    limit = limits.binding_drag_ratio if block.verdict == "binding" else limits.tight_drag_ratio
    return block.verdict != "free" and float(block.drag_ratio.max()) < WELL_BELOW * limit


def _pair_of(blocks: tuple[Block, ...], index: int) -> int | None:
    """The block across from one: on another rail, of the same beam and face if there is one, nearest along."""
    mine = blocks[index].rail

    def distance(i: int) -> tuple[bool, float]:
        other = blocks[i].rail
        elsewhere = (other.beam.name, other.face_deg) != (mine.beam.name, mine.face_deg)
        return elsewhere, abs(blocks[i].along_mm - blocks[index].along_mm)

    others = [i for i, other in enumerate(blocks) if other.rail.name != mine.name]
    return min(others, key=distance) if others else None


def _apart(
    study: Study, mechanism: Mechanism, position: float, index: int, pair: int | None, component: int
) -> dict[Cause, float]:
    """What each cause brings of the difference between a block's rail and its pair's, in the block's own axes."""
    if pair is None:
        return dict.fromkeys(CAUSES, 0.0)
    blocks = mechanism.carriage.blocks
    (s, t, n), (ps, pt, pn) = blocks[index].rail.axes, blocks[pair].rail.axes
    axis = (t, n, s, t, n)[component]
    seen = (pt @ axis, pn @ axis, 0.0, 0.0, 0.0) if component < ROLL else (0.0, 0.0, ps @ axis, pt @ axis, pn @ axis)
    apart: dict[Cause, float] = {}
    for cause in CAUSES:
        wanted = asked(mechanism, study.deviations, position, cause)
        apart[cause] = float(wanted[index, component] - np.array(seen) @ wanted[pair])
    return apart


def _shares(study: Study, mechanism: Mechanism, position: float, index: int, component: int) -> dict[Cause, float]:
    """What each cause brings of a block's misfit; they add up to that of the linear carriage."""
    shares: dict[Cause, float] = {}
    for cause in CAUSES:
        wanted = asked(mechanism, study.deviations, position, cause).reshape(-1)
        plate = mechanism.rigid_fit @ wanted
        shares[cause] = float((mechanism.leverage[index] @ plate)[component] - wanted[5 * index + component])
    return shares


def spans(positions_mm: Floats, hard: Floats) -> list[tuple[float, float]]:
    """Stretches (from, to) of positions (S,) at which `hard` (S,) holds, bounds halfway to the neighbours."""
    edges = np.concatenate([[positions_mm[0]], (positions_mm[1:] + positions_mm[:-1]) / 2.0, [positions_mm[-1]]])
    padded = np.concatenate([[False], hard, [False]]).astype(int)
    starts, stops = np.flatnonzero(np.diff(padded) == 1), np.flatnonzero(np.diff(padded) == -1)
    return [(float(edges[a]), float(edges[b])) for a, b in zip(starts, stops, strict=True)]
