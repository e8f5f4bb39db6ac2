"""A plan in the picture: every piece at its spot and edge, as high as it is thick; runs, words, a stage as ghost."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from framevis.frame import BlockSpot, RailSpot
from framevis.pictures.camera import Projection
from framevis.pictures.draw import default_magnification, draw_scene
from framevis.pictures.labels import find_room
from framevis.pictures.opengl import probe
from framevis.pictures.picture import write_picture
from framevis.pictures.plan_labels import MOST_ROWS, rows_of
from framevis.pictures.plan_marks import MARK_COLOUR, marks_of
from framevis.pictures.scene import build_scene, resolve_positions, worst_positions
from framevis.plan import Fitting, Plan, RailPush
from framevis.planning.plan_runs import legend_lines, pieces, push_runs, runs, todo, where
from picture.fake_study import gantry, make_study
from picture.test_picture_file import pixels

SIZE = (1600, 1000)
STAIRS = tuple(
    Fitting(RailSpot(rail, screw, part), (10.0,) if screw < 28 else (20.0,))
    for screw in range(20, 36)
    for rail, part in (("left_outer", "right"), ("left_inner", "left"))
)
OUT = tuple(Fitting(RailSpot("right_outer", screw, "full"), (), (40.0,)) for screw in (4, 5, 6))
LESS = (Fitting(RailSpot("right_outer", 7, "full"), (20.0,), (20.0, 20.0)),)
BLOCK = (Fitting(BlockSpot("right", "rear_outer", "left"), (100.0, 40.0)),)
PUSHES = tuple(RailPush("right_inner", screw, -10.0 * screw) for screw in range(3, 9))


def plan_of(fittings=(*STAIRS, *OUT, *LESS, *BLOCK), pushes=PUSHES, study=None):
    study = make_study() if study is None else study
    return Plan(study, study, tuple(fittings), tuple(pushes), (), (), (0.0, 0.0), 0.0, True)


def scene_of(study):
    return build_scene(study, resolve_positions(study.frame, {}, worst_positions(study)))


def drawn(study, **more):
    assert probe() is None
    import pyvista as pv

    plotter = pv.Plotter(off_screen=True, window_size=list(SIZE))
    drawing = draw_scene(plotter, scene_of(study), **more)
    drawing.write()
    return plotter, drawing


def test_neighbours_with_equal_layers_are_one_run_in_the_order_of_work():
    made = runs((*STAIRS, *OUT, *LESS, *BLOCK))
    assert [(*where(run), todo(gantry(), run)) for run in made] == [
        ("left_outer", "20–27", "right edge", "10 µm"),
        ("left_inner", "20–27", "left edge", "10 µm"),
        ("left_outer", "28–35", "right edge", "20 µm"),
        ("left_inner", "28–35", "left edge", "20 µm"),
        ("right_outer", "4–6", "full width", "take out 40 µm"),
        ("right_outer", "7", "full width", "20 µm in place of 20 + 20 µm"),
        ("right/rear_outer", "", "left edge", "100 + 40 µm"),
    ]
    assert sum(len(run.fittings) for run in made) == len(STAIRS) + 5


def test_a_gap_between_screws_parts_a_run_and_both_directions_join():
    def at(*screws):
        return [Fitting(RailSpot("left_outer", screw, "left"), (10.0,)) for screw in screws]

    assert [run.screws for run in runs(at(1, 2, 4, 5))] == [(1, 2), (4, 5)]
    assert [run.screws for run in runs(at(9, 8, 7))] == [(7, 9)]
    assert [run.screws for run in push_runs(PUSHES)] == [(3, 8)]
    both = [RailPush("left_outer", 1, 5.0), RailPush("left_outer", 2, -5.0), RailPush("left_inner", 3, -5.0)]
    assert [run.largest_um for run in push_runs(both)] == [5.0, -5.0, -5.0]


def test_pieces_in_and_out_are_counted():
    put, out = pieces((*STAIRS, *OUT, *LESS, *BLOCK))
    assert put == ((10.0, 16), (20.0, 16), (40.0, 1), (100.0, 1))
    assert out == ((20.0, 1), (40.0, 3))
    swapped = Fitting(RailSpot("left_outer", 1, "left"), (20.0, 20.0), (40.0,))
    assert pieces([swapped]) == (((20.0, 2),), ((40.0, 1),))
    assert legend_lines(gantry(), plan_of()) == [
        "Shims to fit: 34 pieces (16 × 10 µm, 16 × 20 µm, 1 × 40 µm, 1 × 100 µm)",
        "Shims to take out: 4 pieces (1 × 20 µm, 3 × 40 µm)",
        "Rail right_inner to be pushed at 6 screws, at most 80 µm right",
    ]
    inches = replace(gantry(), length_unit="in")
    thin = Fitting(RailSpot("left_outer", 1, "left"), (25.4, 50.8))
    assert legend_lines(inches, plan_of([thin], ())) == ["Shims to fit: 2 pieces (1 × 1 thou, 1 × 2 thou)"]
    assert legend_lines(gantry(), plan_of((), ())) == ["Nothing to shim or push"]


def rigid_away(known):
    """A machine without deviations, so that a mark's place is plain geometry."""
    return make_study(known=known)


def marks(study, fittings, pushes=()):
    scene = scene_of(study)
    return marks_of(scene.memory, plan_of(fittings, pushes, study), scene.positions)


@pytest.mark.parametrize("part", ["left", "right", "full"])
@pytest.mark.parametrize("magnification", [1.0, 320.0])
def test_a_rail_s_mark_lies_at_its_screw_and_edge_and_is_as_high_as_it_is_thick(part, magnification):
    study = rigid_away({})
    rail = study.frame.rail("left_inner")
    (mark,) = marks(study, [Fitting(RailSpot("left_inner", 5, part), (40.0, 20.0))])
    points = (mark.points(magnification) - rail.point(0.0)) @ rail.axes.T
    station = 20.0 + 4 * 40.0  # first screw and four pitches
    assert points[:, 0].mean() == pytest.approx(station)
    assert np.abs(points[:, 0] - station).max() < 20.0  # keeps clear of its neighbours
    assert points[:, 2].min() == pytest.approx(0.0, abs=1e-9)
    assert points[:, 2].max() == pytest.approx(0.060 * magnification)
    assert (points[:, 1].max() > 7.5) == (part != "right")  # stands out beside the edge that it lies under
    assert (points[:, 1].min() < -7.5) == (part != "left")


def test_an_edge_s_shims_lie_on_those_of_the_full_width():
    study = rigid_away({})
    rail = study.frame.rail("left_inner")
    full, left = (Fitting(RailSpot("left_inner", 5, part), (um,)) for part, um in (("full", 40.0), ("left", 20.0)))
    for order in ([full, left], [left, full]):
        found = {
            m.work.spot.part: m for m in marks(study, [*order, Fitting(RailSpot("left_inner", 6, "left"), (10.0,))])
        }
        heights = (found["left"].points(100.0) - rail.point(0.0)) @ rail.axes[2]
        assert (heights.min(), heights.max()) == pytest.approx((0.0, 1.0))  # screw 6: nothing below
    both = {m.work.spot.part: (m.points(100.0) - rail.point(0.0)) @ rail.axes[2] for m in marks(study, [left, full])}
    assert (both["full"].min(), both["full"].max()) == pytest.approx((0.0, 4.0))
    assert (both["left"].min(), both["left"].max()) == pytest.approx((4.0, 6.0))


def test_a_block_s_mark_lies_on_its_block_between_block_and_plate():
    study = rigid_away({})
    scene = scene_of(study)
    (mark,) = marks(study, [Fitting(BlockSpot("tool", "front_inner", "left"), (40.0,))])
    block = next(b for b in study.frame.carriage("tool").blocks if b.name == "front_inner")
    body = scene.part("block", "tool/front_inner").vertices @ block.rail.axes.T
    points = mark.points(100.0) @ block.rail.axes.T
    low, high = body.min(axis=0), body.max(axis=0)
    assert points[:, 0].min() > low[0]
    assert points[:, 0].max() < high[0]
    assert points[:, 1].max() > high[1]
    assert points[:, 1].min() > (low[1] + high[1]) / 2.0
    assert points[:, 2].min() == pytest.approx(high[2])
    assert points[:, 2].max() == pytest.approx(high[2] + 4.0)


@pytest.mark.parametrize("push_um", [60.0, -60.0])
def test_an_arrow_points_the_way_that_the_rail_is_pushed_and_grows_with_the_push(push_um):
    study = rigid_away({})
    rail = study.frame.rail("right_inner")
    (mark,) = marks(study, (), [RailPush("right_inner", 9, push_um)])
    near, far = ((mark.points(m) - rail.point(0.0)) @ rail.axes.T for m in (100.0, 300.0))
    tip = [float(points[np.argmax(np.abs(points[:, 1])), 1]) for points in (near, far)]
    assert np.sign(tip) == pytest.approx(np.sign([push_um] * 2))
    assert tip[1] - tip[0] == pytest.approx(push_um / 1000.0 * 200.0)
    tops = [np.cross(far[c] - far[a], far[d] - far[b])[2] for a, b, c, d in mark.faces]
    assert min(tops) > 0.0  # the side that is seen from above is the outside


def test_marks_move_with_what_they_lie_on():
    """Foot of a mark under the rail = the seat of the drawn rail at that screw, deviations and carriers included."""
    study = make_study()
    scene = scene_of(study)
    for name in ("left_outer", "cross_inner"):
        (mark,) = marks(study, [Fitting(RailSpot(name, 7, "full"), (20.0,))])
        rail, part = study.frame.rail(name), scene.part("rail", name)
        seat = np.abs((part.vertices - part.vertices[0]) @ rail.axes[2]) < 1e-6
        line = part.vertices[seat]
        stations = (line - line[0]) @ rail.axes[0]
        shown = scene.points(part, 300.0)[seat]
        at = (mark.vertices.mean(axis=0) - line[0]) @ rail.axes[0]
        order = np.argsort(stations)
        near = np.abs(stations[order] - at) < 45.0
        middle = [np.polyval(np.polyfit(stations[order][near] - at, shown[order][near, i], 1), 0.0) for i in range(3)]
        foot = mark.points(300.0)[mark.grows_um[:, 2] == 0.0].mean(axis=0)
        assert foot == pytest.approx(middle, abs=0.5)  # mm at ×300: under 2 µm


def test_the_picture_says_what_is_done_and_tables_keep_clear():
    plan = plan_of()
    plotter, drawing = drawn(plan.before, plan=plan)
    words = drawing.ink.words
    for wanted in (
        "rail left_outer",
        "screws 20–27, right edge: 10 µm",
        "screws 4–6, full width: take out 40 µm",
        "rear_outer, left edge: 100 + 40 µm",
        "screws 3–8: push up to 80 µm right",
        "Shims to fit: 34 pieces (16 × 10 µm, 16 × 20 µm, 1 × 40 µm, 1 × 100 µm)",
    ):
        assert wanted in words
    boxes = list(drawing._room.values())
    assert len(boxes) == 3 + 5
    for a, b in combinations(boxes, 2):
        assert a[2] < b[0] or b[2] < a[0] or a[3] < b[1] or b[3] < a[1]
    assert all(l >= 0 and b >= 0 and r <= SIZE[0] and t <= SIZE[1] for l, b, r, t in boxes)  # noqa: E741
    plotter.close()


def test_too_many_runs_leave_the_largest_and_say_how_many_more():
    many = [Fitting(RailSpot("left_outer", screw, "left"), (10.0 * screw,)) for screw in range(1, 21)]
    plan = plan_of(many, ())
    rows = rows_of(plan.before.frame, plan)
    assert [row.marks for row in rows] == [(i,) for i in range(20 - MOST_ROWS, 20)]
    plotter, drawing = drawn(plan.before, plan=plan)
    assert f"and {20 - MOST_ROWS} more in the plan's table" in drawing.ink.words
    plotter.close()


def test_no_mark_is_hidden_by_its_rail_and_no_pixel_moves_by_that(tmp_path):
    plan = plan_of(STAIRS, ())
    plotter, drawing = drawn(plan.before, plan=plan)
    seen = Projection(plotter.camera, SIZE)
    surface, _ = drawing.layer._meshes["fit"]
    true = np.concatenate([mark.points(drawing.magnification) for mark in drawing.layer.marks])
    assert seen.pixels(np.asarray(surface.points)) == pytest.approx(seen.pixels(true), abs=1e-3)
    plotter.close()
    with_plan = pixels(write_picture(plan.before, tmp_path / "plan.png", plan=plan))
    without = pixels(write_picture(plan.before, tmp_path / "none.png"))
    red = (with_plan[:, :, 0] > 150) & (with_plan[:, :, 2] < 40) & (with_plan[:, :, 1] < 110)
    assert red.sum() > 1500
    assert ((without[:, :, 0] > 150) & (without[:, :, 2] < 40) & (without[:, :, 1] < 110)).sum() == 0


def test_marks_can_be_told_without_colour():
    light = {k: 0.2126 * r + 0.7152 * g + 0.0722 * b for k, (r, g, b) in MARK_COLOUR.items()}
    assert min(abs(light[a] - light[b]) for a, b in combinations(light, 2)) > 30.0


def test_a_gif_takes_the_marks_of_blocks_along(tmp_path):
    plan = plan_of([*STAIRS[:4], *BLOCK], ())
    path = write_picture(plan.before, tmp_path / "plan.gif", plan=plan, size=(320, 240), travel=["right"])
    assert path.stat().st_size > 10_000
    scene = scene_of(plan.before)
    places = dict(scene.positions) | {"left": 500.0, "right": 500.0}
    there = marks_of(scene.memory, plan, places)
    here = marks_of(scene.memory, plan, scene.positions)
    assert there[0].vertices == pytest.approx(here[0].vertices)
    gone = there[-1].vertices - here[-1].vertices
    assert gone == pytest.approx(np.tile([0.0, 500.0 - scene.positions["right"], 0.0], (8, 1)))


def test_the_ghost_of_a_stage_is_that_stage_s_warped_frame(tmp_path):
    found, left = make_study(), make_study(known={}, stage="as_left")
    before = build_scene(found, scene_of(left).positions)
    plotter, drawing = drawn(left, ghost=before)
    assert drawing.magnification == default_magnification(before)  # the frame as left doesn't deviate at all
    assert "ghost, blue lines: stage as_found" in drawing.ink.words
    for role, name in (("beam", "left"), ("rail", "cross_outer")):
        body = drawing.bodies[role, name]
        shown = before.points(before.part(role, name), drawing.magnification)
        assert np.asarray(body.ghost.points) == pytest.approx(shown)
        assert np.abs(shown - body.part.vertices).max() > 1.0
    elsewhere = build_scene(left, dict(before.positions) | {"left": 300.0, "right": 300.0})
    drawing.show(elsewhere, magnification=50.0)
    again = build_scene(found, elsewhere.positions)
    ghost = np.asarray(drawing.bodies["beam", "cross"].ghost.points)
    assert ghost == pytest.approx(again.points(again.part("beam", "cross"), 50.0))
    plotter.close()
    ghost, plain = (
        pixels(write_picture(left, tmp_path / "x.png", ghost=g, magnification=300.0)) for g in (found, True)
    )
    blue = [int((image[:, :, 2] - image[:, :, 0] > 90).sum()) for image in (ghost, plain)]
    assert blue[0] > 2000
    assert blue[1] == 0


def test_find_room_takes_any_table():
    """Tables of blocks and of the plan share one search."""
    plan = plan_of()
    plotter, drawing = drawn(plan.before, plan=plan)
    seen = Projection(plotter.camera, SIZE)
    made = drawing.layer.tables(seen, drawing.magnification, drawing.causes, 16.0)
    room = find_room(made, np.zeros((10, 2)), [], SIZE)
    assert set(room) == {table.name for table in made}
    plotter.close()
