"""The drawing of a window: cheap to change, with readings as arrows and the ribbon of risk on request.

Takes a scene in a plotter. Σ displacement of a part is remembered, so that magnifying is one product and one sum.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np

from framevis.deviations import Cause
from framevis.frame import Floats
from framevis.pictures.arrows import Arrows, arrows_of
from framevis.pictures.between import Sums
from framevis.pictures.bodies import Body
from framevis.pictures.camera import Projection
from framevis.pictures.draw import LIGHTS, Drawing
from framevis.pictures.ink import BOXES, text_width
from framevis.pictures.labels import draw_labels, find_room, tables
from framevis.pictures.lens import projection
from framevis.pictures.look import EDGE, PAPER_HIGH, PAPER_LOW, QUIET_INK, VERDICT_COLOUR, unit
from framevis.pictures.notes import Box, Shown, draw_directions, draw_scale, write_caption
from framevis.pictures.reading_marks import draw_arrows
from framevis.pictures.riding import Riding
from framevis.pictures.risk_strip import Strip, strips_of
from framevis.pictures.scene import Part, Role, Scene, StudyLike

HOLDS = "in the middle of the view"


class LiveDrawing(Drawing):
    """A drawing that a window changes all the time. `kept_free`: boxes that labels keep out of."""

    def __init__(
        self,
        plotter: Any,
        scene: Scene,
        study: StudyLike,
        sums: Sums,
        magnification: float,
        causes: Iterable[Cause],
        ghost: bool,
    ) -> None:
        self.sums = sums
        self.raw: dict[tuple[Role, str], Floats] = {}  # the points that VTK draws, shared with it
        self.labels, self.readings, self.risk = True, False, False
        self.only: str | None = None  # sweep
        self.directions = True
        self.kept_free: list[Box] = []
        self.strips: list[tuple[Strip, Any, list[Any]]] = []
        super().__init__(plotter, scene, magnification, causes, ghost)
        self.set_study(study)

    def set_study(self, study: StudyLike) -> None:
        """Another stage: its readings, ribbon and verdicts."""
        self.study = study
        self.arrows: tuple[Arrows, ...] = arrows_of(study)
        for _, _, actors in self.strips:
            for actor in actors:
                self.plotter.remove_actor(actor, render=False)
        self.strips = []
        if self.risk:
            self.set_risk(True)

    def recolour(self) -> None:
        """Give blocks the colours of their verdicts."""
        for part in self.scene.parts:
            if part.role == "block" and part.verdict is not None:
                actor = self.plotter.actors[f"block {part.name}"]
                actor.GetProperty().SetColor(*unit(VERDICT_COLOUR[part.verdict]))

    def set_risk(self, on: bool) -> None:
        """Show or hide the ribbon of risk; it is made when first shown."""
        self.risk = on
        if on and not self.strips:
            self.strips = [self._add_strip(strip) for strip in strips_of(self.study)]
        for _, _, actors in self.strips:
            for actor in actors:
                actor.SetVisibility(on)
        self._move_strips()

    def points(self, part: Part) -> Floats:
        return part.vertices + self.magnification * self.sums.of(part, self.causes) / 1000.0

    def riding(self, marks: Riding) -> Floats:
        """Where marks on a beam are shown, (N, 3) mm."""
        points, displaced = marks.placed(self.study, self.scene.positions)
        return points + self.magnification / 1000.0 * sum((displaced[c] for c in self.causes), np.zeros_like(points))

    def show(
        self,
        scene: Scene | None = None,
        *,
        magnification: float | None = None,
        causes: Iterable[Cause] | None = None,
        ghost: bool | None = None,
    ) -> None:
        super().show(scene, magnification=magnification, causes=causes, ghost=ghost)
        self._move_strips()

    def write(self) -> None:
        """Write caption, scale bar, labels and arrows for the camera as it stands."""
        shown = Shown(self.magnification, self.causes, self._size, self.low_px)
        seen = projection(self.plotter.camera, self._size)
        self.ink.clear()
        taken: list[Box] = [(0.0, 0.0, float(shown.size[0]), self.low_px), *self.kept_free]
        taken.append(write_caption(self.ink, self.scene, shown, self.more_lines))
        self._paper(taken[-1])
        taken.append(self._scale(shown, seen))
        if self.directions:
            taken.append(draw_directions(self.ink, shown, seen))
        if self.labels:
            taken += self._write_labels(shown, taken)
        if self.readings:
            chosen = [a for a in self.arrows if self.only in (None, a.sweep)]
            drawn = [(a, self.riding(a.feet)) for a in chosen]
            draw_arrows(self.ink, drawn, seen, shown, taken)
        if self.also is not None:
            self.also(self.ink, shown)
        self.ink.flush()

    def _paper(self, box: Box) -> None:
        """What was written in a box stays legible over the machine."""
        left, bottom, right, top = box
        self.ink.fill([(left, bottom), (right, bottom), (right, top), (left, top)], PAPER_HIGH, BOXES, alpha=150)

    def _scale(self, shown: Shown, seen: Projection) -> Box:
        """The scale bar; with perspective it says where it holds."""
        left, bottom, right, top = draw_scale(self.ink, shown, seen)
        if self.plotter.camera.GetParallelProjection():
            return left, bottom, right, top
        px = shown.type_px
        self.ink.text(HOLDS, right + px, shown.low_px + 1.9 * px, 0.9 * px, QUIET_INK)
        return left, bottom, right + px + text_width(HOLDS, 0.9 * px), top

    def _write_labels(self, shown: Shown, taken: list[Box]) -> list[Box]:
        """The tables of the blocks; gives the boxes that they took."""
        seen = projection(self.plotter.camera, self._size)
        blocks = [part for part in self.scene.parts if part.anchor is not None]
        targets = {part.name: seen.pixels(self.points(part)[part.anchor].mean(axis=0)[None])[0] for part in blocks}
        made = [t for t in tables(self.scene, targets, shown.type_px) if _in_sight(t.targets, shown.size)]
        if self._room is None or any(table.name not in self._room for table in made):
            points = np.concatenate([self.points(part) for part in self.scene.parts])
            self._room = find_room(made, seen.pixels(points), taken, self._size)
        draw_labels(self.ink, made, self._room)
        return list(self._room.values())

    def _move(self, body: Body, part: Part) -> None:
        """Write a part's points in place: edges share them with the surface."""
        raw = self.raw[part.key]
        np.multiply(self.sums.of(part, self.causes), self.magnification, out=raw)
        raw /= 1000.0
        raw += part.vertices
        body.surface.GetPoints().Modified()
        if body.ghost is not None and part is not body.part:
            self._move_ghost(body, part)
        body.part = part

    def _add(self, part: Part) -> Body:
        from vtkmodules.util.numpy_support import vtk_to_numpy

        body = super()._add(part)
        body.edges.SetPoints(body.surface.GetPoints())
        to_numpy: Any = vtk_to_numpy
        self.raw[part.key] = to_numpy(body.surface.GetPoints().GetData())
        return body

    def _add_strip(self, strip: Strip) -> tuple[Strip, Any, list[Any]]:
        import pyvista as pv

        points = self.riding(strip.points)
        quads = np.column_stack([np.full(len(strip.quads), 4), strip.quads]).ravel()
        surface = pv.PolyData(points, faces=quads)
        surface.cell_data["colour"] = strip.colours
        look: dict[str, Any] = {"lighting": False, "reset_camera": False, "pickable": False}
        name = f"risk {strip.rail.name}"
        actors = [self.plotter.add_mesh(surface, scalars="colour", rgb=True, name=name, **look)]
        if len(strip.bars):
            lines = np.column_stack([np.full(len(strip.bars), 2), strip.bars]).ravel()
            bars = pv.PolyData(points, lines=lines)
            bars.SetPoints(surface.GetPoints())
            actors.append(self.plotter.add_mesh(bars, color=unit(EDGE), line_width=2.0, name=f"{name} bars", **look))
        return strip, surface, actors

    def _move_strips(self) -> None:
        if not self.risk:
            return
        for strip, surface, _ in self.strips:
            surface.points[:] = self.riding(strip.points)
            surface.Modified()


def _in_sight(targets: Floats, size: tuple[int, int]) -> bool:
    """Whether any of the pixels (N, 2) lies in the window."""
    return bool(np.any(np.all((targets >= 0.0) & (targets <= np.array(size)), axis=1)))


def ready(plotter: Any) -> None:
    """Give a plotter our ground and lights, which stand with the viewer."""
    import pyvista as pv

    plotter.set_background(unit(PAPER_LOW), top=unit(PAPER_HIGH))
    plotter.remove_all_lights()
    for position, strength in LIGHTS:
        plotter.add_light(pv.Light(position=position, light_type="camera light", intensity=strength))
