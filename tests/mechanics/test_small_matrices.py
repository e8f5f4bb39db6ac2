"""The batched 5 × 5 algebra against numpy's own."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from framevis.frame import Floats
from framevis.small_matrices import UPPER, solve_spd, through_seat, times

FEW = settings(derandomize=True, max_examples=25, deadline=None)
SEED = st.integers(0, 2**32 - 1)
COUNT = st.integers(1, 7)
BLOCKS = 3


def spd(random: np.random.Generator, *count: int) -> Floats:
    """Random symmetric positive definite matrices (*count, 5, 5)."""
    root = random.normal(size=(*count, 5, 5))
    return root @ np.swapaxes(root, -1, -2) + 0.1 * np.eye(5)


def upper(matrices: Floats) -> Floats:
    """Upper triangles (..., 15, N) of matrices (..., N, 5, 5)."""
    return np.stack([matrices[..., i, j] for i, j in UPPER], axis=-2)


def full(triangles: Floats) -> Floats:
    matrices = np.empty((*triangles.shape[:-2], triangles.shape[-1], 5, 5))
    for position, (i, j) in enumerate(UPPER):
        matrices[..., i, j] = matrices[..., j, i] = triangles[..., position, :]
    return matrices


@given(seed=SEED, count=COUNT)
@FEW
def test_products(seed, count):
    random = np.random.default_rng(seed)
    matrices, vectors = spd(random, BLOCKS, count), random.normal(size=(BLOCKS, 5, count))
    expected = np.einsum("bnij,bjn->bin", matrices, vectors)
    np.testing.assert_allclose(times(upper(matrices), vectors), expected, rtol=1e-12, atol=1e-12)


@given(seed=SEED, count=COUNT)
@FEW
def test_solutions(seed, count):
    random = np.random.default_rng(seed)
    matrices, right = spd(random, count), random.normal(size=(5, count))
    expected = np.linalg.solve(matrices, right.T[..., None])[..., 0].T
    np.testing.assert_allclose(solve_spd(upper(matrices), right), expected, rtol=1e-9, atol=1e-9)


@given(seed=SEED, count=COUNT)
@FEW
def test_stiffness_through_a_seat(seed, count):
    """(T⁻¹ + C)⁻¹ with inverses written out."""
    random = np.random.default_rng(seed)
    tangent, compliance = spd(random, BLOCKS, count), random.uniform(0.01, 5.0, 5)
    expected = np.linalg.inv(np.linalg.inv(tangent) + np.diag(compliance))
    found = full(through_seat(upper(tangent), compliance))
    np.testing.assert_allclose(found, expected, rtol=1e-8, atol=1e-10)


@given(seed=SEED, count=COUNT, rigid=st.sets(st.integers(0, 4)))
@FEW
def test_rigid_directions_pass_the_tangent_through(seed, count, rigid):
    """(T⁻¹ + C)⁻¹ where C is singular; all rigid: T itself."""
    random = np.random.default_rng(seed)
    tangent, compliance = spd(random, BLOCKS, count), random.uniform(0.01, 5.0, 5)
    compliance[list(rigid)] = 0.0
    found = full(through_seat(upper(tangent), compliance))
    np.testing.assert_allclose(
        found, np.linalg.inv(np.linalg.inv(tangent) + np.diag(compliance)), rtol=1e-8, atol=1e-10
    )
    if len(rigid) == 5:
        np.testing.assert_allclose(found, tangent, rtol=1e-12)


def test_a_block_that_touches_nothing_has_no_stiffness():
    found = through_seat(np.zeros((BLOCKS, 15, 4)), np.array([0.1, 0.0, 2.0, 0.3, 1.0]))
    np.testing.assert_array_equal(found, np.zeros((BLOCKS, 15, 4)))
