"""A portal of two stages for tests: shims fitted in between, what was really done told apart from what was entered."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from framevis.deviations import Deviations, Layout
from framevis.frame import Floats, Frame, Push, RailSpot, Shim, Stage, SweepReadings
from framevis.rail_shims import known_functions
from framevis.reading.frame_file import read_frame
from machines import Readings, measure, portal, rough, write

FITTED = [(f"a@{screw}/right", 20.0) for screw in range(8, 14)] + [(f"b@{screw}/left", 10.0) for screw in range(10, 16)]
FITTED += [("a@18/full", 20.0), ("wide/c+/full", 10.0)]
Change = Callable[[Layout, Floats], None]


def two_stages(folder: Path, fitted: Sequence[tuple[str, float]] = FITTED) -> Frame:
    """The portal with stages `now` and `after`, shims fitted in between."""
    tree = portal()
    tree["stages"] = ["now", "after"]
    tree["shim"] += [{"stage": "after", "spot": spot, "thickness_um": thickness} for spot, thickness in fitted]
    return read_frame(write(folder, tree, {}))


def stage(frame: Frame, name: str, readings: Readings) -> Stage:
    taken = []
    for sweep in frame.sweeps:
        if sweep.name in readings and readings[sweep.name][0].size:
            s, values = readings[sweep.name]
            order, lines = np.arange(s.size, dtype=float), tuple(range(2, s.size + 2))
            taken.append(SweepReadings(sweep, s, values, np.full(s.size, sweep.u), order, lines))
    return Stage(name, tuple(taken))


def read_before(frame: Frame, seed: int, true: Deviations | None = None) -> Stage:
    return stage(frame, "now", measure(frame, rough(frame, seed) if true is None else true, 50.0, seed=seed))


def measured_after(
    frame: Frame, seed: int, really: Sequence[Shim], pushes: Sequence[Push] = (), change: Change | None = None
) -> Readings:
    """Readings after shims `really` lie in the machine, rails were pushed, and a function has changed besides."""
    true = rough(frame, seed)
    coefficients = true.coefficients.copy()
    if change is not None:
        change(true.layout, coefficients)
    now = Deviations(true.layout, coefficients, known_functions(frame.rails, tuple(really), tuple(pushes)))
    return measure(frame, now, 50.0, seed=seed + 1000)


def screws(frame: Frame, shims: Sequence[Shim]) -> dict[str, Shim]:
    """Shims under rails by their spots."""
    return {str(shim.spot): shim for shim in shims if isinstance(shim.spot, RailSpot)}
