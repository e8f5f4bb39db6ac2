"""What must always hold of the equilibrium, whatever the rails do."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_machines import GUIDES, LAYOUTS, UP, carriage

from framevis.carriage import Mechanism
from framevis.equilibrium import CHUNK, Equilibrium, solve
from framevis.frame import BlockSpot, Floats, SeatStiffness, Shim
from framevis.risk import effects

FEW = settings(derandomize=True, max_examples=20, deadline=None)
LAYOUT, ARRANGEMENT = st.sampled_from(sorted(LAYOUTS)), st.sampled_from(sorted(GUIDES))
SEED = st.integers(0, 2**32 - 1)
SEAT = SeatStiffness(15.0, 40.0, 1.0, 2.0, 2.0)
SCALE = np.array([8.0, 8.0, 0.3, 0.3, 0.3])[:, None]


def machine(layout: str, arrangement: str, preload_um: float = 1.5, **more) -> Mechanism:
    guide = replace(GUIDES[arrangement], preload_interference_um=preload_um)
    return Mechanism(carriage(LAYOUTS[layout](guide), **more), UP)


def moves(mechanism: Mechanism, seed: int, states: int = 6) -> Floats:
    """Deviations (blocks, 5, states) of the blocks' rails: µm and mrad."""
    return np.random.default_rng(seed).normal(size=(len(mechanism.carriage.blocks), 5, states)) * SCALE


def loads_agree(one: Equilibrium, other: Equilibrium, rtol: float) -> None:
    np.testing.assert_allclose(one.load_sum_n, other.load_sum_n, rtol=rtol)
    np.testing.assert_allclose(one.peak_n, other.peak_n, rtol=rtol)


@given(layout=LAYOUT, arrangement=ARRANGEMENT, seed=SEED, soft=st.booleans())
@FEW
def test_order_of_a_batch_is_no_matter(layout, arrangement, seed, soft):
    mechanism = machine(layout, arrangement, mass_kg=5.0, seat_stiffness=SEAT if soft else None)
    wanted = moves(mechanism, seed)
    order = np.random.default_rng(seed).permutation(wanted.shape[2])
    whole, mixed = solve(mechanism, wanted), solve(mechanism, wanted[:, :, order])
    np.testing.assert_allclose(mixed.load_sum_n, whole.load_sum_n[:, order], rtol=1e-9)
    np.testing.assert_allclose(mixed.peak_n, whole.peak_n[:, order], rtol=1e-9)
    for at in range(wanted.shape[2]):
        alone = solve(mechanism, wanted[:, :, [at]])
        np.testing.assert_allclose(alone.load_sum_n[:, 0], whole.load_sum_n[:, at], rtol=1e-9)


def test_more_states_than_one_chunk_holds():
    mechanism = machine("one beam", "gothic", mass_kg=5.0)
    few = moves(mechanism, 1, 50)
    many = solve(mechanism, np.tile(few, (1, 1, 2 * CHUNK // 50 + 1)))
    found = solve(mechanism, few)
    assert many.load_sum_n.shape[1] > 2 * CHUNK
    np.testing.assert_allclose(many.load_sum_n, np.tile(found.load_sum_n, (1, 2 * CHUNK // 50 + 1)), rtol=1e-9)


@given(layout=LAYOUT, arrangement=ARRANGEMENT, preload_um=st.floats(0.2, 6.0), soft=st.booleans())
@FEW
def test_without_weight_and_deviations_every_ball_has_its_preload(layout, arrangement, preload_um, soft):
    mechanism = machine(layout, arrangement, preload_um, seat_stiffness=SEAT if soft else None)
    found = solve(mechanism, np.zeros((len(mechanism.carriage.blocks), 5, 2)))
    for i, line in enumerate(mechanism.lines):
        one_ball = line.stiffness * preload_um**1.5
        assert found.peak_n[i] == pytest.approx([one_ball] * 2, rel=1e-9)
        assert found.load_sum_n[i] == pytest.approx([4 * line.guide.balls_per_row * one_ball] * 2, rel=1e-9)
    assert effects(mechanism, found).ratio == pytest.approx(np.ones_like(found.load_sum_n), rel=1e-9)
    assert np.abs(found.displacement).max() < 1e-6


@given(
    layout=LAYOUT,
    arrangement=ARRANGEMENT,
    seed=SEED,
    pose=st.tuples(*[st.floats(-500.0, 500.0)] * 2, *[st.floats(-2.0, 2.0)] * 3),
    soft=st.booleans(),
)
@FEW
def test_a_rigid_motion_of_all_rails_is_not_felt(layout, arrangement, seed, pose, soft):
    """Shifts µm and turns mrad of the whole frame about the middle of the blocks, as small motions."""
    mechanism = machine(layout, arrangement, mass_kg=5.0, seat_stiffness=SEAT if soft else None)
    wanted = moves(mechanism, seed)
    s, t, n = mechanism.axes
    shift, turn = pose[0] * t + pose[1] * n, pose[2] * s + pose[3] * t + pose[4] * n
    middles = []
    for block in mechanism.carriage.blocks:
        rail, station = block.rail, mechanism.carriage.station(block, 0.0)
        middles.append(rail.point(station, rail.guide.ball_height_mm))
    moved = wanted.copy()
    for i, (block, middle) in enumerate(zip(mechanism.carriage.blocks, middles, strict=True)):
        rail_s, rail_t, rail_n = block.rail.axes
        at = shift + np.cross(turn, middle - np.mean(middles, axis=0))
        moved[i] += np.array([at @ rail_t, at @ rail_n, turn @ rail_s, turn @ rail_t, turn @ rail_n])[:, None]
    loads_agree(solve(mechanism, moved), solve(mechanism, wanted), 1e-9)


@given(layout=LAYOUT, arrangement=ARRANGEMENT, seed=SEED)
@FEW
def test_stiff_seats_tend_to_rigid_ones(layout, arrangement, seed):
    """The difference falls with the compliance: a hundred times stiffer, some hundred times nearer."""
    rigid = machine(layout, arrangement, mass_kg=5.0)
    wanted = moves(rigid, seed, 3)
    expected = solve(rigid, wanted).load_sum_n
    errors = []
    for stiff in (1e4, 1e6):
        seat = SeatStiffness(stiff, stiff, stiff, stiff, stiff)
        found = solve(machine(layout, arrangement, mass_kg=5.0, seat_stiffness=seat), wanted).load_sum_n
        errors.append(np.abs(found / expected - 1.0).max())
    assert errors[1] < 1e-3
    assert errors[1] < errors[0] / 50.0
    assert errors[0] > 0.0


@given(layout=LAYOUT, arrangement=ARRANGEMENT, seed=SEED)
@FEW
def test_rigid_seats_can_be_asked_for(layout, arrangement, seed):
    soft = machine(layout, arrangement, mass_kg=5.0, seat_stiffness=SEAT)
    rigid = machine(layout, arrangement, mass_kg=5.0)
    wanted = moves(soft, seed)
    loads_agree(solve(soft, wanted, rigid_seats=True), solve(rigid, wanted), 1e-9)
    assert np.abs(solve(soft, wanted).load_sum_n / solve(rigid, wanted).load_sum_n - 1.0).max() > 1e-3


@given(arrangement=ARRANGEMENT, seed=SEED, thickness_um=st.floats(5.0, 40.0))
@FEW
def test_a_full_shim_under_every_block_is_a_motion_of_the_plate_alone(arrangement, seed, thickness_um):
    """On one beam: all blocks go down alike, so the loads stay and the plate rises by the shim."""
    mechanism = machine("one beam", arrangement, mass_kg=5.0)
    shims = tuple(Shim("now", BlockSpot("c", block.name, "full"), thickness_um) for block in mechanism.carriage.blocks)
    wanted = moves(mechanism, seed)
    bare, shimmed = solve(mechanism, wanted), solve(replace(mechanism, shims=shims), wanted)
    loads_agree(shimmed, bare, 1e-9)
    np.testing.assert_allclose(shimmed.plate[1] - bare.plate[1], thickness_um, atol=1e-6)


@given(arrangement=ARRANGEMENT, seed=SEED)
@FEW
def test_blocks_in_another_order_carry_the_same(arrangement, seed):
    """The first block gives the plate its axes: no load may depend on which one that is."""
    ridden = carriage(LAYOUTS["faces"](GUIDES[arrangement]), mass_kg=5.0, seat_stiffness=SEAT)
    turned = replace(ridden, blocks=ridden.blocks[::-1])
    wanted = moves(Mechanism(ridden, UP), seed)
    one, other = solve(Mechanism(ridden, UP), wanted), solve(Mechanism(turned, UP), wanted[::-1])
    np.testing.assert_allclose(other.load_sum_n[::-1], one.load_sum_n, rtol=1e-9)
    np.testing.assert_allclose(other.peak_n[::-1], one.peak_n, rtol=1e-9)
