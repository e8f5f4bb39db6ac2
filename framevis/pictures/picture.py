"""Writes a picture of a study to a PNG file, with no screen needed."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from pathlib import Path

from framevis.deviations import Cause
from framevis.errors import BadInput, problem
from framevis.pictures.draw import draw_scene
from framevis.pictures.opengl import probe
from framevis.pictures.scene import StudyLike, build_scene, resolve_positions, worst_positions

NOTHING: Mapping[str, float] = {}


def write_picture(
    study: StudyLike,
    path: Path,
    *,
    magnification: float | None = None,
    positions: Mapping[str, float] = NOTHING,
    causes: Iterable[Cause] | None = None,
    size: tuple[int, int] = (1600, 1000),
    ghost: bool = True,
) -> Path:
    """Write the study's scene as PNG, `size` pixels; carriages not placed stand where they suffer most.

    Raises `BadInput` where the file can't be written, a position is wrong, or OpenGL is missing.
    """
    path = Path(path)
    _check(path)
    scene = build_scene(study, resolve_positions(study.frame, positions, worst_positions(study)))
    missing = probe()
    if missing is not None:
        what, todo = missing.split(": ", 1)
        raise BadInput(problem(str(path), what, todo))
    import pyvista as pv

    plotter = pv.Plotter(off_screen=True, window_size=list(size))
    try:
        drawing = draw_scene(plotter, scene, magnification=magnification, causes=causes, ghost=ghost)
        drawing.write()  # once by hand: an error inside VTK's own call would only be printed
        plotter.enable_anti_aliasing("ssaa")
        _save(plotter, path)
    finally:
        plotter.close()
    return path


def _save(plotter: object, path: Path) -> None:
    """Write beside the file, then rename: a picture is there whole or not at all."""
    beside = path.with_name(f".{path.stem}.{os.getpid()}.png")
    try:
        plotter.screenshot(str(beside), return_img=False)  # type: ignore[attr-defined]
        beside.replace(path)
    except OSError as error:
        raise BadInput(problem(str(path), "can't be written", error.strerror or str(error))) from error
    finally:
        beside.unlink(missing_ok=True)


def _check(path: Path) -> None:
    """The file must end in .png, in a folder where one may write."""
    if path.suffix.lower() != ".png":
        raise BadInput(problem(str(path), "a picture is a PNG file", "give a name that ends in .png"))
    folder = path.parent
    if not folder.is_dir():
        raise BadInput(problem(str(path), f"there is no folder {folder}", "make it first, or write elsewhere"))
    if path.is_dir():
        raise BadInput(problem(str(path), "is a folder", "give the name of a file"))
    if not os.access(folder, os.W_OK):
        raise BadInput(problem(str(path), f"nothing may be written in {folder}", "write elsewhere"))
