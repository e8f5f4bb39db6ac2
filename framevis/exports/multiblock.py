"""A scene as a VTK multiblock: a named surface for each part, with what each cause does to its points.

Takes a scene, gives a pyvista `MultiBlock`, flat, of blocks named `beam B`, `rail R`, `block C/B`, `plate C`. Points
in mm, machine axes. Point arrays (N, 3) mm: `bow_mm`, `twist_mm`, `opening_mm`, `own_mm`, `shims_mm` and their sum
`all_mm`: warping the nominal points by one of them, scaled by the magnification, gives the picture.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np

from framevis.deviations import CAUSES, Cause
from framevis.pictures.look import PART_COLOUR, VERDICT_COLOUR
from framevis.pictures.scene import Part, Scene

if TYPE_CHECKING:
    from pyvista import MultiBlock, PolyData

NOMINAL = 0.0  # the magnification of a frame as drawn


def multiblock(scene: Scene, magnification: float = NOMINAL, causes: Iterable[Cause] = CAUSES) -> MultiBlock:
    """All parts, their points where they are shown at a magnification (by default as drawn).

    The multiblock's field data: frame, stage, and the magnification of its points. Each part's: role, owner, and
    verdict where it has one. Point array `colour`: red, green, blue, 0 to 255, the picture's.
    """
    import pyvista as pv

    shown = tuple(causes)
    made = pv.MultiBlock()
    for part in scene.parts:
        made.append(_surface(scene, part, magnification, shown), f"{part.role} {part.name}")
    _add_text(made, "frame", scene.frame.name)
    _add_text(made, "stage", scene.stage)
    made.add_field_data([magnification], "magnification")
    return made


def _surface(scene: Scene, part: Part, magnification: float, causes: tuple[Cause, ...]) -> PolyData:
    import pyvista as pv

    faces = np.column_stack([np.full(len(part.faces), 4), part.faces]).ravel()
    surface = pv.PolyData(scene.points(part, magnification, causes), faces=faces)
    for cause in CAUSES:
        surface.point_data[f"{cause}_mm"] = part.displacement[cause] / 1000.0
    surface.point_data["all_mm"] = part.displaced_um() / 1000.0
    colour = VERDICT_COLOUR[part.verdict] if part.verdict else PART_COLOUR[part.role]
    surface.point_data["colour"] = np.tile(np.array(colour, dtype=np.uint8), (len(part.vertices), 1))
    surface.set_active_vectors("all_mm")
    surface.set_active_scalars("colour")
    _add_text(surface, "role", part.role)
    _add_text(surface, "owner", part.owner)
    if part.verdict is not None:
        _add_text(surface, "verdict", part.verdict)
    return surface


def _add_text(block: MultiBlock | PolyData, name: str, text: str) -> None:
    """Field data of one string in any language: VTK's own arrays take UTF-8, pyvista's conversion only ASCII."""
    from vtkmodules.vtkCommonCore import vtkStringArray

    array = vtkStringArray()
    array.SetName(name)
    array.InsertNextValue(text)
    block.GetFieldData().AddArray(array)
