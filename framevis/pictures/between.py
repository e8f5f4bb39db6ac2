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
KEPT_VERTICES = 3.0e6  # in all scenes that are kept, some 150 bytes each
POSES = 2000


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


class Remembering:
    """A study that works out each pose once."""

    def __init__(self, study: StudyLike) -> None:
        self.study = study
        self.frame: Frame = study.frame
        self.stage: str = study.stage
        self.deviations: Deviations = study.deviations
        self.carriages: tuple[CarriageAssessment, ...] = study.carriages
        self._poses: OrderedDict[tuple[str, float], PlatePose] = OrderedDict()

    def pose(self, carriage_name: str, position_mm: float) -> PlatePose:
        key = carriage_name, position_mm
        if key not in self._poses:
            self._poses[key] = self.study.pose(carriage_name, position_mm)
            if len(self._poses) > POSES:
                self._poses.popitem(last=False)
        return self._poses[key]


class SampledStudy(Remembering):
    """A study whose poses are worked out every `STEP_MM` of a travel, and go linearly in between."""

    def pose(self, carriage_name: str, position_mm: float) -> PlatePose:
        first, last = self.frame.carriage(carriage_name).travel_mm
        low_mm, high_mm = neighbours(first, last, position_mm)
        low, high = (self.study.pose(carriage_name, at) for at in (low_mm, high_mm))
        share = 0.0 if high_mm <= low_mm else (position_mm - low_mm) / (high_mm - low_mm)
        shift = {c: low.shift_um[c] + share * (high.shift_um[c] - low.shift_um[c]) for c in CAUSES}
        turn = {c: low.turn_mrad[c] + share * (high.turn_mrad[c] - low.turn_mrad[c]) for c in CAUSES}
        point = low.point_mm + share * (high.point_mm - low.point_mm)
        return PlatePose(low.carriage, position_mm, point, shift, turn)


def neighbours(first_mm: float, last_mm: float, at_mm: float) -> tuple[float, float]:
    """The two places worked out between which a place of a travel lies."""
    index = floor((min(max(at_mm, first_mm), last_mm) - first_mm) / STEP_MM)
    return min(first_mm + index * STEP_MM, last_mm), min(first_mm + (index + 1) * STEP_MM, last_mm)


class Track:
    """Scenes at places along a group's travel, made when first needed and kept as long as the others stand still."""

    def __init__(self, study: StudyLike, sums: Sums) -> None:
        self.study = Remembering(study)
        self.quick = SampledStudy(self.study)
        self.sums = sums
        self._kept: OrderedDict[tuple[str, float, tuple[tuple[str, float], ...]], Scene] = OrderedDict()

    def near(self, scene: Scene, group: Group, leader_mm: float) -> Scene:
        """The scene with a group elsewhere, linear between the two nearest places that were worked out."""
        ends = neighbours(*group.range_mm, leader_mm)
        low, high = (self._sample(scene, group, end) for end in ends)
        share = 0.0 if ends[1] <= ends[0] else (leader_mm - ends[0]) / (ends[1] - ends[0])
        parts = tuple(between(a, b, share, self.sums) for a, b in zip(low.parts, high.parts, strict=True))
        places = {**scene.positions, **group.positions(leader_mm)}
        return Scene(scene.frame, scene.stage, places, parts, low.memory)

    def warm(self, scene: Scene, groups: Iterable[Group]) -> bool:
        """Work out one more place ahead of time; whether there was one left."""
        for group in groups:
            first, last = group.range_mm
            for i in range(floor((last - first) / STEP_MM) + 2):
                at = min(first + i * STEP_MM, last)
                if self._key(scene, group, at) not in self._kept:
                    if len(self._kept) >= _room(scene):
                        return False
                    self._sample(scene, group, at)
                    return True
        return False

    def exact(self, scene: Scene) -> Scene:
        """The scene where it stands, with every part that a carriage moves worked out anew."""
        nowhere = dict.fromkeys(scene.positions, nan)
        return moved(replace(scene, positions=nowhere), self.study, scene.positions)

    def _sample(self, scene: Scene, group: Group, leader_mm: float) -> Scene:
        """The scene with a group at a place; others where they stand."""
        key = self._key(scene, group, leader_mm)
        if key not in self._kept:
            self._kept[key] = moved(scene, self.study, {**scene.positions, **group.positions(leader_mm)})
            if len(self._kept) > _room(scene):
                self._kept.popitem(last=False)
        self._kept.move_to_end(key)
        return self._kept[key]

    def _key(self, scene: Scene, group: Group, leader_mm: float) -> tuple[str, float, tuple[tuple[str, float], ...]]:
        own = {member.carriage.name for member in group.members}
        return group.name, leader_mm, tuple(item for item in scene.positions.items() if item[0] not in own)


def _room(scene: Scene) -> int:
    """How many scenes are kept: fewer of large ones."""
    vertices = sum(len(part.vertices) for part in scene.parts)
    return int(np.clip(KEPT_VERTICES / max(vertices, 1), 40, 400))
