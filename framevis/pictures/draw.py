"""Draws a scene into a given plotter, and keeps hold of what it drew so that it can be changed in place.

Magnifying, switching causes and moving carriages only write new points (`mesh.points[:] = …`); the sum is made
in float64. What is written on the picture follows by itself before each rendering.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any

import numpy as np

from framevis.deviations import CAUSES, Cause
from framevis.frame import Floats
from framevis.pictures.bodies import GHOST_ROLES, Body, add_outline, add_solid, style_ghost
from framevis.pictures.camera import Insets, Projection, aim, view_axes
from framevis.pictures.ink import Ink
from framevis.pictures.labels import draw_labels, find_room, tables
from framevis.pictures.look import PAPER_HIGH, PAPER_LOW, two_digits, unit
from framevis.pictures.notes import LINE, Box, Shown, draw_directions, draw_scale, write_caption
from framevis.pictures.plan_labels import draw_plan_tables
from framevis.pictures.plan_layer import PlanLayer
from framevis.pictures.scene import Part, Role, Scene, moved
from framevis.plan import Plan

LEAST, MOST, WITHOUT = 1.0, 3000.0, 100.0  # magnifications; the last where nothing deviates
SHARE = 0.04  # of the frame's diagonal, for the largest deviation
LIGHTS = (((-1, 1.6, 1.2), 0.6), ((1.6, 0.3, 0.8), 0.36), ((-1, -0.4, 1), 0.26), ((0, 0, 1), 0.14))


def default_magnification(scene: Scene) -> float:
    """The magnification at which the largest deviation shows as about 4 % of the frame, in two digits."""
    largest_mm = scene.largest_um / 1000.0
    if largest_mm <= 0.0:
        return WITHOUT
    return two_digits(float(np.clip(SHARE * scene.diagonal_mm / largest_mm, LEAST, MOST)))


class Drawing:
    """A scene in a plotter. `show` changes what is given and leaves the rest.

    `earlier`: the scene of another stage that is the ghost, instead of the frame as drawn.
    """

    earlier: Scene | None = None
    layer: PlanLayer | None = None

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

    def ghost_points(self, part: Part) -> Floats:
        """Where the ghost of a part is shown, (N, 3) mm."""
        if self.earlier is None:
            return part.vertices
        return self.earlier.points(self.earlier.part(*part.key), self.magnification, self.causes)

    def haunt(self, earlier: Scene | None) -> None:
        """Let another stage's scene be the ghost, its carriages where ours stand; or again the frame as drawn."""
        self.earlier = None if earlier is None else moved(earlier, earlier.memory.study, self.scene.positions)
        for body in self.bodies.values():
            if body.ghost is not None:
                self._move_ghost(body, body.part)
                style_ghost(body.ghost_actor, earlier is not None)

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
        if self.earlier is not None and self.earlier.positions != self.scene.positions:
            self.earlier = moved(self.earlier, self.earlier.memory.study, self.scene.positions)
        for part in self.scene.parts:
            body = self.bodies[part.key]
            if self.earlier is not None and body.ghost is not None:
                self._move_ghost(body, part)
            if warped or part is not body.part:
                self._move(body, part)
            if body.ghost_actor is not None:
                body.ghost_actor.SetVisibility(self.ghost)

    def aim(self) -> None:
        """Turn the camera to the frame and fit it between the notes."""
        shown = [self.points(part) for part in self.scene.parts]
        ghost = [self.ghost_points(part) for part in self.scene.parts] if self.ghost else []
        points = np.concatenate(shown + ghost)
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
        taken.append(write_caption(self.ink, self.scene, shown, self.more_lines))
        taken += [draw_scale(self.ink, shown, seen), draw_directions(self.ink, shown, seen)]
        made = tables(self.scene, targets, shown.type_px)
        planned = []
        if self.layer is not None:
            self.layer.move(self.scene, self.magnification, self.causes)
            planned = self.layer.tables(seen, self.magnification, self.causes, shown.type_px)
        if self._room is None:
            points = np.concatenate([self.points(part) for part in self.scene.parts])
            self._room = find_room([*made, *planned], seen.pixels(points), taken, self._size)
        draw_labels(self.ink, made, self._room)
        draw_plan_tables(self.ink, planned, self._room)
        if self.also is not None:
            self.also(self.ink, shown)
        self.ink.flush()

    def insets_for(self, lines: int) -> Insets:
        """Room at the top for so many more lines of the caption."""
        if not lines:
            return self.insets
        shown = Shown(self.magnification, self.causes, self._size, self.low_px)
        return replace(self.insets, top=self.insets.top + lines * LINE * shown.type_px / shown.size[1])

    @property
    def more_lines(self) -> list[str]:
        """What the caption says of the plan and of the ghost."""
        planned = [] if self.layer is None else self.layer.lines
        return planned if self.earlier is None else [*planned, f"ghost, blue lines: stage {self.earlier.stage}"]

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
            self._move_ghost(body, part)
        body.part = part

    def _move_ghost(self, body: Body, part: Part) -> None:
        assert body.ghost is not None
        body.ghost.points[:] = self.ghost_points(part)
        body.ghost.Modified()

    def _add(self, part: Part) -> Body:
        surface, edges = add_solid(self.plotter, part, self.points(part))
        if part.role not in GHOST_ROLES:
            return Body(part, surface, edges, None, None)
        ghost, actor = add_outline(self.plotter, part, self.ghost_points(part))
        actor.SetVisibility(self.ghost)
        return Body(part, surface, edges, ghost, actor)


def draw_scene(
    plotter: Any,
    scene: Scene,
    *,
    magnification: float | None = None,
    causes: Iterable[Cause] | None = None,
    ghost: Scene | bool = True,
    plan: Plan | None = None,
) -> Drawing:
    """Draw into a plotter, light it and turn its camera to the frame.

    `ghost`: the frame as drawn, or another stage's scene, in thin lines. `plan`: marks where its pieces go.
    """
    earlier = ghost if isinstance(ghost, Scene) else None
    larger = max((each for each in (scene, earlier) if each is not None), key=lambda each: each.largest_um)
    chosen = default_magnification(larger) if magnification is None else magnification
    drawing = Drawing(plotter, scene, chosen, CAUSES if causes is None else causes, ghost is not False)
    if earlier is not None:
        drawing.haunt(earlier)
    if plan is not None:
        drawing.layer = PlanLayer(plotter, scene, plan)
    drawing.insets = drawing.insets_for(len(drawing.more_lines))
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
