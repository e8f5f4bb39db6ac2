"""A block's stiffness: against differences of its own ball forces, and symmetric, as Maxwell and Betti ask."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_machines import GUIDES, LAYOUTS
from slow_reference import SlowBlock, axes_of, balls_of

from framevis.contact import BallLines
from framevis.frame import Floats, Guide

STEP_UM = 1e-4


def forces(block: SlowBlock, five: Floats) -> Floats:
    """What the block does to its rail, displaced by lateral, height (µm), roll, pitch, yaw (mrad)."""
    return -block.in_own_axes(*block.force_and_moment(five))


def differences(guide: Guide) -> Floats:
    rail = LAYOUTS["antiparallel"](guide)[0]
    axes = axes_of(rail)
    block = SlowBlock(np.zeros(3), axes, balls_of(guide, axes), guide)
    steps = STEP_UM / np.array([1.0, 1.0, 20.0, 20.0, 20.0])
    moved = [(forces(block, d) - forces(block, -d)) / (2.0 * d.sum()) for d in np.diag(steps)]
    return np.column_stack(moved)


@given(arrangement=st.sampled_from(sorted(GUIDES)), preload_um=st.floats(0.5, 10.0), angle_deg=st.floats(30.0, 60.0))
@settings(derandomize=True, max_examples=30, deadline=None)
def test_tangent_is_the_derivative_of_the_forces(arrangement, preload_um, angle_deg):
    guide = replace(GUIDES[arrangement], preload_interference_um=preload_um, contact_angle_deg=angle_deg)
    tangent, found = BallLines(guide).tangent(preload_um), differences(guide)
    scale = np.sqrt(np.outer(np.diag(found), np.diag(found)))
    np.testing.assert_allclose(tangent / scale, found / scale, atol=1e-6)
    np.testing.assert_allclose(found / scale, found.T / scale, atol=1e-6)  # reciprocity of the forces themselves
    np.testing.assert_allclose(tangent / scale, tangent.T / scale, atol=1e-14)


def test_o_is_stiff_in_roll_and_x_soft():
    """The point of the two arrangements (Harris, Rolling Bearing Analysis, duplex bearings; from memory)."""
    same = {name: replace(GUIDES["O"], arrangement=name) for name in ("O", "X")}
    stiff, soft = (BallLines(same[name]).tangent(1.5) for name in ("O", "X"))
    assert stiff[2, 2] > 2.0 * soft[2, 2]
    assert np.diag(stiff)[[0, 1]] == pytest.approx(np.diag(soft)[[0, 1]])
