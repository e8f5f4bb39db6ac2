"""The bodies of a scene in a plotter: surface and feature edges of each part, and its ghost in thin lines.

Takes parts and where their points are shown, gives VTK's meshes, which the drawing moves in place.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from framevis.frame import Floats
from framevis.pictures.look import EDGE, GHOST, PART_COLOUR, STAGE_GHOST, VERDICT_COLOUR, unit
from framevis.pictures.scene import Part

PLATE_OPACITY = 0.6
GHOST_ROLES = ("beam", "rail")
GHOST_WIDTH, GHOST_OPACITY = 1.6, 0.8
STAGE_GHOST_WIDTH = 3.4  # of the lines where the ghost is another stage


@dataclass(eq=False)
class Body:
    """What stands for one part: its surface and feature edges, and its ghost (as drawn, or in another stage)."""

    part: Part
    surface: Any
    edges: Any
    ghost: Any | None
    ghost_actor: Any | None


def add_solid(plotter: Any, part: Part, points: Floats) -> tuple[Any, Any]:
    """Surface and edges of a part whose vertices are shown at points (N, 3) mm."""
    import pyvista as pv

    faces = np.column_stack([np.full(len(part.faces), 4), part.faces]).ravel()
    surface = pv.PolyData(points.copy(), faces=faces)
    edges = pv.PolyData(points.copy(), lines=_lines(part))
    colour = VERDICT_COLOUR[part.verdict] if part.verdict else PART_COLOUR[part.role]
    plotter.add_mesh(
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
    plotter.add_mesh(
        edges,
        color=unit(EDGE),
        line_width=2.2,
        lighting=False,
        name=f"edges of {part.role} {part.name}",
        reset_camera=False,
        pickable=False,
    )
    return surface, edges


def add_outline(plotter: Any, part: Part, points: Floats) -> tuple[Any, Any]:
    """The part's edges at points (N, 3) mm in thin pale lines, and what shows or hides them."""
    import pyvista as pv

    ghost = pv.PolyData(np.array(points), lines=_lines(part))
    actor = plotter.add_mesh(
        ghost,
        color=unit(GHOST),
        line_width=GHOST_WIDTH,
        opacity=GHOST_OPACITY,
        lighting=False,
        name=f"as drawn {part.role} {part.name}",
        reset_camera=False,
        pickable=False,
    )
    return ghost, actor


def style_ghost(actor: Any, is_stage: bool) -> None:
    """Thin pale lines for the frame as drawn, stronger ones for another stage, which often lies close to this one."""
    look = actor.GetProperty()
    look.SetLineWidth(STAGE_GHOST_WIDTH if is_stage else GHOST_WIDTH)
    look.SetColor(*unit(STAGE_GHOST if is_stage else GHOST))
    look.SetOpacity(1.0 if is_stage else GHOST_OPACITY)


def _lines(part: Part) -> Any:
    return np.column_stack([np.full(len(part.edges), 2), part.edges]).ravel()
