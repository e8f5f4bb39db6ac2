"""Writes a picture of a study to a file, with no screen needed: a PNG, or a GIF of the carriages' travel."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from framevis.deviations import Cause
from framevis.errors import BadInput, problem
from framevis.outfile import beside, check_target
from framevis.pictures.draw import draw_scene
from framevis.pictures.film import journey, travelling, write_gif
from framevis.pictures.opengl import probe
from framevis.pictures.scene import StudyLike, build_scene, resolve_positions, worst_positions
from framevis.plan import Plan

NOTHING: Mapping[str, float] = {}
PICTURE_SIZE, FILM_SIZE = (1600, 1000), (960, 600)
Progress = Callable[[int, int], None]  # pictures drawn, pictures to draw


def write_picture(
    study: StudyLike,
    path: Path,
    *,
    magnification: float | None = None,
    positions: Mapping[str, float] = NOTHING,
    causes: Iterable[Cause] | None = None,
    size: tuple[int, int] | None = None,
    ghost: StudyLike | bool = True,
    plan: Plan | None = None,
    travel: Iterable[str] = (),
    progress: Progress | None = None,
) -> Path:
    """Write the study's scene as PNG or GIF, by the path's suffix, `size` pixels (1600 × 1000, a GIF 960 × 600).

    Carriages not placed stand where they suffer most. In a GIF the carriages named in `travel` go over their
    travel and back, without any named: all that `positions` doesn't place. `ghost`: the frame as drawn in thin lines,
    or another stage's study, whose warped frame is the ghost. `plan`: marks where each of its pieces goes; `study` is
    then the plan's `before`. `progress` is told, a picture of the
    GIF at a time, how many of how many are drawn. Raises `BadInput` where the file can't be written, a position
    or a carriage is wrong, or OpenGL is missing.
    """
    path = Path(path)
    check_target(path, (".png", ".gif"), "a picture")
    scene = build_scene(study, resolve_positions(study.frame, positions, worst_positions(study)))
    behind = ghost if isinstance(ghost, bool) else build_scene(ghost, scene.positions)
    moving = path.suffix.lower() == ".gif"
    groups = travelling(study.frame, tuple(travel), positions) if moving else ()
    missing = probe()
    if missing is not None:
        what, todo = missing.split(": ", 1)
        raise BadInput(problem(str(path), what, todo))
    import pyvista as pv

    plotter = pv.Plotter(off_screen=True, window_size=list(size or (FILM_SIZE if moving else PICTURE_SIZE)))
    try:
        drawing = draw_scene(plotter, scene, magnification=magnification, causes=causes, ghost=behind, plan=plan)
        drawing.write()  # once by hand: an error inside VTK's own call would only be printed
        plotter.enable_anti_aliasing("ssaa")
        with beside(path) as hidden:
            if moving:
                write_gif(hidden, journey(drawing, study, groups, progress))
            else:
                plotter.screenshot(str(hidden), return_img=False)
    finally:
        plotter.close()
    return path
