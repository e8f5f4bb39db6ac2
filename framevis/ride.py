"""What the blocks of a carriage meet along their rails: the deviations that its equilibrium answers.

Takes a carriage, positions and deviations (the mean or draws), gives (blocks, 5, ...) of lateral, height (µm),
roll, pitch, yaw (mrad) of each block's rail at the block: pitch = −dheight/ds, yaw = dlateral/ds.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from framevis.carriage import HEIGHT, PITCH, ROLL, Mechanism
from framevis.deviations import CAUSES, Cause, Deviations, Known, Layout, Weights, combine, rail_weights
from framevis.frame import Carriage, Floats, Indices, locked
from framevis.observe import Part
from framevis.rows import known_part, part_design

MOST_SPACING_MM = 25.0


def positions_of(carriage: Carriage) -> Floats:
    """Evenly spaced positions (S,) of a carriage over its travel, both ends included."""
    low, high = carriage.travel_mm
    return np.linspace(low, high, max(2, int(np.ceil(round((high - low) / MOST_SPACING_MM, 6))) + 1))


@dataclass(frozen=True, eq=False)
class Felt:
    """One component of one block's rail at the block's stations (S,): weights and order of derivative."""

    weights: Weights
    station_mm: Floats
    derivative: int


def felt(carriage: Carriage, positions_mm: Floats) -> list[list[Felt]]:
    """For every block its five components, at the block's own stations for positions (S,)."""
    start, direction = carriage.station_map
    result = []
    for index, block in enumerate(carriage.blocks):
        station = start[index] + direction[index] * np.asarray(positions_mm, dtype=np.float64)
        lateral, height = rail_weights(block.rail, "lateral"), rail_weights(block.rail, "height")
        result.append(
            [
                Felt(lateral, station, 0),
                Felt(height, station, 0),
                Felt(rail_weights(block.rail, "roll"), station, 0),
                Felt(combine((-1.0, height)), station, 1),  # µm per mm = mrad
                Felt(lateral, station, 1),
            ]
        )
    return result


def mean_ride(
    carriage: Carriage, deviations: Deviations, positions_mm: Floats, causes: Iterable[Cause] = CAUSES
) -> Floats:
    """(blocks, 5, S) for one set of deviations, of the causes named, relative to where the blocks were bolted."""
    wanted = tuple(causes)
    ride = _ride(carriage, deviations, positions_mm, wanted)
    return ride - bolted_ride(carriage, deviations, wanted)


@lru_cache(maxsize=128)
def asked(mechanism: Mechanism, deviations: Deviations, position_mm: float, cause: Cause) -> Floats:
    """What one cause alone asks of the blocks at a position (blocks, 5), their shims counted with the shims."""
    ride = mean_ride(mechanism.carriage, deviations, np.array([position_mm]), (cause,))[..., 0]
    return locked(ride - mechanism.block_shims if cause == "shims" else ride)


def bolted_ride(carriage: Carriage, deviations: Deviations, causes: Iterable[Cause] = CAUSES) -> Floats:
    """(blocks, 5, 1) lateral and yaw that the blocks were bolted to, 0 where nothing is known of that."""
    if carriage.bolted_at_mm is None:
        return np.zeros((len(carriage.blocks), 5, 1))
    ride = _ride(carriage, deviations, np.array([carriage.bolted_at_mm]), tuple(causes))
    return (_fitted_by_bolting(carriage) @ ride.reshape(-1)).reshape(-1, 5, 1)


@lru_cache(maxsize=256)
def _fitted_by_bolting(carriage: Carriage) -> Floats:
    """(blocks · 5, blocks · 5): what bolting takes of the ride there. The blocks' screws give sideways: the plate lies
    on their rails by height, roll and pitch, and each block keeps the lateral and yaw that its rail has beyond that."""
    leverage = Mechanism(carriage, np.zeros(3)).leverage
    guides = [block.rail.guide for block in carriage.blocks]
    held = np.array([[1.0, each.block_width_mm / 2.0, each.block_length_mm / 2.0] for each in guides])[..., None]
    plate = leverage[:, [HEIGHT, ROLL, PITCH]] * held
    pose = np.linalg.pinv(plate.reshape(-1, 5), rcond=1e-9) * held.reshape(-1)
    size = len(guides)
    beyond = np.eye(5 * size).reshape(size, 5, size, 5)
    beyond[:, :, :, [HEIGHT, ROLL, PITCH]] -= (leverage @ pose).reshape(size, 5, size, 3)
    beyond[:, [HEIGHT, ROLL, PITCH]] = 0.0
    return locked(beyond.reshape(5 * size, 5 * size))


def _ride(carriage: Carriage, deviations: Deviations, positions_mm: Floats, causes: tuple[Cause, ...]) -> Floats:
    components = felt(carriage, positions_mm)
    return np.array(
        [[deviations.along(c.weights, c.station_mm, c.derivative, causes) for c in row] for row in components]
    )


@dataclass(frozen=True, eq=False)
class RideRows:
    """The ride as linear functionals: `design` (blocks, 5, S, n) on the coefficients at `columns` (n,), and what
    is known besides, `constant` (blocks, 5, S)."""

    design: Floats
    columns: Indices
    constant: Floats

    def of(self, coefficients: Floats) -> Floats:
        """(blocks, 5, S, D) for draws of all coefficients (size, D)."""
        ride = self.design @ coefficients[self.columns]
        ride += self.constant[..., None]
        return np.asarray(ride)


def ride_rows(layout: Layout, known: Known, carriage: Carriage, positions_mm: Floats) -> RideRows:
    """The ride of a carriage as linear functionals of the coefficients of a layout."""
    components = felt(carriage, positions_mm)
    functions, columns = layout.only(key for row in components for component in row for key in component.weights)
    design, constant = _rows(functions, known, components)
    if carriage.bolted_at_mm is not None:
        bolted, fixed = _rows(functions, known, felt(carriage, np.array([carriage.bolted_at_mm])))
        by = _fitted_by_bolting(carriage)
        design = design - (by @ bolted.reshape(len(by), -1)).reshape(bolted.shape)
        constant = constant - (by @ fixed.reshape(-1)).reshape(fixed.shape)
    return RideRows(design, columns, constant)


def _rows(layout: Layout, known: Known, components: list[list[Felt]]) -> tuple[Floats, Floats]:
    design = [[part_design(layout, Part(c.weights, c.station_mm), c.derivative) for c in row] for row in components]
    constant = [[known_part(known, Part(c.weights, c.station_mm), c.derivative) for c in row] for row in components]
    return np.array(design), np.array(constant)
