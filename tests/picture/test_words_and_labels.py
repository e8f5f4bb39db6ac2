"""What is written on a picture, how large the deviations are shown, and that labels keep clear of one another."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from framevis.deviations import CAUSES
from framevis.pictures.camera import Projection
from framevis.pictures.draw import default_magnification, draw_scene
from framevis.pictures.labels import short
from framevis.pictures.look import VERDICT_COLOUR, length, marker, place, plain, round_down, times
from framevis.pictures.notes import Shown, bar_um, caption_lines
from framevis.pictures.opengl import probe
from framevis.pictures.scene import build_scene, resolve_positions, worst_positions
from picture.fake_study import VERDICTS, gantry, make_study, polynomial


def scene_of(study):
    return build_scene(study, resolve_positions(study.frame, {}, worst_positions(study)))


def drawn(study, size):
    assert probe() is None
    import pyvista as pv

    plotter = pv.Plotter(off_screen=True, window_size=list(size))
    drawing = draw_scene(plotter, scene_of(study))
    drawing.write()
    return plotter, drawing


def test_the_largest_deviation_shows_as_about_four_percent_of_the_frame():
    scene = scene_of(make_study())
    shown_mm = default_magnification(scene) * scene.largest_um / 1000.0
    assert shown_mm / scene.diagonal_mm == pytest.approx(0.04, rel=0.05)


@pytest.mark.parametrize(("height_um", "expected"), [(0.0, 100.0), (1e-3, 3000.0), (1e6, 1.0)])
def test_the_default_magnification_is_defined_and_bounded(height_um, expected):
    scene = scene_of(make_study(known={("bow_height", "left"): polynomial(height_um)}))
    assert default_magnification(scene) == expected


def test_the_caption_says_stage_magnification_and_positions():
    scene = scene_of(make_study(stage="as_left"))
    assert caption_lines(scene, Shown(320.0, CAUSES, (1600, 1000))) == [
        "Tile glazing table",
        "stage as_left · deviations drawn ×320",
        "left at 1221 mm · right at 1221 mm · tool at 302 mm",
    ]
    some = caption_lines(scene, Shown(2.5, ("bow", "own"), (1600, 1000)))
    assert some[1] == "stage as_left · deviations drawn ×2.5 · only bow + rail's own"
    assert caption_lines(scene, Shown(2.5, (), (9, 9)))[1].endswith("no deviation")


def test_a_frame_in_inches_says_inches():
    scene = scene_of(make_study(replace(gantry(), length_unit="in")))
    assert caption_lines(scene, Shown(320.0, CAUSES, (1600, 1000)))[2].startswith("left at 48.09 in")
    assert place(25.4, "in") == "1.00 in"


def test_the_scale_bar_is_a_round_number_of_a_sensible_length():
    for magnification in (1.0, 17.0, 320.0, 3000.0):
        shown = Shown(magnification, CAUSES, (1600, 1000))
        um = bar_um(shown, 0.7)
        pixels = um / 1000.0 * magnification * 0.7
        assert 0.04 * 1600 < pixels <= 0.12 * 1600
        assert float(f"{um:.0e}") == pytest.approx(um)
        assert f"{um:.0e}"[0] in "125"


def test_the_scale_bar_is_as_long_as_its_deviation_is_drawn():
    plotter, drawing = drawn(make_study(), (1600, 1000))
    seen = Projection(plotter.camera, (1600, 1000))
    right = np.cross(plotter.camera.GetViewUp(), plotter.camera.GetDirectionOfProjection()) * -1.0
    um = bar_um(Shown(drawing.magnification, CAUSES, (1600, 1000)), seen.pixels_per_mm)
    ends = np.array([[0, 0, 0], right * um / 1000.0 * drawing.magnification])
    long = np.linalg.norm(np.diff(seen.pixels(ends), axis=0))
    assert long == pytest.approx(um / 1000.0 * drawing.magnification * seen.pixels_per_mm)
    plotter.renderer.SetWorldPoint(*ends[1], 1.0)  # our projection is VTK's
    plotter.renderer.WorldToDisplay()
    assert seen.pixels(ends)[1] == pytest.approx(plotter.renderer.GetDisplayPoint()[:2], abs=0.01)
    assert f"this bar = {length(um)}" in drawing.ink.words
    plotter.close()


@pytest.mark.parametrize("size", [(1600, 1000), (1280, 720)])
def test_every_block_is_labelled_with_name_and_verdict_clear_of_others(size):
    plotter, drawing = drawn(make_study(), size)
    words = drawing.ink.words
    for assessed, verdicts in zip(make_study().carriages, VERDICTS, strict=True):
        assert assessed.name in words
        for block, verdict in zip(assessed.blocks, verdicts, strict=True):
            assert block.name in words
            assert verdict in words
    boxes = list(drawing._room.values())
    assert len(boxes) == 3
    for a, b in combinations(boxes, 2):
        assert a[2] < b[0] or b[2] < a[0] or a[3] < b[1] or b[3] < a[1]
    for left, bottom, right, top in boxes:
        assert left >= 0
        assert bottom >= 0
        assert right <= size[0]
        assert top <= size[1]
    plotter.close()


def test_the_whole_machine_is_in_the_picture():
    plotter, drawing = drawn(make_study(), (1280, 720))
    seen = Projection(plotter.camera, (1280, 720))
    points = np.concatenate([seen.pixels(drawing.points(part)) for part in drawing.scene.parts])
    assert points.min() > 0.0
    assert (points.max(axis=0) < (1280, 720)).all()
    plotter.close()


def test_verdicts_differ_in_shape_and_in_lightness():
    shapes = [tuple(np.round(marker(v, 0.0, 0.0, 1.0), 6).ravel()) for v in VERDICT_COLOUR]
    assert len(set(shapes)) == 4
    light = sorted(0.2126 * r + 0.7152 * g + 0.0722 * b for r, g, b in VERDICT_COLOUR.values())
    assert np.diff(light).min() > 40.0  # apart even where no hue is seen


def test_colours_are_those_of_the_map_that_they_are_said_to_be_from():
    from matplotlib import colormaps

    for verdict, at in (("binding", 1.0), ("tight", 0.76), ("free", 0.5), ("unsure", 0.18)):
        assert VERDICT_COLOUR[verdict] == pytest.approx(np.array(colormaps["cividis"](at)[:3]) * 255.0, abs=1.0)


def test_small_words():
    assert [times(m) for m in (1.0, 2.5, 320.0, 3000.0)] == ["×1", "×2.5", "×320", "×3000"]
    assert [length(um) for um in (0.5, 100.0, 2000.0)] == ["0.5 µm", "100 µm", "2 mm"]
    assert [round_down(v) for v in (1.0, 1.99, 2.0, 499.0, 0.05)] == pytest.approx([1.0, 1.0, 2.0, 200.0, 0.05])
    assert plain("a|b $c$\nd") == "a¦b \\$c\\$ d"
    assert short(scene_of(make_study()).part("block", "left/front_outer")) == "front_outer"
