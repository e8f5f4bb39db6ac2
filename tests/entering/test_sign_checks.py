"""Which way plus goes: against plain geometry of a stylus that is pushed."""

from itertools import product

import numpy as np
import pytest

from enterkit import PULL, desk_for, sweep_named
from framekit import SAMPLE_TOML
from framevis.entering.sign_check import sign_check

WAY = {"left": (0, 1.0), "right": (0, -1.0), "up": (1, 1.0), "down": (1, -1.0)}  # (t, n) of a direction


def toml_with(name, *changes):
    text = SAMPLE_TOML + PULL
    for old, new in changes:
        head, found, tail = text.partition(f"[sweep.{name}]\n")
        assert found
        assert old in tail
        text = head + found + tail.replace(old, new, 1)
    return text


@pytest.mark.parametrize(
    ("direction", "sign", "way", "plunger"),
    [(d, s, w, p) for d in ("lateral", "height") for s, p in product((1, -1), (1, -1))
     for w in (("left", "right") if d == "lateral" else ("up", "down"))],
)  # fmt: skip
def test_an_indicator_on_its_block(tmp_path, direction, sign, way, plunger):
    name = f"left_outer_{direction}"
    sweep = sweep_named(tmp_path, name, toml_with(name, ("u_um", f"sign = {sign}\nu_um")))
    check = sign_check(sweep)
    axis, toward = WAY[way]
    # block and rail go 1 µm toward +t or +n: the fixed reference comes nearer where the stylus points that way
    pressed_in = toward
    reading_change = plunger * pressed_in
    means_plus = reading_change * sign > 0  # the file: sign × reading grows toward +t, +n
    assert axis == (direction == "height")
    assert check.is_right(check.answers.index(way), plunger > 0) == means_plus


@pytest.mark.parametrize(("swapped", "sign", "plunger"), list(product((False, True), (1, -1), (1, -1))))
def test_a_bridge_sideways(tmp_path, swapped, sign, plunger):
    pair = '["left_inner", "left_outer"]' if swapped else '["left_outer", "left_inner"]'
    changes = (('["left_outer", "left_inner"]', pair), ("u_um", f"sign = {sign}\nu_um"))
    sweep = sweep_named(tmp_path, "left_spacing", toml_with("left_spacing", *changes))
    seats = np.array([rail.seat_mm for rail in sweep.rails])
    moved = seats + np.array([0.0, 0.001])  # rail b 1 µm to the left
    pressed_in = -np.sign(abs(np.diff(moved)) - abs(np.diff(seats)))[0]
    means_plus = plunger * pressed_in * sign > 0
    check = sign_check(sweep)
    assert check.where is None
    assert check.is_right(0, plunger > 0) == means_plus


@pytest.mark.parametrize(("stands_on", "plunger"), list(product(("left_outer", "left_inner"), (1, -1))))
def test_a_bridge_in_height(tmp_path, stands_on, plunger):
    name = "left_spacing"
    sweep = sweep_named(tmp_path, name, toml_with(name, ('"lateral"', '"height"')))
    check = sign_check(sweep)
    b_rises = {"left_inner": 1.0, "left_outer": -1.0}[stands_on]  # a stylus from above is pressed in by what rises
    assert check.is_right(check.answers.index(stands_on), plunger > 0) == (plunger * b_rises > 0)


def test_a_level_and_what_has_no_sign(tmp_path):
    assert sign_check(sweep_named(tmp_path, "left_across")).is_right(0, True)
    turned = toml_with("left_across", ("u_mrad", "sign = -1\nu_mrad"))
    assert not sign_check(sweep_named(tmp_path, "left_across", turned)).is_right(0, True)
    for name in ("left_tops", "left_mouth", "left_pull"):
        assert sign_check(sweep_named(tmp_path, name)) is None


def test_turned_signs_are_shown_and_noted_in_the_file(tmp_path):
    desk = desk_for(tmp_path, "left_outer_lateral")
    assert desk.type("", "left", "-0.1").mode == "contrary"
    assert desk.type("x").mode == "contrary"
    desk.type("t", "12.5")
    assert "written: 100 mm = -12.5 µm" in desk.said
    assert "with its sign turned" in desk.said
    assert desk.kept[-1].splitlines()[1:3] == [
        "# signs turned by framevis enter from here on: the instrument's plus was right; written so that plus is left",
        "100,-12.5",
    ]
    desk.type("0", "u")  # no −0
    assert "300,0\n" in desk.kept[-2]
    again = desk_for(tmp_path, "left_outer_lateral", text=desk.kept[-1])
    assert again.type("").mode == "as_before"
    again.type("", "1")
    assert "300,-1\n" in again.kept[-1]
    assert again.kept[-1].count("# signs") == 1


def test_a_contrary_sign_can_be_left_as_typed(tmp_path):
    desk = desk_for(tmp_path, "left_outer_lateral")
    desk.type("", "right", "+", "k")
    assert "set sign = -1 in frame.toml" in desk.said
    desk.type("12.5")
    assert "100,12.5\n" in desk.kept[-1]
    assert "# signs" not in desk.kept[-1]


def test_the_check_can_be_passed_over_and_a_right_sign_is_noted(tmp_path):
    desk = desk_for(tmp_path, "left_outer_lateral")
    assert desk.type("", "s").mode == "reading"
    assert "not checked" in desk.said
    desk = desk_for(tmp_path, "left_outer_lateral")
    assert desk.type("", "1", "0").mode == "press"
    assert desk.type("0,4 mm").mode == "reading"
    desk.type("3")
    assert "# signs as typed from here on: checked, plus is left" in desk.kept[-1]
    again = desk_for(tmp_path, "left_outer_lateral", text=desk.kept[-1])
    assert again.type("", "n").mode == "where"
