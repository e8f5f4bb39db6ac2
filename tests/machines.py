"""Machines for tests: a frame as a plain dictionary, readings simulated from a known true shape, both as files.

The transformations below describe one and the same machine differently: nothing that is felt may change.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from framevis.deviations import Deviations, Key, Layout
from framevis.frame import Floats, Frame
from framevis.observe import view
from framevis.rail_shims import known_functions
from framevis.reading.frame_file import read_frame
from framevis.reading.readings import read_stage
from framevis.study import Study, work_through

Tree = dict[str, Any]
Readings = dict[str, tuple[Floats, Floats]]  # sweep → stations mm, readings µm or mrad

GUIDE: Tree = {
    "arrangement": "gothic", "rail_width": 15.0, "rail_height": 10.0, "block_length": 43.0, "block_width": 32.0,
    "block_height": 16.0, "ball_height": 6.5, "ball_diameter": 3.175, "balls_per_row": 7, "row_spacing": 14.4,
    "contact_angle_deg": 45.0, "conformity": 0.53, "preload_interference_um": 1.5, "friction": 0.004,
    "seal_drag_n": 1.0, "screw_pitch": 40.0,
}  # fmt: skip


def portal(length: float = 1000.0) -> Tree:
    """Two side beams, a channel and a box, three rails; one carriage on the channel and one that spans both beams."""
    blocks = lambda a, b, along: [  # noqa: E731
        {"name": f"{rail}{'+' if sign > 0 else '-'}", "rail": rail, "along": sign * along}
        for rail in (a, b)
        for sign in (1.0, -1.0)
    ]
    level = {"kind": "level_across", "instrument": "one level", "u_mrad": 0.02}
    line = {"kind": "indicator", "u_um": 1.5}
    return {
        "format": 1, "name": "portal", "length_unit": "mm", "stages": ["now"], "up": [0.0, 0.0, 1.0],
        "section": {
            "channel": {"shape": "channel", "width": 120.0, "depth": 60.0, "wall": 6.0, "mouth": "away_from_rails",
                        "material": "aluminium"},
            "box": {"shape": "box", "width": 80.0, "depth": 80.0, "wall": 4.0, "material": "aluminium"},
        },
        "guide": {"g": GUIDE},
        "beam": {
            "left": {"section": "channel", "start": [0.0, 0.0, 0.0], "end": [0.0, length, 0.0],
                     "normal": [0.0, 0.0, 1.0]},
            "right": {"section": "box", "start": [500.0, 20.0, 0.0], "end": [500.0, length + 20.0, 0.0],
                      "normal": [0.0, 0.0, 1.0]},
        },
        "rail": {
            "a": {"beam": "left", "guide": "g", "seat": 40.0, "first_screw": 20.0, "screws": 24},
            "b": {"beam": "left", "guide": "g", "seat": -40.0, "first_screw": 20.0, "screws": 24},
            "c": {"beam": "right", "guide": "g", "seat": 10.0, "first_screw": 20.0, "screws": 24},
        },
        "carriage": {
            "small": {"travel": [80.0, length - 80.0], "mass_kg": 6.0, "centre": [5.0, 3.0, 60.0], "bolted_at": 300.0,
                      "blocks": blocks("a", "b", 45.0)},
            "wide": {"travel": [150.0, length - 150.0], "mass_kg": 20.0, "centre": [0.0, -250.0, 90.0],
                     "bolted_at": 300.0, "blocks": blocks("a", "c", 90.0),
                     "seat_stiffness": {"lateral_n_per_um": 30.0, "height_n_per_um": 60.0, "roll_nm_per_mrad": 20.0,
                                        "pitch_nm_per_mrad": 20.0, "yaw_nm_per_mrad": 20.0}},
        },
        "sweep": {
            "a_lateral": {**line, "rail": "a", "direction": "lateral"},
            "a_height": {**line, "rail": "a", "direction": "height"},
            "ab_lateral": {"kind": "bridge", "rails": ["a", "b"], "direction": "lateral", "u_um": 1.5},
            "ac_lateral": {"kind": "bridge", "rails": ["a", "c"], "direction": "lateral", "u_um": 3.0},
            "ac_height": {"kind": "bridge", "rails": ["a", "c"], "direction": "height", "u_um": 2.0, "absolute": True},
            "a_roll": {**level, "rail": "a"}, "b_roll": {**level, "rail": "b"}, "c_roll": {**level, "rail": "c"},
            "ab_roll": {**level, "rails": ["a", "b"]}, "ac_roll": {**level, "rails": ["a", "c"]},
            "c_along": {"kind": "level_along", "rail": "c", "base": 100.0, "u_mrad": 0.03},
            "ab_tops": {"kind": "gap", "touches": [["a", "left"], ["b", "right"]], "feeler_at": ["a", "right"],
                        "u_um": 4.0},
            "mouth": {"kind": "mouth", "beam": "left", "u_um": 8.0},
        },
        "shim": [
            {"stage": "now", "spot": "small/a+/left", "thickness_um": 10.0},
            {"stage": "now", "spot": "b@20/right", "thickness_um": 10.0},
        ],
    }  # fmt: skip


def toml_of(value: Any) -> str:
    """A tree as TOML: tables for dictionaries, inline below them."""
    plain = {key: item for key, item in value.items() if not isinstance(item, dict) and key != "shim"}
    lines = [f"{key} = {_inline(item)}" for key, item in plain.items()]
    for kind, tables in value.items():
        if isinstance(tables, dict):
            for name, table in tables.items():
                lines.append(f"\n[{kind}.{_inline(name)}]")
                lines += [f"{key} = {_inline(item)}" for key, item in table.items()]
    for shim in value.get("shim", []):
        lines += ["\n[[shim]]", *(f"{key} = {_inline(item)}" for key, item in shim.items())]
    return "\n".join(lines) + "\n"


def _inline(item: Any) -> str:
    if isinstance(item, dict):
        return "{ " + ", ".join(f"{key} = {_inline(part)}" for key, part in item.items()) + " }"
    if isinstance(item, list):
        return "[" + ", ".join(_inline(part) for part in item) + "]"
    if isinstance(item, bool):
        return str(item).lower()
    return f'"{item}"' if isinstance(item, str) else repr(float(item) if isinstance(item, float) else item)


def write(folder: Path, tree: Tree, readings: Readings, scale: Mapping[str, float] | None = None) -> Path:
    """Write a frame with one stage `now`. `scale` {"station_in": …} gives other units: name → size in mm, µm, mrad."""
    units = scale or {"station_mm": 1.0, "reading_um": 1.0, "reading_mrad": 1.0}
    (folder / "readings" / "now").mkdir(parents=True)
    (folder / "frame.toml").write_text(toml_of(tree), encoding="utf-8")
    station = next(name for name in units if name.startswith("station"))
    for name, (s, values) in readings.items():
        angle = tree["sweep"][name]["kind"].startswith("level")
        column = next(c for c in units if c.startswith("reading") and (c in ANGLES) == angle)
        rows = [
            f"{float(a) / units[station]!r},{float(b) / units[column]!r}" for a, b in zip(s, values, strict=True)
        ]
        (folder / "readings" / "now" / f"{name}.csv").write_text(f"{station},{column}\n" + "\n".join(rows) + "\n")
    return folder


ANGLES = ("reading_mrad", "reading_arcsec", "reading_deg", "reading_in_per_ft", "reading_mm_per_m")


def shape(frame: Frame, functions: Mapping[Key, Callable[[Floats], Floats]]) -> Deviations:
    """A true shape from functions of x = station / length, as near as the strips can have it."""
    layout = Layout.of(frame)
    coefficients = np.zeros(layout.size)
    for key, function in functions.items():
        s = np.linspace(0.0, layout.strips[key].length_mm, 500)
        design = layout.strips[key].shapes(s)
        coefficients[layout.places[key]] = np.linalg.lstsq(design, function(s / s[-1]), rcond=None)[0]
    return Deviations(layout, coefficients, known_functions(frame.rails, frame.shims_at("now")))


def rough(frame: Frame, seed: int, size: float = 1.0) -> Deviations:
    """A random smooth true shape: a few sine waves a function, none of them from framevis' own prior."""
    random = np.random.default_rng(seed)
    amount = {"bow_lateral": 30.0, "bow_height": 30.0, "twist": 0.3, "opening": 0.5, "own_lateral": 5.0,
              "own_height": 3.0, "own_roll": 0.1}  # fmt: skip

    def waves(height: float) -> Callable[[Floats], Floats]:
        turns, phase = np.array([0.5, 1.0, 1.5, 2.0]), random.uniform(0.0, 1.0, 4)
        heights = height * random.normal(size=4) / np.array([1.0, 1.5, 2.5, 4.0])
        return lambda x: np.sum(heights * np.sin(2.0 * np.pi * (np.outer(x, turns) + phase)), axis=1)

    return shape(frame, {key: waves(size * amount[key[0]]) for key in Layout.of(frame).strips})


def measure(frame: Frame, true: Deviations, step_mm: float, noise: float = 1.0, seed: int = 0) -> Readings:
    """What every sweep reads of a true shape: instruments have offsets, straightedges lie askew, readings scatter."""
    random = np.random.default_rng(seed)
    readings = {}
    for sweep in frame.sweeps:
        margin = (sweep.base_mm or 0.0) / 2.0 + 20.0
        s = np.arange(margin, sweep.station_beam.length_mm - margin + 1e-9, step_mm)
        seen = view(sweep, s)
        values = np.sum([true.along(part.weights, part.station_mm) for part in seen.parts], axis=0) + seen.constant
        if sweep.is_angle:
            values = values + 0.2
        elif sweep.kind in ("indicator", "bridge", "mouth") and not sweep.absolute:
            values = values + 40.0 * random.normal()
        if sweep.kind == "indicator":
            values = values + 0.05 * random.normal() * (s - s.mean())
        values = values + noise * sweep.u * random.normal(size=s.size)
        there = values >= 0.0 if sweep.kind == "gap" else np.full(s.size, True)  # no feeler goes into less than no gap
        readings[sweep.name] = (s[there], values[there])
    return readings


def study_of(folder: Path, draws: int = 20) -> Study:
    frame = read_frame(folder)
    return work_through(frame, read_stage(frame, "now"), draws)


def changed(tree: Tree) -> Tree:
    return copy.deepcopy(tree)
