"""Readings as arrows and the ribbon of risk: where they stand, how long they are, what they say."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from framevis.frame import Edge, Stage, Sweep, SweepReadings, locked
from framevis.pictures.arrows import arrows_of
from framevis.pictures.opengl import probe
from framevis.pictures.risk_strip import COLOURS, merged_levels, strips_of
from framevis.pictures.window import Window
from framevis.ribbon import Ribbon, ribbons
from picture.fake_study import FakeStudy, make_study


@dataclass(frozen=True, eq=False)
class ReadStudy(FakeStudy):
    readings: Stage = None


def taken(sweep, stations, values):
    many = len(values)
    return SweepReadings(
        sweep, locked(stations), locked(values), locked(np.ones(many)), locked(np.arange(many)), tuple(range(many))
    )


def read_study(*sweeps, known=None, **more):
    study = make_study(known={} if known is None else known)
    frame = replace(study.frame, **more)
    return ReadStudy(frame, "as_found", study.deviations, study.carriages, Stage("as_found", sweeps))


FRAME = make_study().frame
OUTER, INNER = FRAME.rail("left_outer"), FRAME.rail("left_inner")  # seats −57.5 and 57.5, beam along y, t = −x
INDICATOR = Sweep("height", "indicator", 2.0, (OUTER,), direction="height")
SIDEWAYS = Sweep("side", "indicator", 2.0, (OUTER,), direction="lateral", sign=-1.0)
BRIDGE = Sweep("bridge", "bridge", 2.0, (OUTER, INNER), direction="lateral")
ROLL = Sweep("roll", "level_across", 0.02, (OUTER,))
PAIR = Sweep("pair", "level_across", 0.02, (OUTER, INNER))
ALONG = Sweep("along", "level_along", 0.02, (INNER,), base_mm=150.0)
GAP = Sweep("gap", "gap", 5.0, touches=(Edge(OUTER, "left"), Edge(OUTER, "right")), feeler_at=Edge(INNER, "right"))
MOUTH = Sweep("mouth", "mouth", 10.0, beam=FRAME.beam("left"))


@pytest.mark.parametrize(
    ("sweep", "value", "foot", "along", "word"),
    [
        (INDICATOR, 20.0, (57.5, 400, 10), (0, 0, 20), "+20 µm"),
        (SIDEWAYS, 20.0, (57.5, 400, 6.5), (20, 0, 0), "+20 µm"),  # plus means right: away from t
        (BRIDGE, -12.0, (-57.5, 400, 10), (12, 0, 0), "-12 µm"),
        (ROLL, 1.5, (41.5, 400, 10), (0, 0, 48), "+1.50 mrad"),  # over the block's 32 mm, at its left edge
        (PAIR, 0.5, (-57.5, 400, 10), (0, 0, 57.5), "+0.50 mrad"),  # over the 115 mm between the rails
        (ALONG, 0.1, (-57.5, 475, 10), (0, 0, 15), "+0.10 mrad"),  # over its base of 150 mm, at the front
        (GAP, 45.0, (-41.5, 400, 16), (0, 0, 45), "+45 µm"),
        (MOUTH, 110_200.0, (-60, 400, 0), (-100, 0, 0), "110.20 mm"),  # half of the 200 µm on each side
    ],
)
def test_an_arrow_stands_at_its_reading_and_is_as_long_as_it(sweep, value, foot, along, word):
    arrows = arrows_of(read_study(taken(sweep, [400.0], [value])))
    assert arrows[0].feet.points[0] == pytest.approx(foot)
    assert arrows[0].along[0] == pytest.approx(along)
    assert arrows[0].words == (word,)


def test_the_mouths_second_arrow_goes_the_other_way_and_says_nothing():
    left, right = arrows_of(read_study(taken(MOUTH, [400.0], [110_200.0])))
    assert right.along == pytest.approx(-left.along)
    assert right.words == ("",)


def test_repeated_readings_are_one_arrow_and_inch_frames_speak_of_thou():
    study = read_study(taken(INDICATOR, [400.0, 400.0, 500.0], [20.0, 30.8, 0.0]), length_unit="in")
    (arrows,) = arrows_of(study)
    assert arrows.words == ("+1.0 thou", "+0.0 thou")


@pytest.fixture
def built():
    """Builds a window on a study, off-screen."""
    assert probe() is None
    import pyvista as pv

    plotters = []

    def make(study):
        window, plotter = Window(study, magnification=200.0), pv.Plotter(off_screen=True, window_size=[1280, 720])
        plotters.append(plotter)
        window.build(plotter)
        return window, plotter

    yield make
    for plotter in plotters:
        plotter.close()


def test_arrows_are_written_with_their_numbers_and_swept_one_by_one(built):
    window, plotter = built(read_study(taken(INDICATOR, [400.0], [20.0]), taken(ROLL, [900.0], [1.5])))
    window.press("a")
    plotter.render_window.Render()
    assert {"+20 µm", "+1.50 mrad"} <= set(window.drawing.ink.words)
    for only, there, gone in (("height", "+20 µm", "+1.50 mrad"), ("roll", "+1.50 mrad", "+20 µm")):
        window.press("d")
        plotter.render_window.Render()
        assert window.drawing.only == only
        assert there in window.drawing.ink.words
        assert gone not in window.drawing.ink.words
    window.press("d")
    assert window.drawing.only is None


def test_feet_of_arrows_follow_their_warped_rail(built):
    window, _ = built(read_study(taken(INDICATOR, [750.0], [20.0]), known=make_study().deviations.known))
    (arrows,) = window.drawing.arrows
    rail = window.scene.part("rail", "left_outer")
    shown = window.drawing.points(rail)
    top = rail.vertices[:, 2] == 10.0
    nearest = shown[top][np.abs(rail.vertices[top, 1] - 750.0) < 20.0]
    foot = window.drawing.riding(arrows.feet)[0]
    assert np.min(np.linalg.norm(nearest - foot, axis=1)) < 22.0
    assert np.linalg.norm(foot - arrows.feet.points[0]) > 1.0


def test_the_ribbons_steps_are_its_levels():
    study = make_study()
    by_rail = {strip.rail.name: strip for strip in strips_of(study)}
    for ribbon in ribbons(study):
        strip = by_rail[ribbon.rail.name]
        places, levels = merged_levels([ribbon])
        assert strip.levels == levels
        for i, level in enumerate(levels):
            assert level == max(ribbon.level[i], ribbon.level[i + 1])
            assert tuple(strip.colours[i]) == COLOURS[level]
            corners = strip.points.points[strip.quads[i]] - ribbon.rail.point(0.0)
            across = corners @ ribbon.rail.axes[1]
            assert np.ptp(across) == pytest.approx((0.4, 0.9, 1.4, 1.9)[level] * 15.0)
        assert len(places) == len(levels) + 1


def test_bars_cross_binding_stretches_and_no_free_ones():
    study = make_study()
    ratio = study.carriages[0].blocks[0].drag_ratio * 2.0  # up to 4: binding
    blocks = tuple(replace(b, drag_ratio=ratio, drag_ratio_p95=ratio) for b in study.carriages[0].blocks)
    study = replace(study, carriages=(replace(study.carriages[0], blocks=blocks), *study.carriages[1:]))
    strip = next(s for s in strips_of(study) if s.rail.name == "left_outer")
    barred = {int(a) // 4 for a, _ in strip.bars}
    assert {i for i, level in enumerate(strip.levels) if level == 3} <= barred
    assert not barred & {i for i, level in enumerate(strip.levels) if level < 2}
    assert 3 in strip.levels


def test_two_carriages_on_a_rail_show_the_worse_of_both():
    rail = OUTER
    one = Ribbon("a", rail, locked([0.0, 20.0, 40.0]), *(locked([1.0] * 3),) * 2, (0, 0, 2))
    two = Ribbon("b", rail, locked([20.0, 40.0, 60.0]), *(locked([1.0] * 3),) * 2, (1, 1, 3))
    places, levels = merged_levels([one, two])
    assert places == pytest.approx([0.0, 20.0, 40.0, 60.0])
    assert levels == (1, 2, 3)


def test_the_strip_lies_on_the_warped_rail_in_the_window(built):
    window, plotter = built(make_study())
    window.press("r")
    for magnification in (100.0, 400.0):
        window.set_magnification(magnification)
        for strip, surface, actors in window.drawing.strips:
            rail = window.scene.part("rail", strip.rail.name)
            top = window.drawing.points(rail) @ strip.rail.axes[2]
            high = np.array(surface.points) @ strip.rail.axes[2]
            assert all(actor.GetVisibility() for actor in actors)
            assert top.min() < high.mean() < top.max() + 5.0
    plotter.render_window.Render()
    assert {"risk along the rails:", "free", "may be tight", "tight", "binding"} <= set(window.overlay.ink.words)
    window.press("r")
    assert not any(actor.GetVisibility() for _, _, actors in window.drawing.strips for actor in actors)
