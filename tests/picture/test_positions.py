"""Where carriages stand: as asked, as their worst block wants, carriers of one beam together."""

from __future__ import annotations

from dataclasses import replace

import pytest

from framevis.errors import BadInput
from framevis.pictures.scene import resolve_positions, worst_positions
from framevis.pictures.travel import beam_offset, travel_groups
from picture.fake_study import BOX, carriage_on, gantry, make_beam, make_frame, make_study, rails_of


def with_opposite_right():
    """The gantry with a right beam that runs the other way, its carriage with another travel."""
    frame = gantry()
    right = make_beam("right", BOX, [900, 1600, 0], [900, 100, 0])
    rails = rails_of(right, 35.0, -35.0)
    others = tuple(c for c in frame.carriages if c.name != "right")
    carriages = (*others, carriage_on("right", rails, (200.0, 1400.0)))
    beams = tuple(right if b.name == "right" else b for b in frame.beams)
    beams = tuple(replace(b, carried_at_mm=600.0) if b.name == "cross" else b for b in beams)
    return make_frame(beams, (*(r for r in frame.rails if r.beam.name != "right"), *rails), carriages)


def test_without_wishes_every_carriage_takes_its_default():
    assert resolve_positions(gantry(), {}, {"left": 500.0, "tool": 300.0}) == {
        "left": 500.0,
        "right": 500.0,
        "tool": 300.0,
    }


def test_a_carriage_with_no_default_stands_in_the_middle():
    assert resolve_positions(gantry(), {}, {}) == {"left": 750.0, "right": 750.0, "tool": 530.0}


def test_asking_for_either_carrier_moves_both():
    assert resolve_positions(gantry(), {"right": 333.0}, {"left": 500.0})["left"] == 333.0
    assert resolve_positions(gantry(), {"left": 333.0}, {"left": 500.0})["right"] == 333.0


def test_carriers_that_count_in_opposite_directions_stay_level():
    frame = with_opposite_right()
    at = resolve_positions(frame, {"left": 700.0}, {})
    assert at["right"] == pytest.approx(900.0)  # y = 700, counted from y = 1600
    assert frame.carriage("right").origin(at["right"])[1] == pytest.approx(700.0)
    assert beam_offset(frame, frame.beam("cross"), at) == pytest.approx([0.0, 100.0, 0.0])
    (group, _) = travel_groups(frame)
    assert group.range_mm == pytest.approx((200.0, 1400.0))


def test_the_worst_carrier_decides_where_both_stand():
    study = make_study(worst=900.0)
    left, right, tool = study.carriages
    worse = tuple(replace(block, drag_ratio=block.drag_ratio * 2.0) for block in right.blocks)
    study = replace(study, carriages=(left, replace(right, blocks=worse), tool))
    assert worst_positions(study)["left"] == right.worst_position_mm
    assert worst_positions(make_study(worst=900.0))["right"] == left.worst_position_mm


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"lefd": 500.0}, r'--at: no carriage is called "lefd": did you mean "left"\?'),
        ({"zebra": 500.0}, r'no carriage is called "zebra": the carriages are left, right, tool'),
        ({"tool": 10.0}, r'carriage "tool" can\'t stand at 10 mm: its travel is 120 to 940 mm'),
        ({"left": float("nan")}, r'carriage "left" can\'t stand at nan mm'),
        ({"left": float("inf")}, r'carriage "left" can\'t stand at inf mm'),
        ({"left": 300.0, "right": 400.0}, r'"left" and "right" carry one beam.*give only one of them, not 400 mm'),
    ],
)
def test_wrong_positions_are_said_in_one_sentence(asked, said):
    with pytest.raises(BadInput, match=said) as caught:
        resolve_positions(gantry(), asked, {})
    assert len(caught.value.problems) == 1


def test_a_carrier_may_not_take_the_other_off_its_travel():
    with pytest.raises(BadInput, match=r'"left" would take "right", which carries the same beam, to 1500 mm'):
        resolve_positions(with_opposite_right(), {"left": 100.0}, {})


def test_all_wrong_positions_are_said_at_once():
    with pytest.raises(BadInput) as caught:
        resolve_positions(gantry(), {"nobody": 1.0, "tool": 1.0, "left": -3.0}, {})
    assert len(caught.value.problems) == 3
