"""Marks that ride a beam: points beside a rail or flange, displaced with it, carried where their beam is carried.

Takes a study and where the carriages stand, gives nominal places and what displaces them, cause by cause.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from framevis.frame import Beam, Floats, Rail
from framevis.pictures.travel import beam_offset
from framevis.pictures.warp import Displacement, StudyLike, added, beam_motion, carry_of, rail_motion


@dataclass(frozen=True, eq=False)
class Riding:
    """Points (N, 3) mm in machine coordinates, as drawn, that stay on a beam; `own`: displacement (N, 3) µm."""

    beam: Beam
    points: Floats
    own: Displacement

    def placed(self, study: StudyLike, positions: Mapping[str, float]) -> tuple[Floats, Displacement]:
        """Where the points stand with the carriages at positions (mm), and their displacement."""
        points = self.points + beam_offset(study.frame, self.beam, positions)
        carry = carry_of(study, self.beam, positions)
        return points, self.own if carry is None else added(self.own, carry.motion(points))


def on_rail(study: StudyLike, rail: Rail, local_mm: Floats) -> Riding:
    """Points (N, 3) mm given as (s, t', n') from a rail's seat line."""
    points = rail.point(0.0) + local_mm @ rail.axes
    return Riding(rail.beam, points, rail_motion(study.deviations, rail, local_mm))


def on_beam(study: StudyLike, beam: Beam, local_mm: Floats) -> Riding:
    """Points (N, 3) mm given as (s, t, n) in a beam's axes."""
    return Riding(beam, beam.start_mm + local_mm @ beam.axes, beam_motion(study.deviations, beam, np.asarray(local_mm)))
