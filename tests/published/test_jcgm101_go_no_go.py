"""GUM (JCGM 100) 4.3.7 and JCGM 101: rectangular inputs, and how far draws of a sum reach.

What lies somewhere in an interval is rectangular, u = width / √12 (JCGM 101, 6.4.2): a feeler that goes and one that
doesn't say just that of a gap. The sweep's own uncertainty adds in squares.
"""

from __future__ import annotations

from functools import cache
from math import sqrt
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from estimator_by_hand import reduced
from ledger import Source, Value, check

from framekit import SAMPLE_TOML, write_frame
from framevis.budgeting.components import resolution_u
from framevis.reading.frame_file import read_frame
from framevis.reading.readings import read_stage
from framevis.solved import Solved

SOURCE = Source(
    "GUM (JCGM 100) 4.3.7 and JCGM 101, 6.4.2 and 9.2",
    "Least squares and uncertainty",
    "Gaps read as go and no-go, the sweep's own u 3 µm beside: a rectangular distribution has a u of its width / "
    "√12. JCGM 101, 9.2: the sum of four inputs of u 1; framevis's posterior draws of it, 400,000. It takes "
    "rectangular inputs as normal ones of the same u, as the GUM does: 3.92 instead of 3.88, the wide side.",
)
SWEEP = """
[sweep.tops]
kind = "gap"
touches = [["left_outer", "right"], ["left_inner", "left"]]
feeler_at = ["left_inner", "right"]
u_um = 3.0
"""
GO_NO_GO_UM = [(100.0, 50.0, 60.0), (500.0, 0.0, 50.0), (900.0, 30.0, 40.0), (1300.0, 40.0, 40.0)]
DRAWS = 400_000
CHANCE = 0.025  # three standard errors of a 2.5 % quantile of so many draws; half a digit comes to it


def read_gaps() -> tuple[list[float], list[float]]:
    """Values and standard uncertainties (µm) of the gaps, written into a frame's folder and read from it."""
    lines = ["station_mm,go_um,no_go_um", *(f"{s:g},{go:g},{no_go:g}" for s, go, no_go in GO_NO_GO_UM)]
    frame = SAMPLE_TOML.split("[sweep.")[0] + SWEEP
    with TemporaryDirectory() as name:
        folder = write_frame(Path(name), frame, {"as_found": {"tops": "\n".join(lines) + "\n"}})
        (tops,) = read_stage(read_frame(folder), "as_found").sweeps
    return tops.values.tolist(), tops.u.tolist()


def reach_of_a_sum(u: float) -> tuple[float, float]:
    """2.5 and 97.5 % of drawn sums of four inputs that were each read as 0 ± u, nothing else being known of them."""
    diffuse = np.full(4, 1e4)
    solved = Solved(reduced(np.zeros(4), np.full(4, u), np.eye(4), np.zeros((4, 0))), diffuse)
    prior, wrong = solved.prior_draws(DRAWS, np.random.default_rng(0))
    low, high = np.quantile((prior + solved.from_white(wrong)).sum(axis=0), (0.025, 0.975))
    return float(low), float(high)


def gaps() -> list[Value]:
    found = []
    for (_, go, no_go), value, u in zip(GO_NO_GO_UM, *read_gaps(), strict=True):
        what = f"go {go:g}, no-go {no_go:g}"
        # of a rectangular distribution half its width over √3 is the standard deviation
        expected = sqrt(3.0**2 + ((no_go - go) / 2.0 / sqrt(3.0)) ** 2)
        found.append(Value(f"{what}: gap", "µm", (go + no_go) / 2.0, value, "computed", relative=1e-6))
        found.append(Value(f"{what}: u", "µm", expected, u, "computed", relative=1e-6))
    return found


@cache
def values() -> tuple[Value, ...]:
    low, high = reach_of_a_sum(1.0)
    rectangular = reach_of_a_sum(resolution_u(2.0 * sqrt(3.0)))[1]
    return (
        *gaps(),
        Value("95 % of four normal inputs, from", "1", -3.92, low, "from memory", absolute=0.005 + CHANCE),
        Value("95 % of four normal inputs, to", "1", 3.92, high, "from memory", absolute=0.005 + CHANCE),
        # 0.04: four rectangular inputs are not quite normal (exact 3.8794), which the GUM's way leaves out
        Value(
            "95 % of four rectangular inputs, to", "1", 3.88, rectangular, "from memory", absolute=0.04 + 0.005 + CHANCE
        ),
    )


def test_values() -> None:
    check(values())
