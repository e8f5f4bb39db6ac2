"""Ways of looking: presets along the chosen beam, perspective beside parallel, and where points then fall.

Takes a scene and a plotter's camera. With perspective the scale of the middle of the view is kept, and said.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import radians, tan
from typing import Any, Literal

import numpy as np

from framevis.frame import Beam, Floats
from framevis.pictures.camera import Projection, view_axes
from framevis.pictures.scene import Part, Scene

View = Literal["home", "along", "across", "above", "worst"]
VIEW_WORDS: dict[View, str] = {
    "home": "whole frame",
    "along": "along beam",
    "across": "across beam",
    "above": "from above",
    "worst": "worst block",
}
ANGLE_DEG = 25.0
AROUND_MM = 110.0  # what is shown about the worst block


def axes_for(view: View, scene: Scene, beam: Beam) -> Floats:
    """Rows right, up, toward the eye (3, 3); lower and to one side of square on, so that depth is seen."""
    up, (s, t, _) = np.asarray(scene.frame.up, dtype=np.float64), beam.axes
    if view in ("home", "worst"):
        return view_axes(scene)
    eye, above = {"along": (-s, up), "across": (-t, up), "above": (up, s)}[view]
    if np.linalg.norm(np.cross(above, eye)) < 0.1:
        above = t
    right = np.cross(above, eye)
    right = right / np.linalg.norm(right)
    return np.array([right, np.cross(eye, right), eye])


def points_for(view: View, scene: Scene, shown: Sequence[tuple[Part, Floats]]) -> Floats:
    """The shown points (N, 3) that a view has to hold."""
    everything = np.concatenate([points for _, points in shown])
    block = worst_block(scene) if view == "worst" else None
    at = next((points for part, points in shown if part.role == "block" and part.name == block), None)
    if at is None:
        return everything
    middle = at.mean(axis=0)
    return np.array([middle + sign * AROUND_MM * axis for axis in np.eye(3) for sign in (-1.0, 1.0)])


def worst_block(scene: Scene) -> str | None:
    """CARRIAGE/BLOCK with the highest drag ratio of all."""
    blocks = [(float(b.drag_ratio.max()), f"{c.name}/{b.name}") for c in scene.memory.carriages for b in c.blocks]
    return max(blocks)[1] if blocks else None


def set_perspective(camera: Any, on: bool) -> None:
    """Switch the projection; what lies in the middle of the view keeps its size."""
    focus, position = np.array(camera.GetFocalPoint()), np.array(camera.GetPosition())
    eye = (position - focus) / np.linalg.norm(position - focus)
    if on:
        camera.SetViewAngle(ANGLE_DEG)
        camera.SetPosition(*(focus + eye * camera.GetParallelScale() / tan(radians(ANGLE_DEG) / 2.0)))
    elif not camera.GetParallelProjection():
        camera.SetParallelScale(_half_height(camera))
        camera.SetPosition(*(focus + eye * 4.0 * np.linalg.norm(position - focus)))
    camera.SetParallelProjection(not on)


def _half_height(camera: Any) -> float:
    """Half the height (mm) that is seen at the focal point."""
    return float(camera.GetDistance() * tan(radians(camera.GetViewAngle()) / 2.0))


class Perspective(Projection):
    """Machine points to pixels with perspective; `pixels_per_mm` and `arm` hold at the focal point."""

    def __init__(self, camera: Any, size: tuple[int, int]) -> None:
        super().__init__(camera, size)
        self.pixels_per_mm = size[1] / 2.0 / _half_height(camera)
        away = np.array(camera.GetPosition()) - self._focus
        self._distance = float(np.linalg.norm(away))
        self._eye = away / self._distance

    def pixels(self, points_mm: Floats) -> Floats:
        """Points (N, 3) mm as (N, 2) pixels."""
        from_focus = points_mm - self._focus
        depth = np.maximum(self._distance - from_focus @ self._eye, 1e-3)
        nearer = (self._distance / depth)[:, None]
        return np.asarray(from_focus @ self._axes.T * self.pixels_per_mm * nearer + self._middle)


def projection(camera: Any, size: tuple[int, int]) -> Projection:
    """How the camera now projects."""
    return Projection(camera, size) if camera.GetParallelProjection() else Perspective(camera, size)
