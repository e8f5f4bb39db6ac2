"""GUM (JCGM 100) 4.3.7 and JCGM 101, 6.4.2: what lies somewhere in an interval is rectangular, u = width / √12.

A feeler that goes and one that doesn't say just that of a gap. The sweep's own uncertainty adds in squares.
"""

from __future__ import annotations

from math import sqrt
from pathlib import Path

import pytest

from framekit import SAMPLE_TOML, write_frame
from framevis.reading.frame_file import read_frame
from framevis.reading.readings import read_stage

FRAME = SAMPLE_TOML.split("[sweep.")[0] + """
[sweep.tops]
kind = "gap"
touches = [["left_outer", "right"], ["left_inner", "left"]]
feeler_at = ["left_inner", "right"]
u_um = 3.0
"""
GO_NO_GO_UM = [(100.0, 50.0, 60.0), (500.0, 0.0, 50.0), (900.0, 30.0, 40.0), (1300.0, 40.0, 40.0)]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    lines = ["station_mm,go_um,no_go_um", *(f"{s:g},{go:g},{no_go:g}" for s, go, no_go in GO_NO_GO_UM)]
    return write_frame(tmp_path, FRAME, {"as_found": {"tops": "\n".join(lines) + "\n"}})


def test_go_and_no_go_are_a_rectangular_distribution(folder):
    (tops,) = read_stage(read_frame(folder), "as_found").sweeps
    # of a rectangular distribution half its width over √3 is the standard deviation
    expected = [sqrt(3.0**2 + ((no_go - go) / 2.0 / sqrt(3.0)) ** 2) for _, go, no_go in GO_NO_GO_UM]
    assert tops.values == pytest.approx([(go + no_go) / 2.0 for _, go, no_go in GO_NO_GO_UM])
    assert tops.u == pytest.approx(expected)
