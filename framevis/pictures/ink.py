"""Flat drawing over a scene, in pixels: lines, filled shapes and text on a layer of their own.

The layer has its own renderer, so that smoothing the 3D picture doesn't blur its letters. Origin bottom left.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from framevis.pictures.look import Colour, font_file, plain, unit

Points = Sequence[tuple[float, float]]
RGBA = tuple[int, int, int, int]
FONT_FROM_FILE = 4  # VTK_FONT_FILE of vtkTextProperty.h, which Python doesn't get to see
LEADERS, BOXES, MARKS = 0, 1, 2  # what is drawn first, next, last


class Ink:
    """Everything flat over one window; `clear`, draw again, `flush`."""

    def __init__(self, window: Any) -> None:
        from vtkmodules.vtkRenderingCore import vtkRenderer

        self.renderer: Any = vtkRenderer()
        self.renderer.SetLayer(1)
        self.renderer.InteractiveOff()
        window.SetNumberOfLayers(2)
        window.AddRenderer(self.renderer)
        self._sheets = [(_Sheet(self.renderer, 2 * i), _Sheet(self.renderer, 2 * i + 1)) for i in range(3)]
        self._texts: list[Any] = []
        self._used = 0

    def clear(self) -> None:
        for fills, lines in self._sheets:
            fills.clear()
            lines.clear()
        self._used = 0

    def line(self, points: Points, colour: Colour, layer: int, *, alpha: int = 255, closed: bool = False) -> None:
        self._sheets[layer][1].add([*points, points[0]] if closed else points, (*colour, alpha))

    def fill(self, points: Points, colour: Colour, layer: int, *, alpha: int = 255) -> None:
        self._sheets[layer][0].add(points, (*colour, alpha))

    def text(self, words: str, x: float, y: float, size: float, colour: Colour, *, bold: bool = False) -> None:
        """Words with the left end of their middle line at (x, y)."""
        if self._used == len(self._texts):
            self._texts.append(_text_actor(self.renderer))
        actor = self._texts[self._used]
        self._used += 1
        style(actor.GetTextProperty(), size, colour, bold)
        actor.SetInput(plain(words))
        actor.SetPosition(round(x), round(y))
        actor.SetVisibility(True)

    def flush(self) -> None:
        """Hand over what was drawn; texts that weren't used again vanish."""
        for fills, lines in self._sheets:
            fills.flush(closed=True)
            lines.flush(closed=False)
        for actor in self._texts[self._used :]:
            actor.SetVisibility(False)

    @property
    def words(self) -> list[str]:
        """All texts that now show."""
        return [actor.GetInput() for actor in self._texts[: self._used]]


def style(text_property: Any, size: float, colour: Colour, bold: bool = False) -> None:
    """Give a VTK text property our type, `size` pixels high."""
    file = font_file(bold)
    if file is not None:
        text_property.SetFontFamily(FONT_FROM_FILE)
        text_property.SetFontFile(file)
    text_property.SetFontSize(round(size))
    text_property.SetColor(*unit(colour))
    text_property.SetVerticalJustificationToCentered()
    text_property.SetUseTightBoundingBox(False)


def text_width(words: str, size: float, bold: bool = False) -> float:
    """How wide (pixels) words will be."""
    from vtkmodules.vtkRenderingCore import vtkTextProperty, vtkTextRenderer

    given = vtkTextProperty()
    style(given, size, (0, 0, 0), bold)
    box = [0, 0, 0, 0]
    vtkTextRenderer.GetInstance().GetBoundingBox(given, plain(words), box, 72)
    return float(box[1] - box[0] + 1)


def _text_actor(renderer: Any) -> Any:
    from vtkmodules.vtkRenderingCore import vtkTextActor

    actor = vtkTextActor()
    actor.SetTextScaleModeToNone()
    actor.SetLayerNumber(6)
    renderer.AddViewProp(actor)
    return actor


class _Sheet:
    """Filled shapes, or lines, of one layer as a single VTK object."""

    def __init__(self, renderer: Any, layer: int) -> None:
        from vtkmodules.vtkCommonDataModel import vtkPolyData
        from vtkmodules.vtkRenderingCore import vtkActor2D, vtkPolyDataMapper2D

        self._data: Any = vtkPolyData()
        mapper: Any = vtkPolyDataMapper2D()
        mapper.SetInputData(self._data)
        mapper.SetScalarModeToUseCellData()
        actor: Any = vtkActor2D()
        actor.SetMapper(mapper)
        actor.SetLayerNumber(layer)
        actor.GetProperty().SetLineWidth(1.2)
        renderer.AddViewProp(actor)
        self._shapes: list[Points] = []
        self._colours: list[RGBA] = []

    def clear(self) -> None:
        self._shapes, self._colours = [], []

    def add(self, points: Points, colour: RGBA) -> None:
        self._shapes.append(points)
        self._colours.append(colour)

    def flush(self, *, closed: bool) -> None:
        from vtkmodules.util.numpy_support import numpy_to_vtk
        from vtkmodules.vtkCommonCore import vtkPoints

        to_vtk: Any = numpy_to_vtk
        flat = [(x, y, 0.0) for shape in self._shapes for x, y in shape]
        points = vtkPoints()
        points.SetData(to_vtk(np.array(flat or np.empty((0, 3)), dtype=np.float32), deep=True))
        self._data.Initialize()
        self._data.SetPoints(points)
        (self._data.SetPolys if closed else self._data.SetLines)(self._cells())
        colours: NDArray[np.uint8] = np.array(self._colours or np.empty((0, 4)), dtype=np.uint8)
        self._data.GetCellData().SetScalars(to_vtk(colours, deep=True))

    def _cells(self) -> Any:
        from vtkmodules.vtkCommonDataModel import vtkCellArray

        cells, start = vtkCellArray(), 0
        for shape in self._shapes:
            cells.InsertNextCell(len(shape), list(range(start, start + len(shape))))
            start += len(shape)
        return cells
