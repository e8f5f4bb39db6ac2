"""Frames of any size for the benchmarks: beams side by side, each a channel with two rails and a carriage of 8 blocks.

Each beam has every kind of sweep that is read: indicator, bridge, level across and along, gap, mouth, pull. Levels
share the zero of one instrument over the whole frame, or have one a beam. Readings are those of a rough true shape, the
same on every beam, so that the words on the blocks that suffer grow as the frame does.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from framevis.carriage import Mechanism
from framevis.deviations import Deviations, Layout
from framevis.equilibrium import solve
from framevis.frame import Floats, Frame
from framevis.reading.frame_file import read_frame
from framevis.ride import mean_ride
from framevis.risk import drag_of
from machines import GUIDE, Tree, measure, rough, write

LENGTH_MM, GAUGE_MM = 1500.0, 400.0
ALONG_MM = (-150.0, -50.0, 50.0, 150.0)
SEED, ROUGHNESS = 4, 0.7
SWEEPS_A_BEAM = 11  # without the pull, which isn't evidence of a shape
PULLED_MM = np.linspace(200.0, LENGTH_MM - 200.0, 12)


@dataclass(frozen=True)
class Size:
    """How big a frame is: `readings` of the whole frame, spread evenly over its sweeps; one level for all, or not."""

    beams: int = 1
    readings: int = 300
    one_level: bool = True


def tree_of(size: Size) -> Tree:
    tree: Tree = {
        "format": 1, "name": f"{size.beams} beams", "length_unit": "mm", "stages": ["now"],
        "section": {"channel": {"shape": "channel", "width": 120.0, "depth": 60.0, "wall": 6.0,
                                "mouth": "away_from_rails", "material": "aluminium"}},
        "guide": {"g": GUIDE}, "beam": {}, "rail": {}, "carriage": {}, "sweep": {},
    }  # fmt: skip
    for number in range(1, size.beams + 1):
        _add_beam(tree, number, "frame level" if size.one_level else f"level {number}")
    return tree


def _add_beam(tree: Tree, number: int, instrument: str) -> None:
    beam, a, b = f"beam{number}", f"a{number}", f"b{number}"
    x = GAUGE_MM * (number - 1)
    tree["beam"][beam] = {"section": "channel", "start": [x, 0.0, 0.0], "end": [x, LENGTH_MM, 0.0],
                          "normal": [0.0, 0.0, 1.0]}  # fmt: skip
    for name, seat in ((a, 40.0), (b, -40.0)):
        tree["rail"][name] = {"beam": beam, "guide": "g", "seat": seat, "first_screw": 20.0}
    tree["carriage"][f"carriage{number}"] = {
        "travel": [200.0, LENGTH_MM - 200.0], "mass_kg": 12.0, "bolted_at": 500.0,
        "blocks": [{"name": f"{on}_{place}", "rail": on, "along": along}
                   for on in (a, b) for place, along in enumerate(ALONG_MM)],
        "seat_stiffness": {"lateral_n_per_um": 25.0, "height_n_per_um": 60.0, "roll_nm_per_mrad": 13.0,
                           "pitch_nm_per_mrad": 20.0, "yaw_nm_per_mrad": 20.0},
    }  # fmt: skip
    line, level = {"kind": "indicator", "u_um": 1.5}, {"kind": "level_across", "instrument": instrument, "u_mrad": 0.02}
    bridge = {"kind": "bridge", "rails": [a, b], "u_um": 1.5}
    sweeps: Tree = {
        "lateral": {**line, "rail": a, "direction": "lateral"}, "height": {**line, "rail": a, "direction": "height"},
        "spacing": {**bridge, "direction": "lateral"}, "step": {**bridge, "direction": "height", "absolute": True},
        "roll_a": {**level, "rail": a}, "roll_b": {**level, "rail": b}, "roll_ab": {**level, "rails": [a, b]},
        "along": {"kind": "level_along", "rail": b, "base": 100.0, "u_mrad": 0.03},
        "tops_a": {"kind": "gap", "touches": [[a, "left"], [b, "right"]], "feeler_at": [a, "right"], "u_um": 4.0},
        "tops_b": {"kind": "gap", "touches": [[a, "left"], [b, "right"]], "feeler_at": [b, "left"], "u_um": 4.0},
        "mouth": {"kind": "mouth", "beam": beam, "u_um": 8.0},
    }  # fmt: skip
    assert len(sweeps) == SWEEPS_A_BEAM
    tree["sweep"].update({f"{name}{number}": sweep for name, sweep in sweeps.items()})
    tree["sweep"][f"pull{number}"] = {"kind": "pull", "carriage": f"carriage{number}", "u_n": 0.2}


def alike(frame: Frame, one: Frame) -> Deviations:
    """The rough true shape of a frame of one beam, on every beam of a frame."""
    first, layout = rough(one, SEED, ROUGHNESS), Layout.of(frame)
    coefficients = np.zeros(layout.size)
    for (kind, name), place in layout.places.items():
        same = kind, f"{name.rstrip('0123456789')}1"
        coefficients[place] = first.coefficients[first.layout.places[same]]
    return Deviations(layout, coefficients, first.known)


def pulls(frame: Frame, true: Deviations) -> Iterator[Floats]:
    """The force (N) at `PULLED_MM` to move each carriage over a true shape."""
    for carriage in frame.carriages:
        mechanism = Mechanism(carriage, frame.up)
        yield drag_of(mechanism, solve(mechanism, mean_ride(carriage, true, PULLED_MM))).sum(axis=0)


def write_big(folder: Path, size: Size) -> Path:
    """A frame of a size with its readings; some of the gaps' are missing: no feeler goes in there."""
    tree = tree_of(size)
    frame, one = (
        read_frame(write(folder / name, drawn, {})) for name, drawn in (("all", tree), ("one", tree_of(Size())))
    )
    true = alike(frame, one)
    a_sweep = size.readings / (size.beams * (SWEEPS_A_BEAM - 1))
    placed = write(folder / "machine", tree, measure(frame, true, (LENGTH_MM - 40.0) / a_sweep))
    for number, pulled in enumerate(pulls(frame, true), start=1):
        rows = [f"{float(s)!r},{float(n):.2f}" for s, n in zip(PULLED_MM, pulled, strict=True)]
        file = placed / "readings" / "now" / f"pull{number}.csv"
        file.write_text("station_mm,running_n\n" + "\n".join(rows) + "\n")
    return placed


def readings_of(folder: Path) -> int:
    """How many readings a frame has, those of its pulls left out."""
    files = [file for file in (folder / "readings" / "now").glob("*.csv") if not file.stem.startswith("pull")]
    return sum(len(file.read_text().splitlines()) - 1 for file in files)
