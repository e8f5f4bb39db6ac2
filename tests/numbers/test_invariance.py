"""Describing one machine differently changes no drag: from the files to the newtons."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from framevis.reading.frame_file import read_frame
from machines import Readings, Tree, changed, measure, portal, rough, study_of, write

MOST = 1e-9  # N: no drag changes beyond this

Described = tuple[Tree, Readings]


@pytest.fixture(scope="module")
def original(tmp_path_factory: pytest.TempPathFactory) -> tuple[Described, dict[str, Any]]:
    folder = tmp_path_factory.mktemp("original")
    tree = portal()
    write(folder, tree, {})
    frame = read_frame(folder)
    readings = measure(frame, rough(frame, 5, 0.6), 60.0)
    folder = tmp_path_factory.mktemp("with_readings")
    return (tree, readings), drags(write(folder, tree, readings))


def drags(folder: Path) -> dict[str, Any]:
    return {
        f"{carriage.name}/{block.name}": block.drag_n
        for carriage in study_of(folder).carriages
        for block in carriage.blocks
    }


def assert_same(found: dict[str, Any], expected: dict[str, Any], turned: bool = False) -> None:
    assert found.keys() == expected.keys()
    assert max(drag.max() for drag in expected.values()) > 4.0  # something does run hard
    for name, drag in found.items():
        np.testing.assert_allclose(drag[::-1] if turned else drag, expected[name], rtol=MOST, atol=MOST, err_msg=name)


@settings(
    max_examples=6,
    deadline=None,
    derandomize=True,
    phases=[Phase.generate],
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    turn=st.tuples(*[st.floats(-3.0, 3.0)] * 3), shift=st.tuples(*[st.floats(-5000.0, 5000.0)] * 3)
)
def test_moving_the_whole_frame_in_space(original, tmp_path_factory, turn, shift) -> None:
    (tree, readings), expected = original
    moved, rotate = changed(tree), Rotation.from_rotvec(turn).apply
    moved["up"] = rotate(tree["up"]).tolist()
    for name, beam in tree["beam"].items():
        moved["beam"][name]["start"] = (rotate(beam["start"]) + shift).tolist()
        moved["beam"][name]["end"] = (rotate(beam["end"]) + shift).tolist()
        moved["beam"][name]["normal"] = rotate(beam["normal"]).tolist()
    assert_same(drags(write(tmp_path_factory.mktemp("moved"), moved, readings)), expected)


LENGTHS = {"width", "depth", "wall", "start", "end", "seat", "first_screw", "travel", "centre", "bolted_at", "base",
           "along", "rail_width", "rail_height", "block_length", "block_width", "block_height", "ball_height",
           "ball_diameter", "row_spacing", "screw_pitch"}  # fmt: skip


def in_inches(value: Any, name: str = "") -> Any:
    if isinstance(value, dict):
        return {key: in_inches(item, key) for key, item in value.items()}
    if isinstance(value, list) and name in LENGTHS:
        return [item / 25.4 for item in value]
    if isinstance(value, list):
        return [in_inches(item) for item in value]
    return value / 25.4 if name in LENGTHS and isinstance(value, float) else value


def test_inches_thou_and_arcseconds(original, tmp_path) -> None:
    (tree, readings), expected = original
    inches = in_inches(tree) | {"length_unit": "in"}
    units = {"station_in": 25.4, "reading_thou": 25.4, "reading_arcsec": 1000.0 * np.pi / 648_000.0}
    assert_same(drags(write(tmp_path / "inches", inches, readings, units)), expected)


def test_other_names(original, tmp_path) -> None:
    (tree, readings), expected = original
    renamed = changed(tree)
    for kind in ("beam", "rail", "carriage", "sweep"):
        renamed[kind] = {f"{name} ü": table for name, table in renamed[kind].items()}
    for table in (*renamed["rail"].values(), *renamed["sweep"].values()):
        if "beam" in table:
            table["beam"] += " ü"
    for sweep in renamed["sweep"].values():
        sweep |= {"rail": sweep["rail"] + " ü"} if "rail" in sweep else {}
        sweep |= {"rails": [rail + " ü" for rail in sweep["rails"]]} if "rails" in sweep else {}
        if sweep["kind"] == "gap":
            sweep["touches"] = [[rail + " ü", side] for rail, side in sweep["touches"]]
            sweep["feeler_at"] = [sweep["feeler_at"][0] + " ü", sweep["feeler_at"][1]]
    for carriage in renamed["carriage"].values():
        for block in carriage["blocks"]:
            block["rail"] += " ü"
    renamed["shim"][0]["spot"], renamed["shim"][1]["spot"] = "small ü/a+/left", "b ü@20/right"
    moved = {f"{name} ü": taken for name, taken in readings.items()}
    found = drags(write(tmp_path / "renamed", renamed, moved))
    assert_same({name.replace(" ü", ""): drag for name, drag in found.items()}, expected)


OTHER_SIDE = {"left": "right", "right": "left"}
TURNS_OVER = ("lateral", "roll")  # what changes sign when left and right change places


def flips(tree: Tree, name: str) -> bool:
    sweep = tree["sweep"][name]
    return sweep["kind"] == "level_across" or sweep.get("direction") == "lateral"


def swap_sides(tree: Tree) -> None:
    """Left becomes right, in place: seats, edges, shims, the masses' places across."""
    for rail in tree["rail"].values():
        rail["seat"] = -rail["seat"]
    sweep = tree["sweep"]["ab_tops"]
    sweep["touches"] = [[rail, OTHER_SIDE[side]] for rail, side in sweep["touches"]]
    sweep["feeler_at"] = [sweep["feeler_at"][0], OTHER_SIDE[sweep["feeler_at"][1]]]
    for carriage in tree["carriage"].values():
        carriage["centre"][1] = -carriage["centre"][1]
    for shim in tree["shim"]:
        spot, part = shim["spot"].rsplit("/", 1)
        shim["spot"] = f"{spot}/{OTHER_SIDE[part]}"


def test_mirroring(original, tmp_path) -> None:
    (tree, readings), expected = original
    mirrored = changed(tree)
    for beam in mirrored["beam"].values():
        for place in ("start", "end"):
            beam[place][0] = -beam[place][0]
    swap_sides(mirrored)
    seen = {name: (s, -values if flips(tree, name) else values) for name, (s, values) in readings.items()}
    assert_same(drags(write(tmp_path / "mirrored", mirrored, seen)), expected)


def test_reversing_all_beams(original, tmp_path) -> None:
    (tree, readings), expected = original
    turned = changed(tree)
    for beam in turned["beam"].values():
        beam["start"], beam["end"] = beam["end"], beam["start"]
    swap_sides(turned)
    for carriage in turned["carriage"].values():
        low, high = carriage["travel"]
        carriage["travel"] = [1000.0 - high, 1000.0 - low]
        carriage["bolted_at"] = 1000.0 - carriage["bolted_at"]
        carriage["centre"][0] = -carriage["centre"][0]
        for block in carriage["blocks"]:
            block["along"] = -block["along"]
    for rail in turned["rail"].values():
        rail["first_screw"] = 1000.0 - rail["first_screw"] - 23 * 40.0
    turned["shim"][1]["spot"] = turned["shim"][1]["spot"].replace("@20", "@5")
    seen = {}
    for name, (s, values) in readings.items():
        sign = -1.0 if flips(tree, name) or tree["sweep"][name]["kind"] == "level_along" else 1.0
        seen[name] = (1000.0 - s, sign * values)
    assert_same(drags(write(tmp_path / "turned", turned, seen)), expected, turned=True)


def test_reversing_one_of_two_beams(original, tmp_path) -> None:
    """The wide carriage then rides beams that run against each other."""
    (tree, readings), expected = original
    turned = changed(tree)
    beam = turned["beam"]["right"]
    beam["start"], beam["end"] = beam["end"], beam["start"]
    turned["rail"]["c"]["seat"] *= -1.0
    seen = dict(readings)
    seen["c_roll"] = (1000.0 - readings["c_roll"][0], readings["c_roll"][1])
    turned["sweep"]["c_roll"]["sign"] = -1
    seen["c_along"] = (1000.0 - readings["c_along"][0], -readings["c_along"][1])
    assert_same(drags(write(tmp_path / "turned", turned, seen)), expected)
