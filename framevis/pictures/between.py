"""Cheap positions in between, while a carriage is being dragged or travels by itself.

Takes a study and its scene, works both out at places every few millimetres the first time they are needed, and goes
linearly between two of them. Once still, `Track.exact` gives the scene as it truly is.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import floor, nan
from weakref import WeakKeyDictionary

import numpy as np

from framevis.deviations import CAUSES, Cause, Deviations
from framevis.frame import Floats, Frame
from framevis.pictures.scene import Part, Scene, StudyLike, moved
from framevis.pictures.travel import Group
from framevis.pose import PlatePose
from framevis.verdicts import CarriageAssessment

STEP_MM = 20.0  # between two of them a knot of 50 mm is still followed to a fraction of a micrometre
KEPT = 160  # scenes


class Sums:
    """Σ displacement (N, 3) µm of a part, remembered for the causes last asked for."""

    def __init__(self) -> None:
        self._kept: WeakKeyDictionary[Part, tuple[tuple[Cause, ...], Floats]] = WeakKeyDictionary()

    def of(self, part: Part, causes: tuple[Cause, ...]) -> Floats:
        kept = self._kept.get(part)
        if kept is None or kept[0] != causes:
            kept = self._kept[part] = causes, part.displaced_um(causes)
        return kept[1]


@dataclass(frozen=True, eq=False, kw_only=True)
class Between(Part):
    """A part on its way from how it is at one place to how it is at the next."""

    low: Part
    high: Part
    share: float
    sums: Sums

    def displaced_um(self, causes: Iterable[Cause] = CAUSES) -> Floats:
        wanted = tuple(causes)
        return _lerp(self.sums.of(self.low, wanted), self.sums.of(self.high, wanted), self.share)


def _lerp(low: Floats, high: Floats, share: float) -> Floats:
    out = np.subtract(high, low)
    out *= share
    out += low
    return out


def between(low: Part, high: Part, share: float, sums: Sums) -> Part:
    """The part at a share of the way; the same part where both are one."""
    if low is high or share == 0.0:
        return low
    return Between(
        low.name,
        low.role,
        low.owner,
        _lerp(low.vertices, high.vertices, share),
        low.faces,
        low.edges,
        {},
        low.moved_by,
        low.verdict,
        low.anchor,
        low=low,
        high=high,
        share=share,
        sums=sums,
    )


class SampledStudy:
    """A study whose poses are worked out at every `STEP_MM` of the travel, and linear in between."""

    def __init__(self, study: StudyLike) -> None:
        self.study = study
        self.frame: Frame = study.frame
        self.stage: str = study.stage
        self.deviations: Deviations = study.deviations
        self.carriages: tuple[CarriageAssessment, ...] = study.carriages
        self._poses: dict[tuple[str, int], PlatePose] = {}

    def pose(self, carriage_name: str, position_mm: float) -> PlatePose:
        index = floor(position_mm / STEP_MM)
        share = position_mm / STEP_MM - index
        low, high = self._at(carriage_name, index), self._at(carriage_name, index + 1)
        shift = {c: low.shift_um[c] + share * (high.shift_um[c] - low.shift_um[c]) for c in CAUSES}
        turn = {c: low.turn_mrad[c] + share * (high.turn_mrad[c] - low.turn_mrad[c]) for c in CAUSES}
        point = low.point_mm + share * (high.point_mm - low.point_mm)
        return PlatePose(low.carriage, position_mm, point, shift, turn)

    def _at(self, name: str, index: int) -> PlatePose:
        key = name, index
        if key not in self._poses:
            low, high = self.frame.carriage(name).travel_mm
            inside = float(np.clip(index * STEP_MM, low, high))
            pose = self.study.pose(name, inside)
            ahead = pose.carriage.beam.axes[0] * (index * STEP_MM - inside)
            self._poses[key] = replace(pose, position_mm=index * STEP_MM, point_mm=pose.point_mm + ahead)
        return self._poses[key]


class Track:
    """Scenes at places along a group's travel, made when first needed and kept as long as the others stand still."""

    def __init__(self, study: StudyLike, sums: Sums) -> None:
        self.study = study
        self.quick = SampledStudy(study)
        self.sums = sums
        self._kept: OrderedDict[tuple[str, float, tuple[tuple[str, float], ...]], Scene] = OrderedDict()

    def near(self, scene: Scene, group: Group, leader_mm: float) -> Scene:
        """The scene with a group elsewhere, linear between the two nearest places that were worked out."""
        low_mm, high_mm = group.range_mm
        step = STEP_MM * max(1.0, round((high_mm - low_mm) / STEP_MM) / KEPT * 2.0)
        index = floor((leader_mm - low_mm) / step)
        ends = [min(low_mm + (index + i) * step, high_mm) for i in (0, 1)]
        low, high = (self._sample(scene, group, end) for end in ends)
        share = 0.0 if ends[1] <= ends[0] else (leader_mm - ends[0]) / (ends[1] - ends[0])
        parts = tuple(between(a, b, share, self.sums) for a, b in zip(low.parts, high.parts, strict=True))
        places = {**scene.positions, **group.positions(leader_mm)}
        return Scene(scene.frame, scene.stage, places, parts, low.memory)

    def exact(self, scene: Scene) -> Scene:
        """The scene where it stands, with every part that a carriage moves worked out anew."""
        nowhere = dict.fromkeys(scene.positions, nan)
        return moved(replace(scene, positions=nowhere), self.study, scene.positions)

    def _sample(self, scene: Scene, group: Group, leader_mm: float) -> Scene:
        """The scene with a group at a place; others where they stand."""
        here = group.positions(leader_mm)
        others = tuple((name, at) for name, at in scene.positions.items() if name not in here)
        key = group.name, leader_mm, others
        if key not in self._kept:
            self._kept[key] = moved(scene, self.study, {**scene.positions, **here})
            if len(self._kept) > KEPT:
                self._kept.popitem(last=False)
        self._kept.move_to_end(key)
        return self._kept[key]
