"""How the scene moves its points: the formulas of the deviations, and what must always hold."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from framevis.deviations import CAUSES, rail_weights
from framevis.pictures.scene import build_scene, moved, resolve_positions
from framevis.pictures.warp import beam_motion, block_motion, carry_of, rail_motion
from framevis.pose import PlatePose
from picture.fake_study import (
    BACKED,
    BOX,
    CHANNEL,
    PLATE,
    FakeStudy,
    every_function,
    gantry,
    make_beam,
    make_frame,
    make_study,
    polynomial,
    rails_of,
    without_carriers,
)

STATIONS = np.array([0.0, 130.0, 800.0, 1500.0])
SEATS = {CHANNEL: (57.5, -57.5), BACKED: (42.0, -30.0), BOX: (35.0, -20.0), PLATE: (35.0, -20.0)}


def scene_of(study, **at):
    middle = {c.name: sum(c.travel_mm) / 2.0 for c in study.frame.carriages}
    return build_scene(study, resolve_positions(study.frame, at, middle))


def full_study():
    frame = gantry()
    return make_study(frame, every_function(frame))


def test_without_deviations_every_part_stands_where_it_was_drawn_to_the_last_bit():
    scene = scene_of(make_study(known={}))
    assert scene.largest_um == 0.0
    for part in scene.parts:
        assert np.array_equal(scene.points(part, 3000.0), part.vertices)


def test_points_are_float64_and_linear_in_the_magnification():
    scene = scene_of(full_study())
    for part in scene.parts:
        one, many = scene.points(part, 1.0) - part.vertices, scene.points(part, 320.0) - part.vertices
        assert part.vertices.dtype == many.dtype == np.float64
        assert many == pytest.approx(320.0 * one, abs=1e-9)
        assert np.abs(one).max() > 1e-3


def test_the_causes_add_up():
    scene = scene_of(full_study())
    for part in scene.parts:
        separate = sum(scene.points(part, 200.0, [cause]) - part.vertices for cause in CAUSES)
        assert separate == pytest.approx(scene.points(part, 200.0) - part.vertices, abs=1e-9)
        assert np.array_equal(scene.points(part, 200.0, []), part.vertices)


@pytest.mark.parametrize("section", SEATS, ids=lambda section: section.name)
@pytest.mark.parametrize("face_deg", [0.0, 90.0, 180.0, 270.0])
def test_a_seat_moves_with_the_surface_of_the_beam_below_it(section, face_deg):
    beam = make_beam("side", section, [10, 20, 30], [10, 1520, 30], [0.3, 0, 1])
    seats = SEATS[section]
    if face_deg % 180.0 == 90.0:
        seats = tuple(seat / 60.0 * section.depth_mm / 3.0 for seat in seats)  # a side is as wide as the depth
    elif section.shape == "channel" and face_deg == 180.0:
        seats = (42.0, -30.0) if section is CHANNEL else (57.0 + 0.5, -57.5)
    rails = rails_of(beam, *seats, face_deg=face_deg)
    frame = make_frame([beam], rails, [])
    deviations = make_study(frame, every_function(frame)).deviations
    for rail in rails:
        seat = np.column_stack([STATIONS, np.tile(rail.seat_in_beam, (len(STATIONS), 1))])
        on_beam = beam_motion(deviations, beam, seat)
        on_rail = rail_motion(deviations, rail, np.column_stack([STATIONS, np.zeros((len(STATIONS), 2))]))
        for cause in ("bow", "twist", "opening"):
            assert on_rail[cause] == pytest.approx(on_beam[cause], abs=1e-9)
        lateral = deviations.along(rail_weights(rail, "lateral", up_mm=0.0), STATIONS)
        assert sum(on_rail.values()) @ rail.axes[1] == pytest.approx(lateral, abs=1e-9)


@pytest.mark.parametrize("face_deg", [0.0, 90.0, 180.0, 30.0])
def test_a_block_moves_as_its_rail_does_at_its_own_station(face_deg):
    beam = make_beam("side", BOX, [0, 0, 0], [900, 1200, 0])
    (rail,) = rails_of(beam, 11.0, face_deg=face_deg, names=("one",))
    frame = make_frame([beam], [rail], [])
    deviations = make_study(frame, every_function(frame)).deviations
    local = np.array([[640.0, t, n] for t in (-16.0, 0.0, 16.0) for n in (0.0, 6.5, 16.0)])
    points = rail.point(0.0) + local @ rail.axes
    own, block = rail_motion(deviations, rail, local), block_motion(deviations, rail, 640.0).motion(points)
    for cause in CAUSES:
        assert block[cause] == pytest.approx(own[cause], abs=1e-9)
    felt = sum(block.values())[4] @ rail.axes[1]  # the middle of the block at the height of its balls
    assert felt == pytest.approx(deviations.along(rail_weights(rail, "lateral"), np.array([640.0]))[0], abs=1e-9)


def test_the_picture_bends_a_beam_as_its_bow_says():
    study = make_study(known={("bow_height", "left"): polynomial(0, -80, 80)})
    part = scene_of(study).part("beam", "left")
    middle = np.isclose(part.vertices[:, 1], 750.0)
    assert part.displacement["bow"][middle, 2] == pytest.approx(-20.0)
    end = np.isclose(part.vertices[:, 1], 1500.0)  # slope 80 µm / 1500 mm: the section leans back by n · slope
    assert part.displacement["bow"][end, 1] == pytest.approx(-part.vertices[end, 2] * 80.0 / 1500.0)


def test_an_opened_channel_spreads_its_tips_by_the_depth_times_the_angle():
    study = make_study(known={("opening", "left"): polynomial(1.5)})
    part = scene_of(study).part("beam", "left")
    tips = part.vertices[:, 2] == 0.0
    spread = part.displacement["opening"][tips, 0] * np.sign(part.vertices[tips, 0])
    assert spread == pytest.approx(1.5 * 60.0)


def lifted(study, **shift_um):
    """The study with its plates moved by hand: a shift (3,) µm under `bow`, by carriage."""

    class Lifted(FakeStudy):
        def pose(self, carriage_name, position_mm):
            zero = {cause: np.zeros(3) for cause in CAUSES}
            moved_by = np.array(shift_um.get(carriage_name, [0.0, 0.0, 0.0]))
            carriage = self.frame.carriage(carriage_name)
            return PlatePose(carriage, position_mm, carriage.origin(position_mm), zero | {"bow": moved_by}, zero)

    return Lifted(study.frame, study.stage, study.deviations, study.carriages)


def test_a_carried_beam_and_all_on_it_stand_where_its_carriers_do():
    study = make_study(known={})
    before, after = scene_of(study, left=750.0), scene_of(study, left=900.0)
    riding = [("beam", "cross"), ("rail", "cross_outer"), ("block", "tool/front_outer"), ("plate", "tool")]
    for role, name in riding:
        shift = after.part(role, name).vertices - before.part(role, name).vertices
        assert shift == pytest.approx(np.tile([0.0, 150.0, 0.0], (len(shift), 1)), abs=1e-9)
    assert before.part("beam", "cross").vertices[:, 1].mean() == pytest.approx(750.0)


def test_between_two_carriers_a_carried_beam_goes_in_a_straight_line():
    scene = scene_of(lifted(make_study(known={}), left=[0.0, 0.0, 90.0], right=[0.0, 0.0, -45.0]))
    part = scene.part("beam", "cross")
    line = 90.0 - 135.0 * part.vertices[:, 0] / 900.0  # the carriers stand at x = 0 and x = 900
    assert part.displacement["bow"][:, 2] == pytest.approx(line, abs=1e-9)
    blocks = [p for p in scene.parts if p.role == "block" and p.owner == "tool"]
    for block in blocks:
        line = 90.0 - 135.0 * block.vertices[:, 0] / 900.0
        assert block.displacement["bow"][:, 2] == pytest.approx(line, abs=1e-9)


def test_a_carried_beam_meets_its_carriers_plates():
    study = full_study()
    carry = carry_of(study, study.frame.beam("cross"), {"left": 1200.0, "right": 1200.0})
    for x, name in ((0.0, "left"), (900.0, "right")):
        pose, point = study.pose(name, 1200.0), np.array([[x, 1200.0, 88.0]])
        for cause in CAUSES:
            assert carry.motion(point)[cause] == pytest.approx(pose.motion_um(point, [cause]), abs=1e-6)


def test_a_single_carrier_holds_its_beam_rigidly():
    frame = gantry()
    beams = tuple(replace(b, carried_by=("left",)) if b.name == "cross" else b for b in frame.beams)
    study = make_study(replace(frame, beams=beams), every_function(frame))
    at = {"left": 400.0, "right": 900.0, "tool": 500.0}
    alone = build_scene(make_study(without_carriers(study.frame), every_function(frame)), at).part("beam", "cross")
    part, pose = build_scene(study, at).part("beam", "cross"), study.pose("left", 400.0)
    for cause in CAUSES:
        extra = part.displacement[cause] - alone.displacement[cause]
        assert extra == pytest.approx(pose.motion_um(part.vertices, [cause]), abs=1e-6)


def test_a_beam_on_a_carried_beam_is_carried_twice():
    frame = gantry()
    arm = make_beam("arm", BOX, [300, 750, 200], [300, 1050, 200], carried_by=("tool",), carried_at_mm=380.0)
    study = lifted(make_study(replace(frame, beams=(*frame.beams, arm)), {}), left=[0, 0, 60.0], right=[0, 0, 60.0])
    scene = scene_of(study, left=850.0, tool=480.0)
    part = scene.part("beam", "arm")
    assert part.moved_by == {"left", "right", "tool"}
    assert part.vertices.mean(axis=0)[:2] == pytest.approx([400.0, 1000.0])
    assert part.displacement["bow"] == pytest.approx(np.tile([0.0, 0.0, 60.0], (len(part.vertices), 1)), abs=1e-9)


def test_moving_one_carriage_keeps_all_other_parts():
    study = full_study()
    scene = scene_of(study, left=700.0, tool=300.0)
    after = moved(scene, study, {**scene.positions, "tool": 500.0})
    kept = {part.key for part, old in zip(after.parts, scene.parts, strict=True) if part is old}
    assert {key for key in (p.key for p in scene.parts) if key[1].startswith("tool")}.isdisjoint(kept)
    assert len(kept) == len(scene.parts) - 5
    again = scene_of(study, left=700.0, tool=500.0)
    for part, fresh in zip(after.parts, again.parts, strict=True):
        assert np.array_equal(after.points(part, 300.0), again.points(fresh, 300.0))


def test_another_study_makes_every_part_anew():
    scene, study = scene_of(make_study(known={})), full_study()
    after = moved(scene, study, scene.positions)
    assert after.largest_um > 0.0
