"""NIST Statistical Reference Datasets, Norris: linear regression, lower level of difficulty. Certified values: seen.

A sweep's offset and slope are unknowns without a prior. Where no function of the frame may move, framevis's estimate
of them is a least-squares line, so a real sweep of an indicator along a rail carries the data here.
"""

from __future__ import annotations

import numpy as np
import pytest
from estimator_by_hand import least_squares, reduced
from practice_gantry import rail_pair
from reference_tables import columns

from framevis.deviations import Layout
from framevis.frame import Frame, Limits, Sweep, SweepReadings, locked
from framevis.rows import Rows, assemble

X, Y = (np.array(column) for column in columns("nist_norris", "x", "y"))
B0, SD_B0 = -0.262323073774029, 0.232818234301152
B1, SD_B1 = 1.00211681802045, 0.429796848199937e-03
RESIDUAL_SD = 0.884796396144373


def indicator_sweep() -> Rows:
    outer, inner = rail_pair()
    sweep = Sweep("norris", "indicator", 1.0, (outer,), direction="height", reference="straightedge")
    frame = Frame(
        "norris", "mm", ("found",), Limits(), None, locked([0, 0, 1]), (outer.beam,), (outer, inner), (), (sweep,), ()
    )
    order = locked(np.arange(X.size))
    readings = SweepReadings(sweep, locked(X), locked(Y), locked(np.ones(X.size)), order, tuple(range(X.size)))
    return assemble(Layout.of(frame), {}, (readings,))


def test_offset_and_slope_of_an_indicator_sweep():
    rows = indicator_sweep()
    assert rows.free_names == (("norris", "offset"), ("norris", "slope"))
    still = reduced(rows.values, rows.u, rows.design * 0.0, rows.free)
    values, _, residual = least_squares(still)
    assert residual == pytest.approx(RESIDUAL_SD, rel=1e-11)
    # the sweep counts its slope from its middle, and both columns are scaled: turned into 1 and x
    turn = np.linalg.inv(np.linalg.lstsq(rows.free, np.column_stack([np.ones_like(X), X]), rcond=None)[0])
    assert turn @ values == pytest.approx([B0, B1], rel=1e-9)
    root = turn @ np.linalg.inv(still.r_free) * residual
    assert np.sqrt(np.sum(root**2, axis=1)) == pytest.approx([SD_B0, SD_B1], rel=1e-9)
