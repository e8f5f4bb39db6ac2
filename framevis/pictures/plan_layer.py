"""A plan over a drawing: its marks as bodies among the parts, its tables among the labels.

Takes the scene that is drawn, and a plan for it; keeps hold of what it drew so that it can be moved.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np

from framevis.deviations import Cause
from framevis.pictures.camera import Projection
from framevis.pictures.look import EDGE, unit
from framevis.pictures.plan_labels import PlanTable, middles, more_said, plan_tables, rows_of
from framevis.pictures.plan_marks import MARK_COLOUR, Kind, Mark, marks_of, nearer_mm
from framevis.pictures.scene import Scene
from framevis.plan import Plan
from framevis.planning.plan_runs import legend_lines

EDGE_WIDTH = 2.4


class PlanLayer:
    """The marks of one plan in a plotter."""

    def __init__(self, plotter: Any, scene: Scene, plan: Plan) -> None:
        self.plan, self._plotter, self._scene = plan, plotter, scene
        self.rows = rows_of(scene.frame, plan)
        self.lines = [*legend_lines(scene.frame, plan), *more_said(plan, self.rows)]
        self.marks: tuple[Mark, ...] = marks_of(scene.memory, plan, scene.positions)
        self._meshes = {kind: self._add(kind) for kind in MARK_COLOUR if any(m.kind == kind for m in self.marks)}

    def move(self, scene: Scene, magnification: float, causes: Iterable[Cause]) -> None:
        """Put every mark where it now belongs: before whatever of the machine lies in front of it."""
        if scene is not self._scene:
            self._scene, self.marks = scene, marks_of(scene.memory, self.plan, scene.positions)
        camera, wanted = self._plotter.camera, tuple(causes)
        toward = np.array(camera.GetPosition()) - np.array(camera.GetFocalPoint())
        nearer = toward / np.linalg.norm(toward) * nearer_mm(scene.frame)
        for kind, (surface, edges) in self._meshes.items():
            points = [mark.points(magnification, wanted) + nearer for mark in self.marks if mark.kind == kind]
            surface.points[:] = edges.points[:] = np.concatenate(points)
            surface.Modified()
            edges.Modified()

    def tables(
        self, seen: Projection, magnification: float, causes: Iterable[Cause], type_px: float
    ) -> list[PlanTable]:
        if not self.rows:
            return []
        return plan_tables(self.rows, list(seen.pixels(middles(self.marks, magnification, tuple(causes)))), type_px)

    def _add(self, kind: Kind) -> tuple[Any, Any]:
        """All marks of one kind as one surface and its edges."""
        import pyvista as pv

        those = [mark for mark in self.marks if mark.kind == kind]
        points = np.concatenate([mark.vertices for mark in those])
        surface = pv.PolyData(points, faces=_cells(those, "faces"))
        edges = pv.PolyData(points.copy(), lines=_cells(those, "edges"))
        look: dict[str, Any] = {"reset_camera": False, "pickable": False}
        self._plotter.add_mesh(
            surface, color=unit(MARK_COLOUR[kind]), ambient=0.6, diffuse=0.5, name=f"plan {kind}", **look
        )
        self._plotter.add_mesh(
            edges, color=unit(EDGE), line_width=EDGE_WIDTH, lighting=False, name=f"edges of plan {kind}", **look
        )
        return surface, edges


def _cells(marks: list[Mark], what: str) -> Any:
    """Faces or edges of several marks as VTK wants them: each with its count before it."""
    start, made = 0, []
    for mark in marks:
        cells = getattr(mark, what)
        made.append(np.column_stack([np.full(len(cells), cells.shape[1]), cells + start]))
        start += len(mark.vertices)
    return np.concatenate(made).ravel()
