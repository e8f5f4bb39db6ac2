"""From where the machine is looked at, and how it is fitted between caption, labels and scale bar.

Takes shown points and a window's size, sets a camera. The projection is parallel: a length in the picture's
plane has one scale everywhere, so the scale bar is true.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, radians, sin
from typing import Any

import numpy as np

from framevis.frame import Floats
from framevis.pictures.scene import Scene

ELEVATION_DEG, AZIMUTH_DEG = 27.0, 36.0


@dataclass(frozen=True)
class Insets:
    """What is kept free for notes at the borders of the window, as shares of its width and height."""

    left: float = 0.07
    right: float = 0.07
    top: float = 0.13
    bottom: float = 0.08


def view_axes(scene: Scene) -> Floats:
    """Rows right, up, toward the eye (3, 3): seen from above, from where the largest deviation is near."""
    up = np.asarray(scene.frame.up, dtype=np.float64)
    along = _level(scene, up)
    across = np.cross(up, along)
    place = _worst_place(scene)
    e, a = radians(ELEVATION_DEG), radians(AZIMUTH_DEG)
    sides = [(i, j) for i in (1.0, -1.0) for j in (-1.0, 1.0)]
    eyes = [sin(e) * up + cos(e) * (i * cos(a) * along + j * sin(a) * across) for i, j in sides]
    eye = max(eyes, key=lambda toward: float(toward @ place))
    right = np.cross(up, eye)
    right /= np.linalg.norm(right)
    return np.array([right, np.cross(eye, right), eye])


def _level(scene: Scene, up: Floats) -> Floats:
    """A level direction (3,) along the first beam that isn't upright."""
    directions = [beam.axes[0] - up * (beam.axes[0] @ up) for beam in scene.frame.beams]
    directions += [np.cross(up, axis) for axis in np.eye(3)]
    flat = next(d for d in directions if np.linalg.norm(d) > 0.5)
    return np.asarray(flat / np.linalg.norm(flat))


def _worst_place(scene: Scene) -> Floats:
    """Where (3,) mm, from the middle of the frame, beams are displaced most."""
    beams = [part for part in scene.parts if part.role == "beam"]
    size = [np.linalg.norm(part.displaced_um(), axis=1) for part in beams]
    worst = int(np.argmax([s.max() for s in size]))
    point = beams[worst].vertices[int(np.argmax(size[worst]))]
    return np.asarray(point - scene.bounds_mm.mean(axis=0))


def aim(camera: Any, axes: Floats, points_mm: Floats, size: tuple[int, int], insets: Insets) -> None:
    """Put points (N, 3) mm into the free part of a window of `size` pixels, seen along `axes` (rows as above)."""
    seen = points_mm @ axes.T
    low, high = seen.min(axis=0), seen.max(axis=0)
    width, height = size
    free = np.array([width * (1 - insets.left - insets.right), height * (1 - insets.top - insets.bottom)])
    pixels_per_mm = float(np.min(free / np.maximum(high - low, 1e-6)[:2]))
    off = np.array([width * (insets.left - insets.right), height * (insets.bottom - insets.top)]) / 2.0
    middle = (low + high) / 2.0
    focus = np.array([*(middle[:2] - off / pixels_per_mm), middle[2]]) @ axes
    distance = 4.0 * float(np.linalg.norm(high - low)) + 1.0
    camera.SetParallelProjection(True)
    camera.SetFocalPoint(*focus)
    camera.SetPosition(*(focus + axes[2] * distance))
    camera.SetViewUp(*axes[1])
    camera.SetParallelScale(height / 2.0 / pixels_per_mm)


class Projection:
    """Machine points to pixels (origin bottom left) as a camera and window now stand."""

    def __init__(self, camera: Any, size: tuple[int, int]) -> None:
        focus, position = np.array(camera.GetFocalPoint()), np.array(camera.GetPosition())
        eye = position - focus
        eye /= np.linalg.norm(eye)
        right = np.cross(np.array(camera.GetViewUp()), eye)
        right /= np.linalg.norm(right)
        self._axes = np.array([right, np.cross(eye, right)])
        self._focus, self._middle = focus, np.array(size) / 2.0
        self.pixels_per_mm = size[1] / 2.0 / float(camera.GetParallelScale())

    def pixels(self, points_mm: Floats) -> Floats:
        """Points (N, 3) mm as (N, 2) pixels."""
        return np.asarray((points_mm - self._focus) @ self._axes.T * self.pixels_per_mm + self._middle)

    def arm(self, direction: Floats, length_mm: float) -> Floats:
        """A length along a direction (3,) as it is seen, (2,) pixels."""
        return np.asarray(self._axes @ direction * length_mm * self.pixels_per_mm)
