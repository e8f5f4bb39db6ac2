"""The portal in inches: every length of frame.toml and every reading, the same machine as in millimetres."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from framevis.reading.frame_file import read_frame
from machines import Readings, Tree, measure, portal, rough, write

LENGTHS = {
    "width", "depth", "wall", "rail_width", "rail_height", "block_length", "block_width", "block_height",
    "ball_height", "ball_diameter", "row_spacing", "row_gap", "screw_pitch", "start", "end", "seat", "first_screw",
    "travel", "centre", "along", "bolted_at", "base", "span", "depth_at", "nominal", "supports", "straightedge_ends",
}  # fmt: skip
UNITS = {"station_in": 25.4, "reading_thou": 25.4, "reading_arcsec": 1000.0 * np.pi / 648_000.0}


def in_inches(value: Any, name: str = "") -> Any:
    if isinstance(value, dict):
        return {key: in_inches(item, key) for key, item in value.items()}
    if isinstance(value, list) and name in ("blocks", "shim"):
        return [in_inches(item) for item in value]
    if name not in LENGTHS:
        return value
    return [item / 25.4 for item in value] if isinstance(value, list) else value / 25.4


def inch_frame(folder: Path, size: float = 1.0, without: tuple[str, ...] = (), more: str = "") -> Path:
    """An inch frame with readings in thou and arcseconds. `more`: TOML besides."""
    tree: Tree = portal()
    drawn = read_frame(write(folder / "drawn", tree, {}))
    readings: Readings = measure(drawn, rough(drawn, 1, size), 100.0)
    kept = {name: found for name, found in readings.items() if name not in without}
    placed = write(folder / "inches", {**in_inches(tree), "length_unit": "in", "stages": ["now", "later"]}, kept, UNITS)
    with (placed / "frame.toml").open("a", encoding="utf-8") as file:
        file.write(more)
    return placed
