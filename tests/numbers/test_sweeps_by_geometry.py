"""What each sweep sees, against plain geometry: rails moved as rigid sections in space, gaps and slopes measured."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from framevis.deviations import Deviations, rail_weights
from framevis.frame import Floats, Frame, Rail, Sweep
from framevis.observe import across_mm, companion_stations, view
from framevis.reading.frame_file import read_frame
from machines import portal, rough, write


@pytest.fixture(scope="module", params=["same way", "right beam turned"])
def frame(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Frame:
    tree = portal()
    tree["sweep"]["ac_tops"] = {
        "kind": "gap", "touches": [["a", "left"], ["c", "left"]], "feeler_at": ["c", "right"], "u_um": 4.0,
    }  # fmt: skip
    if request.param == "right beam turned":
        beam = tree["beam"]["right"]
        beam["start"], beam["end"] = beam["end"], beam["start"]
        tree["rail"]["c"]["seat"] *= -1.0
    return read_frame(write(tmp_path_factory.mktemp("frame"), tree, {}))


@pytest.fixture(scope="module")
def shape(frame: Frame) -> Deviations:
    return rough(frame, 17)


STATION = 430.0


def moved(shape: Deviations, rail: Rail, station: float, across: float, up: float) -> Floats:
    """Where a point of a rail's section (mm from its seat) lies once the rail has deviated, machine mm."""
    s = np.array([station])
    lateral = shape.along(rail_weights(rail, "lateral", up_mm=0.0), s)[0] / 1000.0
    height = shape.along(rail_weights(rail, "height"), s)[0] / 1000.0
    roll = shape.along(rail_weights(rail, "roll"), s)[0] / 1000.0
    along, left, out = rail.axes
    arm = left * across + out * up
    return rail.point(station) + left * lateral + out * height + arm + np.cross(along * roll, arm)


def seen(shape: Deviations, sweep: Sweep, station: float = STATION) -> float:
    what = view(sweep, np.array([station]))
    return what.constant + sum(shape.along(part.weights, part.station_mm)[0] for part in what.parts)


def sweep_of(frame: Frame, name: str) -> Sweep:
    return next(sweep for sweep in frame.sweeps if sweep.name == name)


@pytest.mark.parametrize("name", ["ab_tops", "ac_tops"])
def test_gap_under_a_straightedge(frame: Frame, shape: Deviations, name: str) -> None:
    sweep = sweep_of(frame, name)
    assert sweep.feeler_at is not None
    base, points = sweep.touches[0].rail, []
    for edge in (*sweep.touches, sweep.feeler_at):
        station = companion_stations(base, edge.rail, np.array([STATION]))[0]
        half = (16.0 if edge.side == "left" else -16.0)
        points.append(moved(shape, edge.rail, station, half, edge.rail.guide.block_height_mm))
    a, b, c = [(point @ base.axes[1], point @ base.axes[2]) for point in points]
    line = a[1] + (b[1] - a[1]) * (c[0] - a[0]) / (b[0] - a[0])
    assert seen(shape, sweep) == pytest.approx(1000.0 * (line - c[1]), abs=0.05)  # second order: some 10 nm


def test_indicator_at_the_height_of_the_balls(frame: Frame, shape: Deviations) -> None:
    rail = frame.rail("a")
    offset = moved(shape, rail, STATION, 0.0, 6.5) - rail.point(STATION, 6.5)
    assert seen(shape, sweep_of(frame, "a_lateral")) == pytest.approx(1000.0 * offset @ rail.axes[1], abs=0.01)
    assert seen(shape, sweep_of(frame, "a_height")) == pytest.approx(1000.0 * offset @ rail.axes[2], abs=0.01)


def test_bridge_from_one_rail_to_another(frame: Frame, shape: Deviations) -> None:
    a, c = frame.rail("a"), frame.rail("c")
    there = companion_stations(a, c, np.array([STATION]))[0]
    offset = [moved(shape, rail, s, 0.0, 6.5) - rail.point(s, 6.5) for rail, s in ((a, STATION), (c, there))]
    apart = 1000.0 * (offset[1] - offset[0])
    assert seen(shape, sweep_of(frame, "ac_lateral")) == pytest.approx(apart @ a.axes[1], abs=0.01)
    assert seen(shape, sweep_of(frame, "ac_height")) == pytest.approx(apart @ a.axes[2], abs=0.01)


def test_level_across_two_rails_and_one(frame: Frame, shape: Deviations) -> None:
    a, c = frame.rail("a"), frame.rail("c")
    there = companion_stations(a, c, np.array([STATION]))[0]
    tops = [moved(shape, rail, s, 0.0, 0.0) for rail, s in ((a, STATION), (c, there))]
    tilt = (tops[1] - tops[0]) @ a.axes[2] / across_mm(a, c)
    assert seen(shape, sweep_of(frame, "ac_roll")) == pytest.approx(1000.0 * tilt, abs=1e-4)
    edges = [moved(shape, c, STATION, half, 10.0) for half in (-7.5, 7.5)]
    tilt = (edges[1] - edges[0]) @ c.axes[2] / 15.0
    assert seen(shape, sweep_of(frame, "c_roll")) == pytest.approx(1000.0 * tilt, abs=1e-4)


def test_level_stepped_along(frame: Frame, shape: Deviations) -> None:
    c = frame.rail("c")
    feet = [moved(shape, c, STATION + half, 0.0, 0.0) @ c.axes[2] for half in (-50.0, 50.0)]
    assert seen(shape, sweep_of(frame, "c_along")) == pytest.approx(1000.0 * (feet[1] - feet[0]) / 100.0, abs=1e-4)


def test_calliper_across_the_mouth(frame: Frame, shape: Deviations) -> None:
    """Both flanges' tips, from the same field that warps the picture's section."""
    from framevis.opening import opening_motion

    beam = frame.beam("left")
    tips = [opening_motion(beam.section, np.array(t), np.array(-60.0), np.array(True)) for t in (-57.0, 57.0)]
    opening = shape.value(("opening", "left"), np.array([STATION]))[0]
    wider = (float(tips[1][0]) - float(tips[0][0])) * opening
    assert seen(shape, sweep_of(frame, "mouth")) == pytest.approx(wider, rel=1e-12)


def test_the_beams_own_side_shows_only_what_the_rail_has_of_its_own(frame: Frame, shape: Deviations) -> None:
    from dataclasses import replace

    sweep = replace(sweep_of(frame, "a_lateral"), reference="face")
    own = shape.value(("own_lateral", "a"), np.array([STATION]))[0]
    assert seen(shape, sweep) == pytest.approx(own)


def test_frame_is_read_from_a_folder(frame: Frame) -> None:
    assert isinstance(frame.folder, Path)
