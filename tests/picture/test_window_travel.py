"""Dragging and play: in between, parts go linearly; once still, everything is exact."""

from __future__ import annotations

import numpy as np
import pytest

from framevis.pictures.between import STEP_MM, Sums, Track, neighbours
from framevis.pictures.opengl import probe
from framevis.pictures.playing import THERE_S, Play
from framevis.pictures.scene import build_scene, resolve_positions, worst_positions
from framevis.pictures.travel import travel_groups
from framevis.pictures.window import Window
from picture.fake_study import every_function, gantry, make_study


@pytest.fixture
def window():
    assert probe() is None
    import pyvista as pv

    window, plotter = Window(make_study()), pv.Plotter(off_screen=True, window_size=[640, 400])
    window.build(plotter)
    yield window
    plotter.close()


def track_and_scene(study):
    track = Track(study, Sums())
    places = resolve_positions(study.frame, {}, worst_positions(study))
    return track, build_scene(track.study, places)


def test_in_between_a_scene_is_within_a_micrometre_of_the_exact_one():
    study = make_study(known=every_function(gantry(), 0.3))
    track, scene = track_and_scene(study)
    for group in travel_groups(study.frame):
        for leader_mm in (412.3, 507.9):
            near = track.near(scene, group, leader_mm)
            exact = build_scene(study, {**scene.positions, **group.positions(leader_mm)})
            for a, b in zip(near.parts, exact.parts, strict=True):
                assert a.key == b.key
                assert a.vertices == pytest.approx(b.vertices, abs=1e-9)
                assert a.displaced_um() == pytest.approx(b.displaced_um(), abs=1.0)
                assert a.displaced_um(["twist"]) == pytest.approx(b.displaced_um(["twist"]), abs=1.0)


def test_parts_that_stay_are_the_same_and_places_worked_out_are_exact():
    study = make_study()
    track, scene = track_and_scene(study)
    group = next(g for g in travel_groups(study.frame) if g.name == "tool")
    low = group.range_mm[0] + 5 * STEP_MM
    near = track.near(scene, group, low)
    assert near.part("beam", "left") is scene.part("beam", "left")
    exact = build_scene(study, near.positions)
    assert np.array_equal(near.part("plate", "tool").displaced_um(), exact.part("plate", "tool").displaced_um())


def test_settling_makes_everything_exact_again():
    study = make_study()
    track, scene = track_and_scene(study)
    group = travel_groups(study.frame)[0]
    settled = track.exact(track.near(scene, group, 777.7))
    exact = build_scene(study, settled.positions)
    for a, b in zip(settled.parts, exact.parts, strict=True):
        assert np.array_equal(a.displaced_um(), b.displaced_um())


def test_the_pose_in_between_is_near_the_exact_one():
    study = make_study()
    track, _ = track_and_scene(study)
    for position in (80.0, 333.3, 1420.0):
        quick, exact = track.quick.pose("left", position), study.pose("left", position)
        assert quick.point_mm == pytest.approx(exact.point_mm)
        for cause in exact.shift_um:
            assert quick.shift_um[cause] == pytest.approx(exact.shift_um[cause], abs=0.5)
            assert quick.turn_mrad[cause] == pytest.approx(exact.turn_mrad[cause], abs=0.01)


def test_neighbours_stay_on_the_travel():
    assert neighbours(80.0, 1420.0, 80.0) == (80.0, 100.0)
    assert neighbours(80.0, 1415.0, 1415.0) == (1400.0, 1415.0)
    assert neighbours(80.0, 1420.0, 1420.0) == (1420.0, 1420.0)
    assert neighbours(50.0, 50.0, 50.0) == (50.0, 50.0)


def test_places_are_worked_out_ahead_until_none_is_left():
    study = make_study()
    track, scene = track_and_scene(study)
    groups = travel_groups(study.frame)
    many = 0
    while track.warm(scene, groups):
        many += 1
    assert many == (1340 // 20 + 1) + (820 // 20 + 1)


def test_dragging_goes_in_between_and_release_is_exact(window):
    slider = window.sliders["left + right"]
    slider.InvokeEvent("StartInteractionEvent")
    assert not window.smooth
    slider.GetRepresentation().SetValue(555.5)
    slider.InvokeEvent("InteractionEvent")
    assert window.scene.positions["left"] == pytest.approx(555.5)
    assert window.inexact
    slider.InvokeEvent("EndInteractionEvent")
    assert window.smooth
    exact = build_scene(window.study, window.scene.positions)
    for part in exact.parts:
        points = exact.points(part, window.magnification)
        assert np.array_equal(window.drawing.bodies[part.key].surface.points, points)


def test_play_advances_and_stops(window):
    start = window.scene.positions["left"]
    window.press("space")
    window.tick(0.2)
    went = window.scene.positions["left"]
    assert abs(went - start) == pytest.approx(0.2 * 1340.0 / THERE_S)
    assert not window.smooth
    assert window.sliders["left + right"].GetRepresentation().GetValue() == pytest.approx(went)
    window.press("space")
    assert window.smooth
    window.tick(0.2)
    assert window.scene.positions["left"] == went


def test_other_keys_leave_play_running(window):
    window.press("space")
    window.press("g")
    window.press("plus")
    window._released("plus")
    assert window.options.playing
    assert not window.smooth
    window.press("space")
    assert window.smooth


def test_play_turns_round_at_the_ends():
    group = travel_groups(gantry())[1]  # the tool, 120 to 940 mm
    play, at, seen = Play(), 900.0, []
    for _ in range(400):
        at = play.next(group, at, 0.1)
        seen.append(at)
    assert max(seen) == 940.0
    assert min(seen) == 120.0
    assert play.next(group, 500.0, 100.0) == pytest.approx(500.0 + play.way * 0.25 * 820.0 / THERE_S)


def test_the_section_shown_while_playing_is_near_the_exact_one(window):
    window.press("s")
    window.set_station(800.0)
    window.move()
    window.set_position(window.groups[0], 755.5)
    quick = window.section
    window.be_still()
    exact = window.section
    for a, b in zip(quick.outlines, exact.outlines, strict=True):
        assert a.name == b.name
        for cause in a.displacement:
            assert a.displacement[cause] == pytest.approx(b.displacement[cause], abs=1.0)
