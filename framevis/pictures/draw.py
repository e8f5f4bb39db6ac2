"""Draws a scene into a given plotter, and keeps hold of what it drew so that it can be changed in place.

Magnifying, switching causes and moving carriages only write new points (`mesh.points[:] = …`); the sum is made
in float64. What is written on the picture follows by itself before each rendering.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np

from framevis.deviations import CAUSES, Cause
from framevis.frame import Floats
from framevis.pictures.camera import Insets, Projection, aim, view_axes
from framevis.pictures.ink import Ink
from framevis.pictures.labels import draw_labels, find_room, tables
from framevis.pictures.look import EDGE, GHOST, PAPER_HIGH, PAPER_LOW, PART_COLOUR, VERDICT_COLOUR, two_digits, unit
from framevis.pictures.notes import Box, Shown, draw_directions, draw_scale, write_caption
from framevis.pictures.scene import Part, Role, Scene

LEAST, MOST, WITHOUT = 1.0, 3000.0, 100.0  # magnifications; the last where nothing deviates
SHARE = 0.04  # of the frame's diagonal, for the largest deviation
PLATE_OPACITY = 0.6
LIGHTS = (((-1, 1.6, 1.2), 0.6), ((1.6, 0.3, 0.8), 0.36), ((-1, -0.4, 1), 0.26), ((0, 0, 1), 0.14))
GHOST_ROLES = ("beam", "rail")


def default_magnification(scene: Scene) -> float:
    """The magnification at which the largest deviation shows as about 4 % of the frame, in two digits."""
    largest_mm = scene.largest_um / 1000.0
    if largest_mm <= 0.0:
        return WITHOUT
    return two_digits(float(np.clip(SHARE * scene.diagonal_mm / largest_mm, LEAST, MOST)))


@dataclass(eq=False)
class Body:
    """What stands for one part: its surface and feature edges, and the same as drawn (the ghost)."""

    part: Part
    surface: Any
    edges: Any
    ghost: Any | None
    ghost_actor: Any | None


class Drawing:
    """A scene in a plotter. `show` changes what is given and leaves the rest."""

    def __init__(self, plotter: Any, scene: Scene, magnification: float, causes: Iterable[Cause], ghost: bool) -> None:
        self.plotter, self.scene = plotter, scene
        self.magnification, self.causes, self.ghost = magnification, tuple(causes), ghost
        self.low_px = 0.0
        self.also: Callable[[Ink, Shown], None] | None = None  # what a window writes beside its controls
        self._room: dict[str, Box] | None = None
        self.insets = Insets()
        self.bodies: dict[tuple[Role, str], Body] = {}
        for part in scene.parts:
            self.bodies[part.key] = self._add(part)
        self.ink = Ink(plotter.render_window)
        plotter.render_window.AddObserver("StartEvent", lambda *_: self.write())

    def points(self, part: Part) -> Floats:
        return self.scene.points(part, self.magnification, self.causes)

    def show(
        self,
        scene: Scene | None = None,
        *,
        magnification: float | None = None,
        causes: Iterable[Cause] | None = None,
        ghost: bool | None = None,
    ) -> None:
        """Move every point to where it now belongs; only parts that changed are written."""
        warped = magnification is not None or causes is not None
        self.magnification = self.magnification if magnification is None else magnification
        self.causes = self.causes if causes is None else tuple(causes)
        self.ghost = self.ghost if ghost is None else ghost
        self.scene = self.scene if scene is None else scene
        for part in self.scene.parts:
            body = self.bodies[part.key]
            if warped or part is not body.part:
                self._move(body, part)
            if body.ghost_actor is not None:
                body.ghost_actor.SetVisibility(self.ghost)

    def aim(self) -> None:
        """Turn the camera to the frame and fit it between the notes."""
        shown = [self.points(part) for part in self.scene.parts]
        nominal = [part.vertices for part in self.scene.parts] if self.ghost else []
        points = np.concatenate(shown + nominal)
        aim(self.plotter.camera, view_axes(self.scene), points, self._size, self.insets)
        self.plotter.renderer.ResetCameraClippingRange()
        self.settle()

    def write(self) -> None:
        """Write caption, scale bar and labels for the camera as it stands."""
        shown = Shown(self.magnification, self.causes, self._size, self.low_px)
        seen = Projection(self.plotter.camera, self._size)
        blocks = [part for part in self.scene.parts if part.anchor is not None]
        targets = {part.name: seen.pixels(self.points(part)[part.anchor].mean(axis=0)[None])[0] for part in blocks}
        self.ink.clear()
        taken: list[Box] = [(0.0, 0.0, float(shown.size[0]), self.low_px)]
        taken.append(write_caption(self.ink, self.scene, shown))
        taken += [draw_scale(self.ink, shown, seen), draw_directions(self.ink, shown, seen)]
        made = tables(self.scene, targets, shown.type_px)
        if self._room is None:
            points = np.concatenate([self.points(part) for part in self.scene.parts])
            self._room = find_room(made, seen.pixels(points), taken, self._size)
        draw_labels(self.ink, made, self._room)
        if self.also is not None:
            self.also(self.ink, shown)
        self.ink.flush()

    def settle(self) -> None:
        """Look for new places for the labels when next drawn; until then they stay where they are."""
        self._room = None

    @property
    def _size(self) -> tuple[int, int]:
        width, height = self.plotter.render_window.GetSize()
        return int(width), int(height)

    def _move(self, body: Body, part: Part) -> None:
        """Write a part's points in place."""
        body.surface.points[:] = body.edges.points[:] = self.points(part)
        body.surface.Modified()
        body.edges.Modified()
        if body.ghost is not None and part is not body.part:
            body.ghost.points[:] = part.vertices
            body.ghost.Modified()
        body.part = part

    def _add(self, part: Part) -> Body:
        import pyvista as pv

        points = self.points(part)
        faces = np.column_stack([np.full(len(part.faces), 4), part.faces]).ravel()
        lines = np.column_stack([np.full(len(part.edges), 2), part.edges]).ravel()
        surface = pv.PolyData(points.copy(), faces=faces)
        edges = pv.PolyData(points.copy(), lines=lines)
        colour = VERDICT_COLOUR[part.verdict] if part.verdict else PART_COLOUR[part.role]
        self.plotter.add_mesh(
            surface,
            color=unit(colour),
            opacity=PLATE_OPACITY if part.role == "plate" else 1.0,
            name=f"{part.role} {part.name}",
            ambient=0.4,
            diffuse=0.72,
            specular=0.06,
            reset_camera=False,
            pickable=False,
        )
        self.plotter.add_mesh(
            edges,
            color=unit(EDGE),
            line_width=2.2,
            lighting=False,
            name=f"edges of {part.role} {part.name}",
            reset_camera=False,
            pickable=False,
        )
        ghost, ghost_actor = self._add_ghost(part, lines) if part.role in GHOST_ROLES else (None, None)
        return Body(part, surface, edges, ghost, ghost_actor)

    def _add_ghost(self, part: Part, lines: Any) -> tuple[Any, Any]:
        """The part as drawn, in thin pale lines."""
        import pyvista as pv

        ghost = pv.PolyData(part.vertices.copy(), lines=lines)
        actor = self.plotter.add_mesh(
            ghost,
            color=unit(GHOST),
            line_width=1.6,
            opacity=0.8,
            lighting=False,
            name=f"as drawn {part.role} {part.name}",
            reset_camera=False,
            pickable=False,
        )
        actor.SetVisibility(self.ghost)
        return ghost, actor


def draw_scene(
    plotter: Any,
    scene: Scene,
    *,
    magnification: float | None = None,
    causes: Iterable[Cause] | None = None,
    ghost: bool = True,
) -> Drawing:
    """Draw into a plotter, light it and turn its camera to the frame."""
    chosen = default_magnification(scene) if magnification is None else magnification
    drawing = Drawing(plotter, scene, chosen, CAUSES if causes is None else causes, ghost)
    plotter.set_background(unit(PAPER_LOW), top=unit(PAPER_HIGH))
    _light(plotter)
    drawing.aim()
    return drawing


def _light(plotter: Any) -> None:
    """Four lights that stand with the viewer: one strong from the upper left, three weak ones that fill."""
    import pyvista as pv

    plotter.remove_all_lights()
    for position, strength in LIGHTS:
        light = pv.Light(position=position, light_type="camera light", intensity=strength)
        plotter.add_light(light)
