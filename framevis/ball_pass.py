"""One pass over all balls of a carriage at many states: how its blocks press back, and how stiffly.

Takes displacements of the blocks, gives the sums over the balls of each contact line, wrenches and tangents. Along a
line the approach is linear in a ball's place s, δ = m + s e. With R = K √δ₊ a ball's load is Q = R δ and its stiffness
dQ/dδ = 3/2 R, so three sums of a line say all: ΣQ = m ΣR + e ΣsR, ΣsQ = m ΣsR + e Σs²R, and 3/2 (ΣR, ΣsR, Σs²R).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from framevis.contact import BallLines
from framevis.frame import Floats
from framevis.small_matrices import UPPER


@dataclass(frozen=True, eq=False)
class BlockPass:
    """The constant matrices of one block's four lines, arranged for products over many states (N)."""

    lines: BallLines

    @cached_property
    def seen(self) -> Floats:
        """(8, 5): approach in the middle of every line, then its change along each, per displacement."""
        return np.concatenate([self.lines.fixed, self.lines.along])

    @cached_property
    def places_mm(self) -> Floats:
        return self.lines.places_mm[:, None, None]

    @cached_property
    def weights(self) -> Floats:
        """(3, balls): K, K s, K s²."""
        return self.lines.stiffness * self.lines.places_mm ** np.arange(3)[:, None]

    @cached_property
    def tangent_of_sums(self) -> Floats:
        """(15, 12): the block's tangent, upper triangle, from ΣR, ΣsR, Σs²R of its four lines."""
        a, b = self.lines.fixed[:, :, None], self.lines.along[:, :, None]
        aside, across = a * b.swapaxes(1, 2), b * a.swapaxes(1, 2)
        outer = np.concatenate([a * a.swapaxes(1, 2), aside + across, b * b.swapaxes(1, 2)])
        return 1.5 * np.stack([outer[:, i, j] for i, j in UPPER])

    def approach(self, block: Floats) -> Floats:
        """m and e of the four lines (8, N), µm and mrad, for displacements (5, N)."""
        found = self.seen @ block
        found[:4] += self.lines.guide.preload_interference_um
        return np.asarray(found)

    def sums(self, block: Floats) -> tuple[Floats, Floats]:
        """ΣQ, ΣsQ of the four lines (2, 4, N) and ΣR, ΣsR, Σs²R (3, 4, N) for displacements (5, N)."""
        middle, slope = self.approach(block).reshape(2, 4, -1)
        root = self.places_mm * slope
        root += middle
        np.maximum(root, 0.0, out=root)
        np.sqrt(root, out=root)
        stiff = (self.weights @ root.reshape(len(root), -1)).reshape(3, *middle.shape)
        load = middle * stiff[:2]
        load += slope * stiff[1:]
        return load, stiff

    def pressed(self, load: Floats) -> Floats:
        """The wrench (5, N) of loads ΣQ, ΣsQ (2, 4, N) on the rail."""
        return np.asarray(self.seen.T @ load.reshape(8, -1))

    def peak_n(self, block: Floats) -> Floats:
        """Highest ball load (N,): the approach is linear along a line, so one of its ends has it."""
        middle, slope = self.approach(block).reshape(2, 4, -1)
        most = (middle + np.abs(slope) * self.lines.places_mm[-1]).max(axis=0)
        return np.asarray(self.lines.stiffness * np.maximum(most, 0.0) ** 1.5)
