"""Common practice, no source: what a 15 mm four-point guide of light preload does on blocks 32 mm wide.

The channel has opened by the same angle all along; the blocks were bolted down on it, so they stand at the rails'
own spacing and only the roll between the two rails is left. Each test goes from a deviation function of the frame
through the ride and the equilibrium to the drag ratio; the limits are the default ones.
"""

from __future__ import annotations

import numpy as np
import pytest
from practice_gantry import UP, carriage, rail_pair

from framevis.carriage import Mechanism
from framevis.deviations import Deviations, Key, Layout
from framevis.equilibrium import solve
from framevis.frame import BlockSpot, Carriage, Frame, Limits, SeatStiffness, Shim
from framevis.ride import mean_ride, positions_of
from framevis.risk import effects

LIMITS = Limits()
START_MM, LENGTH_MM = 80.0, 1500.0
BLOCK_WIDTH_MM = 32.0

# Plate, screws and the walls of a beam give sideways, some 20 N/µm a block; roll, height and the angles stay rigid
SIDEWAYS = SeatStiffness(lateral_n_per_um=20.0)
LOOSE = SeatStiffness(*(0.01,) * 5)


def worst_drag_ratio(ridden: Carriage, key: Key, function, shims: tuple[Shim, ...] = ()) -> float:
    """Highest drag ratio of any block over the travel where one function deviates."""
    outer, inner = rail_pair()
    frame = Frame("", "mm", ("now",), LIMITS, None, UP, (outer.beam,), (outer, inner), (ridden,), (), shims)
    layout = Layout.of(frame)
    deviations = Deviations(layout, np.zeros(layout.size), {key: function})
    mechanism = Mechanism(ridden, UP, shims)
    solved = solve(mechanism, mean_ride(ridden, deviations, positions_of(ridden)))
    assert solved.residual.max() < 1e-6
    return float(effects(mechanism, solved).ratio.max())


def opened(ridden: Carriage, um_across_block: float, shims: tuple[Shim, ...] = ()) -> float:
    """The channel has opened so far that each block is rolled by so much across its width against the plate."""
    angle_mrad = um_across_block / BLOCK_WIDTH_MM

    def opening(s, derivative):
        return np.full(np.shape(s), angle_mrad if derivative == 0 else 0.0)

    return worst_drag_ratio(ridden, ("opening", "left"), opening, shims)


def bowed_sideways(ridden: Carriage, bow_um: float) -> float:
    """One rail of the pair has a parabolic bow over its whole length."""

    def bow(s, derivative):
        along = np.asarray(s) / LENGTH_MM
        return 4.0 * bow_um * (along * (1.0 - along) if derivative == 0 else (1.0 - 2.0 * along) / LENGTH_MM)

    return worst_drag_ratio(ridden, ("own_lateral", "outer"), bow)


def layers(thickness_um: float, count: int, edges: dict[str, str]) -> tuple[Shim, ...]:
    """Shims between plate and block, at an edge of every block."""
    ridden = carriage()
    spots = [BlockSpot(ridden.name, block.name, edges[block.rail.name]) for block in ridden.blocks]
    return tuple(Shim("now", spot, thickness_um) for spot in spots for _ in range(count))


OUTER_EDGES = {"outer": "left", "inner": "right"}  # flanges that splay let the outer edges down: there is the gap
INNER_EDGES = {"outer": "right", "inner": "left"}


def is_free(ratio: float) -> bool:
    return ratio < LIMITS.tight_drag_ratio


def is_tight(ratio: float) -> bool:
    return LIMITS.tight_drag_ratio <= ratio < LIMITS.binding_drag_ratio


def is_binding(ratio: float) -> bool:
    return ratio >= LIMITS.binding_drag_ratio


def test_80_um_across_the_blocks_lock_the_carriage():
    assert opened(carriage(bolted_at_mm=START_MM), 80.0) > 2.0 * LIMITS.binding_drag_ratio


def test_40_um_still_bind():
    assert is_binding(opened(carriage(bolted_at_mm=START_MM), 40.0))


def test_a_remainder_of_20_um_sticks_a_little():
    assert is_tight(opened(carriage(bolted_at_mm=START_MM), 20.0))


def test_10_um_are_free():
    assert is_free(opened(carriage(bolted_at_mm=START_MM), 10.0))


def test_with_the_bolts_loose_it_moves_freely():
    """Loose screws: a seat that gives a hundred µm for a newton."""
    assert is_free(opened(carriage(LOOSE, START_MM), 80.0))


@pytest.mark.parametrize(("um_across_block", "count"), [(80.0, 2), (40.0, 1)])
def test_one_or_two_layers_of_40_um_cure_an_opened_channel(um_across_block, count):
    ridden = carriage(bolted_at_mm=START_MM)
    assert is_binding(opened(ridden, um_across_block))
    assert is_free(opened(ridden, um_across_block, layers(40.0, count, OUTER_EDGES)))


def test_one_layer_too_few_leaves_the_carriage_binding():
    ridden = carriage(bolted_at_mm=START_MM)
    assert is_binding(opened(ridden, 80.0, layers(40.0, 1, OUTER_EDGES)))


@pytest.mark.parametrize("um_across_block", [80.0, 40.0, 20.0])
def test_shims_at_the_wrong_edges_make_it_worse(um_across_block):
    ridden = carriage(bolted_at_mm=START_MM)
    assert opened(ridden, um_across_block, layers(40.0, 1, INNER_EDGES)) > 1.3 * opened(ridden, um_across_block)


def test_a_sideways_bow_of_a_tenth_is_felt():
    assert not is_free(bowed_sideways(carriage(SIDEWAYS, START_MM), 100.0))


def test_a_sideways_bow_of_three_hundredths_is_acceptable():
    """Only since plate, screws and beam walls give, about 20 N/µm a block."""
    assert is_free(bowed_sideways(carriage(SIDEWAYS, START_MM), 30.0))


def test_rigid_seats_are_the_safe_side():
    """With seats that don't give at all, three hundredths already aren't free: framevis's answer without stiffness."""
    assert not is_free(bowed_sideways(carriage(None, START_MM), 30.0))
