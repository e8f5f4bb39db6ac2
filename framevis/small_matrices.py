"""Symmetric 5 × 5 matrices of many states at once: upper triangles (15, ...) over trailing axes of states.

Written out because a general solver pays more for each call than for the arithmetic of a 5 × 5 matrix.
"""

from __future__ import annotations

import numpy as np

from framevis.frame import Floats

UPPER = tuple((i, j) for i in range(5) for j in range(i, 5))
ROWS = tuple(
    slice(UPPER.index((i, i)), UPPER.index((i, 4)) + 1) for i in range(5)
)  # places of row i, from its diagonal
DIAGONAL = [position for position, (i, j) in enumerate(UPPER) if i == j]
COLUMN = [[UPPER.index((min(i, k), max(i, k))) for i in range(5)] for k in range(5)]  # places of column k


def times(upper: Floats, vector: Floats) -> Floats:
    """Symmetric matrices (..., 15, N), upper triangles, times vectors (..., 5, N)."""
    product = np.zeros_like(vector)
    for i, row in enumerate(ROWS):
        entries = upper[..., row, :]
        product[..., i, :] += (entries * vector[..., i:, :]).sum(axis=-2)
        product[..., i + 1 :, :] += entries[..., 1:, :] * vector[..., i : i + 1, :]
    return product


def factor(upper: Floats) -> list[list[Floats]]:
    """Cholesky's L (rows of arrays) of symmetric positive definite matrices (15, ...), over the trailing axes."""
    rows: list[list[Floats]] = []
    place = {pair: position for position, pair in enumerate(UPPER)}
    for i in range(5):
        row: list[Floats] = []
        for j in range(i + 1):
            value = upper[place[j, i]]
            known = row if i == j else rows[j]
            for k in range(j):
                value = value - row[k] * known[k]
            row.append(np.sqrt(value) if i == j else value / rows[j][j])
        rows.append(row)
    return rows


def substitute(rows: list[list[Floats]], right: Floats) -> Floats:
    """Solve L Lᵀ y = right (5, ...), over the trailing axes."""
    y = [right[i] for i in range(5)]
    for i in range(5):
        for k in range(i):
            y[i] = y[i] - rows[i][k] * y[k]
        y[i] = y[i] / rows[i][i]
    for i in reversed(range(5)):
        for k in range(i + 1, 5):
            y[i] = y[i] - rows[k][i] * y[k]
        y[i] = y[i] / rows[i][i]
    return np.stack(y)


def solve_spd(upper: Floats, right: Floats) -> Floats:
    """Solve N symmetric positive definite systems of 5: matrices (15, N), right sides (5, N)."""
    return substitute(factor(upper), right)


def through_seat(tangent: Floats, compliance: Floats) -> Floats:
    """(T⁻¹ + C)⁻¹ of T (..., 15, N) for a diagonal compliance C (5,): T seen through springs in series.

    One rank-one change (Sherman and Morrison) for each direction that gives; right for T = 0 too.
    """
    seen = tangent.copy()
    for k in np.flatnonzero(compliance):
        column = seen[..., COLUMN[k], :]
        shared = column * (compliance[k] / (1.0 + compliance[k] * column[..., k : k + 1, :]))
        for i, row in enumerate(ROWS):
            seen[..., row, :] -= shared[..., i : i + 1, :] * column[..., i:, :]
    return seen


def full(upper: Floats) -> Floats:
    """Whole matrices (N, 5, 5) of upper triangles (15, N)."""
    return np.asarray(upper[np.array(COLUMN)].transpose(2, 0, 1))
