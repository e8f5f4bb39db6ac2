"""What a window shows, and the ways to change it; no controls, no keys.

Takes a study, holds the scene, its drawing and where it is looked at from. While `moving`, positions are linear in
between places that were worked out; `settle_scene` makes them exact again.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np

from framevis.deviations import CAUSES, Cause
from framevis.frame import Beam, Floats
from framevis.pictures.between import Remembering, SampledStudy, Sums, Track
from framevis.pictures.camera import Insets, aim
from framevis.pictures.draw import LEAST, MOST, default_magnification
from framevis.pictures.lens import View, axes_for, points_for, set_perspective
from framevis.pictures.live import LiveDrawing, ready
from framevis.pictures.scene import StudyLike, build_scene, resolve_positions, worst_positions
from framevis.pictures.section import Section, section_at
from framevis.pictures.travel import Group, travel_groups

NOTHING: Mapping[str, float] = {}


class Sight:
    """Raises `BadInput` where a position is wrong. `causes` None: all of them."""

    def __init__(
        self,
        study: StudyLike,
        *,
        magnification: float | None = None,
        positions: Mapping[str, float] = NOTHING,
        causes: Iterable[Cause] | None = None,
        ghost: bool = True,
    ) -> None:
        self.study = study
        self.sums = Sums()
        self.track = Track(study, self.sums)
        self.scene = build_scene(self.track.study, resolve_positions(study.frame, positions, worst_positions(study)))
        self.magnification = default_magnification(self.scene) if magnification is None else magnification
        self.causes: tuple[Cause, ...] = CAUSES if causes is None else tuple(causes)
        self.ghost = ghost
        self.groups = travel_groups(study.frame)
        self.moving, self.inexact = False, False
        self.perspective = False
        self.view: View = "home"
        self.beam: Beam = study.frame.beams[0]
        self.station_mm = self._worst_station(self.beam)
        self._drawing: LiveDrawing | None = None
        self._section: tuple[object, Section] | None = None

    @property
    def drawing(self) -> LiveDrawing:
        assert self._drawing is not None, "build the window first"
        return self._drawing

    def draw(self, plotter: Any) -> None:
        """Draw the scene into a plotter."""
        self._plotter = plotter
        ready(plotter)
        self._drawing = LiveDrawing(
            plotter, self.scene, self.study, self.sums, self.magnification, self.causes, self.ghost
        )

    def set_magnification(self, magnification: float) -> None:
        self.magnification = float(np.clip(magnification, LEAST, MOST))
        self.drawing.show(magnification=self.magnification)

    def set_position(self, group: Group, leader_mm: float) -> None:
        """Move a carriage, with those that carry the same beam: quickly while something moves, else exactly."""
        leader_mm = float(np.clip(leader_mm, *group.range_mm))
        if leader_mm == self.scene.positions[group.leader.name] and not self.inexact:
            return
        near = self.track.near(self.scene, group, leader_mm)
        self.inexact = True
        self.scene = near if self.moving else self.track.exact(near)
        self.inexact = self.moving
        self.drawing.show(self.scene)

    def settle_scene(self) -> None:
        """Everything where it truly is."""
        if self.inexact:
            self.scene, self.inexact = self.track.exact(self.scene), False
            self.drawing.show(self.scene)

    def set_cause(self, cause: Cause, on: bool) -> None:
        self.set_causes(tuple(c for c in CAUSES if (on if c == cause else c in self.causes)))

    def set_causes(self, causes: tuple[Cause, ...]) -> None:
        self.causes = causes
        self.drawing.show(causes=self.causes)

    def set_ghost(self, on: bool) -> None:
        self.ghost = bool(on)
        self.drawing.show(ghost=self.ghost)

    def haunt(self, study: StudyLike) -> None:
        """Let another stage's warped frame be the ghost; its poses go linearly between places 20 mm apart."""
        quick = SampledStudy(Remembering(study))
        self.drawing.haunt(build_scene(quick, self.scene.positions))

    def set_labels(self, on: bool) -> None:
        self.drawing.labels = bool(on)

    def set_readings(self, on: bool) -> None:
        self.drawing.readings = bool(on)

    def set_risk(self, on: bool) -> None:
        self.drawing.set_risk(bool(on))

    def next_sweep(self) -> None:
        """Arrows of the next sweep alone; after the last, of all."""
        names = list(dict.fromkeys(arrows.sweep for arrows in self.drawing.arrows))
        after = dict(zip([None, *names], [*names, None], strict=True))
        self.drawing.only = after.get(self.drawing.only)
        self.drawing.readings = True

    def set_study(self, study: StudyLike) -> None:
        """Show another stage of the same frame, carriages where they stand."""
        self.study, self.sums = study, Sums()
        self.track = Track(study, self.sums)
        self.scene, self.inexact = build_scene(self.track.study, self.scene.positions), False
        self.drawing.sums, self.drawing.scene = self.sums, self.scene
        self.drawing.set_study(study)
        self.drawing.show(self.scene)
        self.drawing.recolour()

    def set_perspective(self, on: bool) -> None:
        self.perspective = bool(on)
        set_perspective(self._plotter.camera, self.perspective)
        self._plotter.renderer.ResetCameraClippingRange()
        self.drawing.settle()

    def look(self, view: View, insets: Insets) -> None:
        """Turn the camera to a view; the worst block is shown where it suffers most."""
        self.view = view
        if view == "worst":
            self.place(worst_positions(self.study))
        self.fit(axes_for(view, self.scene, self.beam), insets)

    def place(self, positions: Mapping[str, float]) -> None:
        """Put carriages at positions (mm), exactly."""
        for group in self.groups:
            if group.leader.name in positions:
                self.set_position(group, positions[group.leader.name])

    def fit(self, axes: Floats, insets: Insets) -> None:
        """Fit what the view holds into the free part of the window, seen along axes (3, 3)."""
        drawing, camera = self.drawing, self._plotter.camera
        points = points_for(self.view, self.scene, [(part, drawing.points(part)) for part in self.scene.parts])
        if self.ghost and self.view != "worst":
            points = np.concatenate([points, *(part.vertices for part in self.scene.parts)])
        drawing.insets = insets
        width, height = self._plotter.window_size
        aim(camera, axes, points, (int(width), int(height)), insets)
        set_perspective(camera, self.perspective)
        self._plotter.renderer.ResetCameraClippingRange()
        drawing.settle()

    @property
    def camera_axes(self) -> Floats:
        """Rows right, up, toward the eye (3, 3) of the camera as it stands."""
        camera = self._plotter.camera
        eye = np.array(camera.GetPosition()) - np.array(camera.GetFocalPoint())
        eye = eye / np.linalg.norm(eye)
        right = np.cross(np.array(camera.GetViewUp()), eye)
        right = right / np.linalg.norm(right)
        return np.array([right, np.cross(eye, right), eye])

    def next_beam(self) -> None:
        """The next beam for section and views, at the place of its worst block."""
        beams = self.study.frame.beams
        names = [beam.name for beam in beams]
        self.beam = beams[(names.index(self.beam.name) + 1) % len(beams)]
        self.station_mm = self._worst_station(self.beam)

    def set_station(self, station_mm: float) -> None:
        self.station_mm = float(np.clip(station_mm, 0.0, self.beam.length_mm))

    @property
    def section(self) -> Section:
        """The cut at the chosen station, with the carriages where they now are."""
        places = tuple(self.scene.positions.items())
        key = id(self.study), self.moving, self.beam.name, self.station_mm, places
        if self._section is None or self._section[0] != key:
            study = self.track.quick if self.moving else self.track.study
            self._section = key, section_at(study, self.scene.positions, self.beam.name, self.station_mm)
        return self._section[1]

    def _worst_station(self, beam: Beam) -> float:
        """Where a block on a beam suffers most as the carriages stand; its middle where none rides it."""
        found = []
        for assessed in self.study.carriages:
            for i, block in enumerate(assessed.blocks):
                if block.block.rail.beam.name == beam.name:
                    start, way = assessed.carriage.station_map
                    at = float(start[i] + way[i] * self.scene.positions[assessed.name])
                    found.append((float(block.drag_ratio.max()), min(max(at, 0.0), beam.length_mm)))
        return max(found)[1] if found else beam.length_mm / 2.0
