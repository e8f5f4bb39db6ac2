"""Draws the README's pictures of the demo again: python demo_frames/draw_pictures.py

As found, the plan, and as left from the same side at one magnification, and the left beam from its far end. Each is
reduced to a palette, which keeps it small.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from dataclasses import replace
from math import cos, radians, sin
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

import framevis
from framevis.pictures.camera import Insets, aim
from framevis.pictures.draw import default_magnification, draw_scene
from framevis.pictures.film import palette_of
from framevis.pictures.opengl import probe
from framevis.pictures.picture import write_picture
from framevis.pictures.scene import Scene, build_scene, resolve_positions, worst_positions
from framevis.planning.plan_limits import plan_for
from framevis.study import Study

HERE = Path(__file__).parent
FRAME, PICTURES = HERE / "glazing_table", HERE / "pictures"
DRAWS = 400
SIZE, CLOSE_SIZE = (1200, 750), (1200, 675)
CLOSE_MM = 260.0  # of the beam, from its far end, that the close picture must hold
SIDE_DEG, ABOVE_DEG = 9.0, 9.0  # off the beam's own direction, so that its length is seen


def draw_all() -> None:
    machine = framevis.load(FRAME)
    found, left = (machine.assess(stage, draws=DRAWS).study for stage in ("as_found", "as_left"))
    places = worst_positions(found)
    scene = build_scene(found, resolve_positions(found.frame, {}, places))
    times = default_magnification(scene)
    with TemporaryDirectory() as folder:
        for study in (found, left):
            path = Path(folder) / f"{study.stage}.png"
            keep(write_picture(study, path, magnification=times, positions=places, size=SIZE))
        plan = plan_for(found)
        keep(write_picture(found, Path(folder) / "plan.png", magnification=times, plan=plan, size=SIZE))
        keep(along_beam(found, scene, times, Path(folder) / "along_left_beam.png"))


def keep(path: Path) -> None:
    """A picture, reduced to a palette, among the README's."""
    from PIL import Image

    pixels = np.asarray(Image.open(path).convert("RGB"))
    small = Image.fromarray(pixels).quantize(palette=palette_of([pixels]), dither=Image.Dither.NONE)
    small.save(PICTURES / path.name, optimize=True)


def only_left(scene: Scene) -> Scene:
    """The left beam with its rails and its carriage."""
    frame = scene.frame
    parts = tuple(part for part in scene.parts if "left" in (part.name, part.owner))
    return replace(
        scene,
        frame=replace(frame, carriages=(frame.carriage("left"),)),
        positions={"left": scene.positions["left"]},
        parts=parts,
    )


def along_beam(study: Study, scene: Scene, times: float, path: Path) -> Path:
    """The left beam from its far end, where the channel has opened, close to."""
    import pyvista as pv

    assert probe() is None, "nothing can be drawn here"
    beam = study.frame.beam("left")
    s, t, n = beam.axes
    side, above = radians(SIDE_DEG), radians(ABOVE_DEG)
    eye = cos(above) * (cos(side) * s + sin(side) * t) + sin(above) * n
    right = np.cross(n, eye)
    right /= np.linalg.norm(right)
    plotter = pv.Plotter(off_screen=True, window_size=list(CLOSE_SIZE))
    drawing = draw_scene(plotter, only_left(scene), magnification=times)
    points = np.concatenate([each for part in drawing.scene.parts for each in (drawing.points(part), part.vertices)])
    close = points[(points - beam.end_mm) @ s > -CLOSE_MM]
    aim(plotter.camera, np.array([right, np.cross(eye, right), eye]), close, CLOSE_SIZE, Insets())
    plotter.renderer.ResetCameraClippingRange()
    drawing.settle()
    drawing.write()
    plotter.enable_anti_aliasing("ssaa")
    plotter.screenshot(str(path), return_img=False)
    plotter.close()
    return path


if __name__ == "__main__":
    PICTURES.mkdir(exist_ok=True)
    draw_all()
