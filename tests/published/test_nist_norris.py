"""NIST Statistical Reference Datasets, Norris: linear regression, lower level of difficulty.

A sweep's offset and slope are unknowns without a prior. Where no function of the frame may move, framevis's estimate
of them is a least-squares line, so a real sweep of an indicator along a rail carries the data here.
"""

from __future__ import annotations

import numpy as np
from estimator_by_hand import least_squares, reduced
from ledger import Source, Value, check
from practice_gantry import rail_pair
from reference_tables import columns

from framevis.deviations import Layout
from framevis.frame import Frame, Limits, Sweep, SweepReadings, locked
from framevis.rows import Rows, assemble

SOURCE = Source(
    "NIST Statistical Reference Datasets, Norris",
    "Least squares and uncertainty",
    "A line through 36 points, carried by a sweep of an indicator along a rail: its unknown offset and slope.",
)
X, Y = (np.array(column) for column in columns("nist_norris", "x", "y"))
CERTIFIED = (  # value, relative tolerance
    ("B0", -0.262323073774029, 1e-9),
    ("B1", 1.00211681802045, 1e-9),
    ("sd of B0", 0.232818234301152, 1e-9),
    ("sd of B1", 0.429796848199937e-03, 1e-9),
    ("residual sd", 0.884796396144373, 1e-11),
)


def indicator_sweep() -> Rows:
    outer, inner = rail_pair()
    sweep = Sweep("norris", "indicator", 1.0, (outer,), direction="height", reference="straightedge")
    frame = Frame(
        "norris", "mm", ("found",), Limits(), None, locked([0, 0, 1]), (outer.beam,), (outer, inner), (), (sweep,), ()
    )
    order = locked(np.arange(X.size))
    readings = SweepReadings(sweep, locked(X), locked(Y), locked(np.ones(X.size)), order, tuple(range(X.size)))
    return assemble(Layout.of(frame), {}, (readings,))


def five(rows: Rows) -> tuple[float, ...]:
    """In the order of CERTIFIED."""
    still = reduced(rows.values, rows.u, rows.design * 0.0, rows.free)
    found, _, residual = least_squares(still)
    # the sweep counts its slope from its middle, and both columns are scaled: turned into 1 and x
    turn = np.linalg.inv(np.linalg.lstsq(rows.free, np.column_stack([np.ones_like(X), X]), rcond=None)[0])
    root = turn @ np.linalg.inv(still.r_free) * residual
    return (*(turn @ found).tolist(), *np.sqrt(np.sum(root**2, axis=1)).tolist(), residual)


def values() -> list[Value]:
    return [
        Value(what, "1", certified, ours, "seen", relative=relative)
        for (what, certified, relative), ours in zip(CERTIFIED, five(indicator_sweep()), strict=True)
    ]


def test_values() -> None:
    check(values())


def test_the_unknowns_are_offset_and_slope() -> None:
    assert indicator_sweep().free_names == (("norris", "offset"), ("norris", "slope"))
