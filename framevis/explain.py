"""What a block suffers from, in numbers: which misfit is worst, and which cause brings how much of it.

Takes a study, gives one record a block. The split by causes is that of the linear carriage (the plate's best rigid
fit): its shares add up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from framevis.carriage import COMPONENTS, ROLL, Mechanism
from framevis.deviations import CAUSES, Cause
from framevis.frame import Block, Floats
from framevis.ride import mean_ride
from framevis.study import Study
from framevis.verdicts import BlockAssessment, CarriageAssessment


@dataclass(frozen=True)
class Reason:
    """Why a block runs hard where it is worst. Values µm (lateral, height) or mrad (roll, pitch, yaw).

    `misfit` against its own rail at equilibrium with rigid seats; `pair` the block across from it and `relative`
    how its rail (with its block's shims) deviates from the pair's; `shares` what each cause brings of the misfit,
    or, of a roll against a pair, of `relative`; `opening_mrad` of the
    block's beam there; `overloaded`, the static safety where only that fails its limit, else None.
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


def reason(study: Study, carriage: CarriageAssessment, block: BlockAssessment) -> Reason:
    """The reason for one block, at its worst station."""
    mechanism = study.mechanisms[carriage.name]
    index = [other.name for other in carriage.blocks].index(block.name)
    at = int(np.argmin(np.abs(carriage.stations_mm - block.worst_station_mm)))
    position = float(carriage.stations_mm[at])
    component = _worst_component(mechanism, index, block.misfit[:, at])
    pair = _pair_of(carriage.carriage.blocks, index)
    apart = _apart(study, mechanism, position, index, pair, component)
    relative = sum(apart.values())
    beam, station = block.block.rail.beam, carriage.carriage.station(block.block, position)
    width = block.block.rail.guide.block_width_mm
    return Reason(
        block=block.block,
        position_mm=position,
        station_mm=station,
        component=COMPONENTS[component],
        misfit=float(block.misfit[component, at]),
        pair=carriage.carriage.blocks[pair] if pair is not None else None,
        relative=relative,
        across_um=abs(relative if pair is not None else float(block.misfit[component, at])) * width,
        shares=apart
        if component == ROLL and pair is not None
        else _shares(study, mechanism, position, index, component),
        overloaded=_overloaded(study, block),
        opening_mrad=float(study.deviations.value(("opening", beam.name), np.array([station]))[0]),
    )


def _overloaded(study: Study, block: BlockAssessment) -> float | None:
    limits, safety = study.frame.limits, float(block.static_safety.min())
    only_that = safety < limits.static_safety and float(block.drag_ratio.max()) < limits.binding_drag_ratio
    return safety if only_that else None


def _worst_component(mechanism: Mechanism, index: int, misfit: Floats) -> int:
    """The component that presses some ball hardest."""
    line = mechanism.lines[index]
    lever = np.abs(line.fixed).max(axis=0) + np.abs(line.along).max(axis=0) * line.places_mm[-1]
    return int(np.argmax(np.abs(misfit) * lever))


def _pair_of(blocks: tuple[Block, ...], index: int) -> int | None:
    """The block on another rail that stands nearest along the carriage."""
    others = [i for i, other in enumerate(blocks) if other.rail.name != blocks[index].rail.name]
    return min(others, key=lambda i: abs(blocks[i].along_mm - blocks[index].along_mm)) if others else None


def _wanted(study: Study, mechanism: Mechanism, position: float, cause: Cause) -> Floats:
    """What a cause alone asks of the blocks, (blocks, 5)."""
    ride = mean_ride(mechanism.carriage, study.deviations, np.array([position]), (cause,))[..., 0]
    return ride - mechanism.block_shims if cause == "shims" else ride


def _apart(
    study: Study, mechanism: Mechanism, position: float, index: int, pair: int | None, component: int
) -> dict[Cause, float]:
    """What each cause brings of the difference between a block's rail and its pair's; 0 without a pair."""
    apart: dict[Cause, float] = {}
    for cause in CAUSES:
        wanted = _wanted(study, mechanism, position, cause)[:, component]
        apart[cause] = float(wanted[index] - wanted[pair]) if pair is not None else 0.0
    return apart


def _shares(study: Study, mechanism: Mechanism, position: float, index: int, component: int) -> dict[Cause, float]:
    shares: dict[Cause, float] = {}
    for cause in CAUSES:
        wanted = _wanted(study, mechanism, position, cause).reshape(-1)
        plate = mechanism.rigid_fit @ wanted
        shares[cause] = float((mechanism.leverage[index] @ plate)[component] - wanted[5 * index + component])
    return shares


def spans(positions_mm: Floats, hard: Floats) -> list[tuple[float, float]]:
    """Stretches (from, to) of positions (S,) at which `hard` (S,) holds, bounds halfway to the neighbours."""
    edges = np.concatenate([[positions_mm[0]], (positions_mm[1:] + positions_mm[:-1]) / 2.0, [positions_mm[-1]]])
    padded = np.concatenate([[False], hard, [False]]).astype(int)
    starts, stops = np.flatnonzero(np.diff(padded) == 1), np.flatnonzero(np.diff(padded) == -1)
    return [(float(edges[a]), float(edges[b])) for a, b in zip(starts, stops, strict=True)]
