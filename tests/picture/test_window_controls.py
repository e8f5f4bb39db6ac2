"""The window's controls, driven off-screen: they move the points that they say they move."""

from __future__ import annotations

from math import log10

import numpy as np
import pytest

from framevis.errors import BadInput
from framevis.pictures.opengl import probe
from framevis.pictures.window import Window, slots
from picture.fake_study import make_study


@pytest.fixture
def built():
    """A window built into an off-screen plotter, and the plotter."""
    assert probe() is None
    import pyvista as pv

    window, plotter = Window(make_study()), pv.Plotter(off_screen=True, window_size=[800, 500])
    window.build(plotter)
    plotter.render_window.Render()
    yield window, plotter
    plotter.close()


def shown(window, role, name):
    return np.array(window.drawing.bodies[role, name].surface.points)


def slide(window, name, value):
    slider = window.sliders[name]
    slider.GetRepresentation().SetValue(value)
    for event in ("StartInteractionEvent", "InteractionEvent"):
        slider.InvokeEvent(event)


def press(window, name, on):
    button = window.switches[name]
    button.GetRepresentation().SetState(int(on))
    button.InvokeEvent("StateChangedEvent")


def test_the_magnification_slider_is_logarithmic_and_moves_points(built):
    window, plotter = built
    part = window.scene.part("beam", "left")
    for magnification in (1.0, 40.0, 3000.0):
        slide(window, "magnification", log10(magnification))
        assert window.magnification == pytest.approx(magnification)
        expected = part.vertices + window.magnification * part.displaced_um() / 1000.0
        assert shown(window, "beam", "left") == pytest.approx(expected, abs=1e-9)
        plotter.render_window.Render()
        words = window.drawing.ink.words
        assert any(w.endswith(f"drawn ×{magnification:.0f}") for w in words)
        assert f"magnification ×{magnification:.0f}" in words


def test_points_stay_float64(built):
    window, _ = built
    assert all(body.surface.points.dtype == np.float64 for body in window.drawing.bodies.values())


def test_a_cause_switched_off_leaves_the_others(built):
    window, plotter = built
    press(window, "opening", False)
    part = window.scene.part("beam", "left")
    expected = window.scene.points(part, window.magnification, ("bow", "twist", "own", "shims"))
    assert shown(window, "beam", "left") == pytest.approx(expected, abs=1e-9)
    plotter.render_window.Render()
    assert any("only bow + twist + rail's own + shims" in words for words in window.drawing.ink.words)
    press(window, "opening", True)
    assert shown(window, "beam", "left") == pytest.approx(window.scene.points(part, window.magnification), abs=1e-9)


def test_all_causes_off_is_the_machine_as_drawn(built):
    window, _ = built
    for name in ("bow", "twist", "opening", "rail's own", "shims"):
        press(window, name, False)
    for part in window.scene.parts:
        assert np.array_equal(shown(window, *part.key), part.vertices)


def test_the_ghost_switch_hides_what_is_drawn_thin(built):
    window, _ = built
    ghosts = [body.ghost_actor for body in window.drawing.bodies.values() if body.ghost_actor is not None]
    press(window, "ghost", False)
    assert not any(ghost.GetVisibility() for ghost in ghosts)
    press(window, "ghost", True)
    assert all(ghost.GetVisibility() for ghost in ghosts)


def test_a_carriage_slider_moves_the_carriage_and_says_where(built):
    window, plotter = built
    was, still = window.scene, shown(window, "block", "left/front_outer")
    slide(window, "tool", 700.0)
    old, new = (scene.part("block", "tool/front_outer") for scene in (was, window.scene))
    assert (new.vertices - old.vertices)[:, 0] == pytest.approx(700.0 - was.positions["tool"])
    on_screen = window.scene.points(new, window.magnification)
    assert np.array_equal(shown(window, "block", "tool/front_outer"), on_screen)
    assert np.array_equal(shown(window, "block", "left/front_outer"), still)
    plotter.render_window.Render()
    assert any("tool at 700 mm" in words for words in window.drawing.ink.words)


def test_one_slider_moves_both_carriers_and_what_they_carry(built):
    window, _ = built
    slide(window, "left + right", 400.0)
    assert window.scene.positions["left"] == window.scene.positions["right"] == pytest.approx(400.0)
    ghost = np.array(window.drawing.bodies["beam", "cross"].ghost.points)
    assert ghost[:, 1].mean() == pytest.approx(400.0)
    assert set(window.sliders) == {"magnification", "left + right", "tool", "section"}


def test_smooth_when_still_and_fast_while_moving(built):
    window, _ = built
    assert window.smooth
    slide(window, "magnification", 2.0)
    assert not window.smooth
    window.sliders["magnification"].InvokeEvent("EndInteractionEvent")
    assert window.smooth


def test_the_window_opens_as_asked():
    window = Window(make_study(), magnification=50.0, positions={"right": 300.0}, causes=["bow"], ghost=False)
    assert (window.magnification, window.causes, window.ghost) == (50.0, ("bow",), False)
    assert window.scene.positions["left"] == 300.0
    with pytest.raises(BadInput, match="did you mean"):
        Window(make_study(), positions={"rigth": 300.0})


def test_sliders_never_lie_on_one_another():
    for many in range(1, 12):
        made = slots(many, 1280, 720)
        for i, a in enumerate(made):
            assert 0.0 < a.left < a.right < 1.0
            assert all(a.right <= b.left or b.right <= a.left or abs(a.y - b.y) * 720 > 40 for b in made[i + 1 :])
