"""The window's keys and switches, driven off-screen: each changes what the list of keys says."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from framevis.deviations import CAUSES
from framevis.errors import BadInput, problem
from framevis.pictures.controls import BOX_EM, switch_place
from framevis.pictures.ink import text_width
from framevis.pictures.keys import COMMANDS, command_for, help_rows
from framevis.pictures.numbered import free_name
from framevis.pictures.opengl import probe
from framevis.pictures.scene import build_scene
from framevis.pictures.window import Window
from picture.fake_study import make_study

STAGES = ("as_found", "as_left")


def load_stage(stage):
    """As left, everything is straight; as found, it is the story; other stages have no readings."""
    if stage == "lost":
        raise BadInput(problem("readings/lost", "no readings", "take some"))
    return make_study(known={} if stage == "as_left" else None, stage=stage)


@pytest.fixture
def made(tmp_path):
    """Builds windows of a size, off-screen."""
    assert probe() is None
    import pyvista as pv

    plotters = []

    def make(size=(1280, 720), **more):
        values = {"stages": STAGES, "load_stage": load_stage, "folder": tmp_path} | more
        window, plotter = Window(make_study(), **values), pv.Plotter(off_screen=True, window_size=list(size))
        plotters.append(plotter)
        window.build(plotter)
        return window, plotter

    yield make
    for plotter in plotters:
        plotter.close()


def words(window, plotter):
    plotter.render_window.Render()
    return window.drawing.ink.words


def over(window, plotter):
    plotter.render_window.Render()
    return window.overlay.ink.words


def test_help_lists_every_key_and_every_command_has_one(made):
    window, plotter = made()
    assert set(window._acts) | {"left", "right", "more", "less", "back", "forward"} == {c.name for c in COMMANDS}
    symbols = [symbol for command in COMMANDS for symbol in command.symbols]
    assert len(symbols) == len(set(symbols))
    window.press("question")
    listed = over(window, plotter)
    for key, does in help_rows():
        assert key in listed
        assert does in listed
    window.press("q")  # closes the list, not the window
    assert "Keys" not in over(window, plotter)


def test_a_real_key_press_reaches_its_command(made):
    window, plotter = made()
    interactor = plotter.iren.interactor
    interactor.SetKeyEventInformation(0, 0, "r", 0, "r")
    interactor.InvokeEvent("KeyPressEvent")
    interactor.InvokeEvent("CharEvent")
    assert window.drawing.risk
    assert command_for("R") is command_for("r")
    assert command_for("F12") is None


@pytest.mark.parametrize(
    ("symbol", "name"),
    [(str(i + 1), cause) for i, cause in enumerate(CAUSES)]
    + [("g", "ghost"), ("l", "labels"), ("a", "readings"), ("r", "risk"), ("s", "section")]
    + [("v", "perspective"), ("question", "help"), ("space", "play")],
)
def test_a_switched_key_turns_it_over_and_back(made, symbol, name):
    window, _ = made(size=(640, 400))
    before = window.states()
    window.press(symbol)
    assert {k for k, v in window.states().items() if v != before[k]} == {name}
    window.press(symbol)
    assert window.states() == before


def test_switches_show_what_keys_did(made):
    window, _ = made()
    window.press("3")
    assert window.switches["opening"].GetRepresentation().GetState() == 0
    window.press("0")
    assert window.causes == CAUSES
    assert window.switches["opening"].GetRepresentation().GetState() == 1


def test_labels_off_leaves_no_block_named(made):
    window, plotter = made()
    assert "front_outer" in words(window, plotter)
    window.press("l")
    assert "front_outer" not in words(window, plotter)


def test_every_control_has_its_words_and_its_key(made):
    window, plotter = made()
    written = words(window, plotter)
    for name in window.switches:
        assert sum(text.startswith(f"{name} · ") for text in written) == 1
    for text in ("magnification", "left + right at", "tool at", "section of left at"):
        assert any(text in word for word in written)


@pytest.mark.parametrize("size", [(1280, 720), (1280, 800), (3840, 2160)])
def test_words_beside_a_switch_end_before_the_next_and_are_legible(made, size):
    window, _ = made(size=size)
    em, many = window._shown.type_px, len(window.switches)
    px = window.controls._fitting_px(size[0], em)
    assert px >= 10.5 * size[1] / 720 * 0.95
    step = switch_place(1, many, size[0], em)[0] - switch_place(0, many, size[0], em)[0]
    for says in window.controls._beside_switch.values():
        assert 1.5 * BOX_EM * em + text_width(says(), px) < step


def test_plus_and_minus_magnify_and_arrows_move_the_chosen_carriage(made):
    window, _ = made()
    was, at = window.magnification, dict(window.scene.positions)
    window.press("plus")
    assert window.magnification == pytest.approx(1.25 * was)
    window.press("minus")
    assert window.magnification == pytest.approx(was)
    window.press("Left")
    assert window.scene.positions["left"] == pytest.approx(at["left"] - 13.4)  # a hundredth of the travel
    window.press("c")
    assert window.chosen.name == "tool"
    window.press("Right")
    assert window.scene.positions["tool"] == pytest.approx(at["tool"] + 8.2)
    window._released("Right")
    assert window.smooth
    assert not window.inexact


def test_the_views_look_where_they_say(made):
    window, plotter = made()
    toward = {"x": [0, -1, 0], "y": [1, 0, 0], "z": [0, 0, 1]}  # left beam: s = +y, t = −x
    for symbol, eye in toward.items():
        window.press(symbol)
        assert window.camera_axes[2] == pytest.approx(np.array(eye, dtype=float), abs=1e-9)
    wide = plotter.camera.GetParallelScale()
    window.press("w")
    assert plotter.camera.GetParallelScale() < 0.4 * wide
    window.press("h")
    assert plotter.camera.GetParallelScale() > 0.5 * wide


def test_the_next_beam_is_cut_and_looked_along(made):
    window, _ = made()
    window.press("b")
    assert window.section.beam == "right"
    window.press("b")
    window.press("x")
    assert window.camera_axes[2] == pytest.approx([-1.0, 0.0, 0.0])


@pytest.mark.parametrize("perspective", [False, True])
def test_points_are_written_where_they_are_drawn(made, perspective):
    from framevis.pictures.lens import projection

    window, plotter = made()
    if perspective:
        window.press("v")
    point = np.array([[850.0, 1200.0, 30.0], [0.0, 100.0, -60.0]])
    for place, pixel in zip(point, projection(plotter.camera, (1280, 720)).pixels(point), strict=True):
        plotter.renderer.SetWorldPoint(*place, 1.0)
        plotter.renderer.WorldToDisplay()
        assert pixel == pytest.approx(plotter.renderer.GetDisplayPoint()[:2], abs=0.6)


def test_perspective_keeps_the_size_of_the_middle_and_goes_back(made):
    window, plotter = made()
    scale = plotter.camera.GetParallelScale()
    window.press("v")
    assert not plotter.camera.GetParallelProjection()
    assert "in the middle of the view" in words(window, plotter)
    window.press("v")
    assert plotter.camera.GetParallelProjection()
    assert plotter.camera.GetParallelScale() == pytest.approx(scale)


def test_the_section_is_written_in_and_follows_its_station(made):
    window, plotter = made()
    window.press("s")
    said = over(window, plotter)
    assert any(text.startswith("Section of left at") for text in said)
    assert any(text.startswith(("opening", "closing")) for text in said)
    assert sum("rolls" in text for text in said) == 2
    at = window.station_mm
    window.press("bracketleft")
    assert window.station_mm == pytest.approx(at - 10.0)
    window.sliders["section"].GetRepresentation().SetValue(0.5)
    window.sliders["section"].InvokeEvent("InteractionEvent")
    assert f"Section of left at {0.5 * 1500:.0f} mm" in over(window, plotter)
    window.press("Escape")
    assert not any(text.startswith("Section of") for text in over(window, plotter))


def test_the_stage_is_switched_and_one_without_readings_is_refused(made):
    window, plotter = made(stages=(*STAGES, "lost"))
    block = plotter.actors["block left/front_outer"]
    colour = block.GetProperty().GetColor()
    window.press("n")
    assert window.study.stage == "as_left"
    assert any("stage as_left" in text for text in words(window, plotter))
    for part in window.scene.parts:
        assert np.array_equal(window.drawing.bodies[part.key].surface.points, part.vertices)
    window.press("n")
    assert window.study.stage == "as_left"
    assert any("no readings" in text for text in over(window, plotter))
    window.set_stage("as_found")
    assert window.study.stage == "as_found"
    assert block.GetProperty().GetColor() == colour


def test_with_one_stage_there_is_no_stage_switch(made):
    window, plotter = made(stages=(), load_stage=None)
    assert "next stage" not in window.switches
    window.press("n")
    assert "only stage as_found was given" in over(window, plotter)


def test_a_picture_is_written_under_a_new_name_each_time(made, tmp_path):
    window, plotter = made(size=(400, 300))
    for number in (1, 2):
        window.press("p")
        path = tmp_path / f"Tile_glazing_table_as_found_00{number}.png"
        assert path.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"
        assert window.options.said == f"picture written: {path}"
    assert len(list(tmp_path.iterdir())) == 2
    x, y = switch_place(12, len(window.switches), 400, window._shown.type_px)
    with Image.open(path) as picture:  # where a switch is on the window, the picture has only its ground
        pixels = np.asarray(picture.convert("L"))[299 - int(y) - 12 : 299 - int(y), int(x) : int(x) + 12]
    assert pixels.min() > 200
    for widget in (*window.sliders.values(), *window.switches.values()):  # hidden only for the picture
        assert plotter.renderer.HasViewProp(widget.GetRepresentation())
    assert window.drawing.low_px > 0.0
    window.options.folder = tmp_path / "nowhere"
    window.press("p")
    assert "can't be written" in window.options.said


def test_names_of_pictures_hold_no_slashes(tmp_path):
    assert free_name(tmp_path, "../a b/c", "as_found").name == "a_b_c_as_found_001.png"


def test_everything_is_laid_out_anew_when_the_window_changes_its_size(made):
    window, plotter = made()
    small = window.sliders["magnification"].GetRepresentation().GetSliderWidth() * 720
    type_px = window._shown.type_px
    plotter.window_size = [2560, 1440]
    plotter.render_window.Render()
    assert window._shown.type_px == pytest.approx(2.0 * type_px)
    large = window.sliders["magnification"].GetRepresentation().GetSliderWidth() * 1440
    assert large == pytest.approx(2.0 * small)
    em, many = window._shown.type_px, len(window.switches)
    for i, switch in enumerate(window.switches.values()):
        x, y = switch_place(i, many, 2560, em)
        look = switch.GetRepresentation()
        assert look.ComputeInteractionState(round(x + 0.6 * em), round(y + 0.6 * em), 0) == 1
        assert look.ComputeInteractionState(round(x + 2.5 * em), round(y + 0.6 * em), 0) == 0
    assert window.drawing.low_px == pytest.approx(window._shown.low_px)


def test_the_frame_keeps_its_story_in_another_unit(made):
    study = make_study()
    study = replace(study, frame=replace(study.frame, length_unit="in"))
    assert Window(study)._say_station().endswith(" in")


def test_the_ghost_goes_from_as_drawn_to_the_first_stage_to_off(made):
    window, plotter = made()
    window.press("n")
    assert window.study.stage == "as_left"
    body = window.drawing.bodies["beam", "left"]
    as_drawn = np.array(body.ghost.points)
    assert as_drawn == pytest.approx(body.part.vertices)
    window.press("g")
    assert "ghost, blue lines: stage as_found" in words(window, plotter)
    found = load_stage("as_found")
    wanted = build_scene(found, window.scene.positions).part("beam", "left")
    shown = wanted.vertices + window.magnification * wanted.displaced_um(window.causes) / 1000.0
    assert np.asarray(body.ghost.points) == pytest.approx(shown, abs=1e-3)
    assert np.abs(shown - as_drawn).max() > 1.0
    window.set_magnification(2.0 * window.magnification)
    assert np.asarray(body.ghost.points) - as_drawn == pytest.approx(2.0 * (shown - as_drawn), abs=2e-3)
    before = np.array(window.drawing.bodies["beam", "cross"].ghost.points)
    window.set_position(window.groups[0], 300.0)
    assert np.abs(np.asarray(window.drawing.bodies["beam", "cross"].ghost.points) - before).max() > 100.0
    window.press("g")
    assert not window.states()["ghost"]
    window.press("g")
    assert window.states()["ghost"]
    assert np.asarray(body.ghost.points) == pytest.approx(as_drawn)
    assert not any("ghost, blue" in text for text in words(window, plotter))


def test_another_stage_has_the_frame_as_drawn_for_its_ghost(made):
    window, _ = made()
    window.press("n")
    window.press("g")
    assert window.drawing.earlier is not None
    window.press("n")
    assert window.study.stage == "as_found"
    assert window.drawing.earlier is None
