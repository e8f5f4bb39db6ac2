"""ISO 230-1: the straightness error motions of an axis along X are EYX and EZX (first the direction, then the axis)."""

from __future__ import annotations

import pytest
from practice_gantry import CHANNEL

from framevis.frame import Beam, Rail, locked
from framevis.report import iso_symbols
from guides import GUIDE_15


def rail_along(end, normal) -> Rail:
    beam = Beam("b", CHANNEL, locked([0, 0, 0]), locked(end), locked(normal))
    return Rail("r", beam, GUIDE_15, 0.0, 20.0, 37)


@pytest.mark.parametrize(
    ("end", "normal", "lateral", "height"),
    [
        ([1500, 0, 0], [0, 0, 1], "EYX", "EZX"),
        ([-1500, 0, 0], [0, 0, 1], "EYX", "EZX"),
        ([1500, 0, 0], [0, 1, 0], "EZX", "EYX"),
        ([0, 1500, 0], [0, 0, 1], "EXY", "EZY"),
        ([0, 0, 1500], [1, 0, 0], "EYZ", "EXZ"),
    ],
)
def test_straightness_error_motions(end, normal, lateral, height):
    assert iso_symbols(rail_along(end, normal)) == (lateral, height)


def test_a_rail_along_no_axis_has_no_symbol():
    assert iso_symbols(rail_along([1000, 1000, 0], [0, 0, 1])) == ("", "")
