"""Forces and stiffness of blocks in the midst of a Newton step, by numerical differentiation.

`tests/mechanics/test_tangent_of_a_block` does this for a block whose balls are all pressed alike. Here blocks are
pushed about at random, so that some balls carry much and others nothing: force from the energy, tangent from the force,
and the stiffness through a soft seat from a block that is let find its own place by `scipy.optimize.root`.
Independent: energy and forces ball by ball from `mechanics.slow_reference`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import root

from framevis.carriage import Mechanism
from framevis.carriage_newton import Batch, Response
from framevis.frame import SeatStiffness
from framevis.small_matrices import UPPER
from mechanics.sample_machines import GUIDES, LAYOUTS, UP, carriage
from mechanics.slow_reference import SlowBlock, SlowCarriage

STEP = np.array([1.0, 1.0, 0.05, 0.05, 0.05]) * 4e-3  # µm and mrad: far less than any ball is from touching
CLEAR_UM = 0.1  # no ball stands nearer to the edge of touching: there Q′ has a corner
SOFT = SeatStiffness(20.0, 60.0, 1.5, None, 3.0)
Function = Callable[[np.ndarray], np.ndarray]


def derivative(function: Function, x: np.ndarray) -> np.ndarray:
    """∂f/∂x (..., 5) by central differences of two steps, the error of second order taken out (Richardson)."""

    def central(h: np.ndarray) -> np.ndarray:
        return np.stack([(function(x + d) - function(x - d)) / (2.0 * d.sum()) for d in np.diag(h)], axis=-1)

    return (4.0 * central(STEP / 2.0) - central(STEP)) / 3.0


def mechanism_of(layout: str, arrangement: str, seat: SeatStiffness | None = None) -> Mechanism:
    return Mechanism(carriage(LAYOUTS[layout](GUIDES[arrangement]), seat_stiffness=seat), UP)


def displaced(slow: SlowCarriage, seed: int) -> np.ndarray:
    """Random displacements (blocks, 5): a third of the balls or so off, none of them just touching."""
    random, found = np.random.default_rng(seed), []
    for block in slow.blocks:
        while True:
            five = random.normal(size=5) * [3.0, 3.0, 0.2, 0.15, 0.15]
            if np.abs(gaps(block, five)).min() > CLEAR_UM and 0.1 < np.mean(block.loads(five) == 0.0) < 0.8:
                found.append(five)
                break
    return np.array(found)


def gaps(block: SlowBlock, five: np.ndarray) -> np.ndarray:
    """Approach of every ball (balls,), µm, below zero where it is off."""
    shift, turn = block.in_space(five)
    moved = np.sum((shift + np.cross(turn, block.places)) * block.ways, axis=1)
    return block.guide.preload_interference_um + moved


def on_rail(block: SlowBlock, five: np.ndarray) -> np.ndarray:
    """The wrench (5,) of a block on its rail, ball by ball."""
    return -block.in_own_axes(*block.force_and_moment(five))


def full(upper: np.ndarray) -> np.ndarray:
    whole = np.zeros((5, 5))
    for value, (i, j) in zip(upper, UPPER, strict=True):
        whole[i, j] = whole[j, i] = value
    return whole


def close(found: np.ndarray, expected: np.ndarray, tangent: np.ndarray, atol: float) -> None:
    """Entry by entry, against the geometric mean of the two directions' own stiffness."""
    scale = np.sqrt(np.outer(np.diag(tangent), np.diag(tangent)))
    np.testing.assert_allclose(found / scale, expected / scale, atol=atol)


def response(batch: Batch, blocks: np.ndarray) -> Response:
    return batch.respond(np.zeros((5, 1)), blocks[:, :, None], np.zeros((*blocks.shape, 1)))


def of_balls(batch: Batch, answer: Response, index: int) -> np.ndarray:
    """The tangent (5, 5) of one block's balls."""
    return full((batch.blocks[index].tangent_of_sums @ answer.stiff[index])[:, 0])


@pytest.mark.parametrize("arrangement", sorted(GUIDES))
@pytest.mark.parametrize("layout", ["antiparallel", "faces"])
def test_force_from_energy_and_tangent_from_force(layout, arrangement):
    mechanism = mechanism_of(layout, arrangement)
    slow = SlowCarriage(mechanism.carriage, UP)
    blocks = displaced(slow, 5)
    batch = Batch(mechanism, False)
    answer = response(batch, blocks)
    for i, (block, five) in enumerate(zip(slow.blocks, blocks, strict=True)):
        force = derivative(lambda x, block=block: np.array(block.energy(x)), five)
        tangent = derivative(lambda x, block=block: on_rail(block, x), five)
        found = of_balls(batch, answer, i)
        lever = np.sqrt(np.diag(tangent))
        np.testing.assert_allclose(
            answer.pressed[i, :, 0] / lever, force / lever, atol=1e-6 * np.abs(force / lever).max()
        )
        close(found, tangent, tangent, 1e-6)


@pytest.mark.parametrize("arrangement", sorted(GUIDES))
def test_stiffness_through_a_soft_seat(arrangement):
    """The plate moves its end of the seat; the block finds the place where seat and balls press alike."""
    mechanism = mechanism_of("faces", arrangement, SOFT)
    slow = SlowCarriage(mechanism.carriage, UP)
    blocks = displaced(slow, 6)
    batch = Batch(mechanism, False)
    answer = response(batch, blocks)
    compliance = slow.compliance
    for i, (block, five) in enumerate(zip(slow.blocks, blocks, strict=True)):
        plate = five + compliance * on_rail(block, five)

        def through(moved: np.ndarray, block=block, five=five) -> np.ndarray:
            settled = root(lambda x: x + compliance * on_rail(block, x) - moved, five, tol=1e-13).x
            return on_rail(block, settled)

        expected = derivative(through, plate)
        close(
            full(batch.seat_tangent(i, answer.stiff[i])[:, 0]), expected, expected, 1e-5
        )  # what root leaves is divided by the step
        assert np.diag(expected)[0] < 0.9 * of_balls(batch, answer, i)[0, 0]


def test_a_softer_groove_is_told_apart():
    """The comparison is worth something: 1 % on the preload shows far beyond its tolerance."""
    other = replace(GUIDES["gothic"], preload_interference_um=1.01 * GUIDES["gothic"].preload_interference_um)
    mechanism = mechanism_of("faces", "gothic")
    slow = SlowCarriage(replace(mechanism.carriage, blocks=carriage(LAYOUTS["faces"](other)).blocks), UP)
    blocks = displaced(slow, 5)
    batch = Batch(mechanism, False)
    found, expected = (
        of_balls(batch, response(batch, blocks), 0),
        derivative(lambda x: on_rail(slow.blocks[0], x), blocks[0]),
    )
    with pytest.raises(AssertionError):
        close(found, expected, expected, 1e-4)
