"""Random machines: lengths, sections, guides, seats and arrangements drawn at random, with the sweeps taken on them.

Takes a random generator, gives a frame as the file's reader makes it, so that every one has passed the checks at the
door. Dimensions and uncertainties are those of ordinary small gantries (common practice), not a maker's.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Literal, get_args

import numpy as np
from random_sweeps import Measuring, sweeps_of_pair

from framevis.frame import Frame
from framevis.reading.frame_file import read_frame
from machines import GUIDE, Tree, write

Arrangement = Literal["one beam", "two beams", "second face", "carried beam"]
ARRANGEMENTS: tuple[Arrangement, ...] = get_args(Arrangement)
SHARES = (0.4, 0.3, 0.18, 0.12)  # of the arrangements among all frames: the last has three carriages to reckon
STEP_MM = 12.0  # the second of two beams is drawn so much lower: then every gap under the straightedge is open


@dataclass(frozen=True, eq=False)
class Drawn:
    """A random machine and how it came about."""

    frame: Frame
    arrangement: Arrangement
    measuring: Measuring


def random_frame(random: np.random.Generator) -> Drawn:
    """A random machine with its sweeps."""
    measuring = str(random.choice(get_args(Measuring), p=(0.45, 0.3, 0.25)))
    plain = measuring == "plain"
    shares = np.array(SHARES) * (np.array([1.0, 1.0, 0.0, 0.0]) if plain else 1.0)
    arrangement = str(random.choice(ARRANGEMENTS, p=shares / shares.sum()))
    tree = _tree(arrangement, measuring, random)
    with TemporaryDirectory() as folder:
        frame = read_frame(write(Path(folder) / "frame", tree, {}))
    return Drawn(frame, arrangement, measuring)  # type: ignore[arg-type]


def _tree(arrangement: str, measuring: str, random: np.random.Generator) -> Tree:
    tree: Tree = {
        "format": 1, "name": arrangement, "length_unit": "mm", "stages": ["now"], "up": [0.0, 0.0, 1.0],
        "section": {}, "guide": {"g": random_guide(random)}, "beam": {}, "rail": {}, "carriage": {}, "sweep": {},
    }  # fmt: skip
    length = float(random.uniform(700.0, 1600.0))
    if arrangement == "two beams":
        _two_beams(tree, length, measuring, random)
    elif arrangement == "carried beam":
        gauge = float(random.uniform(600.0, 900.0))
        for name, rails, x in (("left", "ab", 0.0), ("right", "cd", gauge)):
            _beam(tree, name, _section(random), [x, 0.0, 0.0], [x, length, 0.0])
            _pair_on(tree, name, rails, measuring, random)
        y = length / 2.0
        _beam(tree, "cross", _section(random, "box"), [-60.0, y, 110.0], [gauge + 60.0, y, 110.0])
        tree["beam"]["cross"]["carried_by"] = ["left", "right"]
        _pair_on(tree, "cross", "ef", measuring, random)
    else:
        face = arrangement == "second face"
        _beam(tree, "left", _section(random, "box" if face else None), [0.0, 0.0, 0.0], [0.0, length, 0.0])
        _pair_on(tree, "left", "ab", measuring, random, 90.0 if face else 0.0)
    return tree


def random_guide(random: np.random.Generator) -> Tree:
    """The 15 mm guide of the tests with another arrangement, number of balls, conformity and preload or clearance."""
    arrangement = str(random.choice(["gothic", "O", "X"]))
    balls = int(random.integers(6, 13))
    own = {
        "arrangement": arrangement,
        "balls_per_row": balls,
        "conformity": float(random.choice([0.52, 0.53, 0.54])),
        "preload_interference_um": float(random.uniform(-2.0, 3.5)),
        "row_gap": 0.0 if arrangement == "gothic" else 6.0,
    }
    return GUIDE | own


def _section(random: np.random.Generator, shape: str | None = None) -> Tree:
    shape = shape or str(random.choice(["channel", "channel", "box", "plate"]))
    width, depth = float(random.uniform(110.0, 160.0)), float(random.uniform(50.0, 90.0))
    section: Tree = {"shape": shape, "width": width, "depth": depth, "wall": 6.0, "material": "aluminium"}
    if shape == "plate":
        section |= {"depth": 20.0, "wall": 20.0}
    if shape == "channel":
        section["mouth"] = str(random.choice(["toward_rails", "away_from_rails"]))
    return section


def _beam(tree: Tree, name: str, section: Tree, start: list[float], end: list[float]) -> None:
    tree["section"][name] = section
    tree["beam"][name] = {"section": name, "start": start, "end": end, "normal": [0.0, 0.0, 1.0]}


def _length(tree: Tree, beam: str) -> float:
    ends = tree["beam"][beam]
    return float(np.linalg.norm(np.subtract(ends["end"], ends["start"])))


def _pair_on(
    tree: Tree, beam: str, rails: str, measuring: str, random: np.random.Generator, face_deg: float = 0.0
) -> None:
    """Two rails on one beam, the second on another face where `face_deg` says so, and a carriage on both."""
    section = tree["section"][beam]
    seat = section["width"] * float(random.uniform(0.25, 0.36))
    if section.get("mouth") == "toward_rails":
        seat = (section["width"] - section["wall"]) / 2.0
    for name, side, face in zip(rails, (1.0, -1.0), (0.0, face_deg), strict=True):
        place = side * seat if face == 0.0 else float(random.uniform(-10.0, 10.0))
        tree["rail"][name] = {"beam": beam, "guide": "g", "seat": place, "first_screw": 20.0, "face_deg": face}
    _carriage(tree, beam, rails, _length(tree, beam), random, float(random.uniform(35.0, 80.0)))
    bolted = "bolted_at" in tree["carriage"][beam]
    tree["sweep"] |= sweeps_of_pair(tree, rails, measuring, bolted, random)


def _two_beams(tree: Tree, length: float, measuring: str, random: np.random.Generator) -> None:
    """A rail on each of two beams; the other may be counted from its far end, and begin elsewhere."""
    gauge = float(random.uniform(350.0, 700.0))
    shift = 0.0 if measuring == "plain" else float(random.uniform(0.0, 20.0))
    down = 0.0 if measuring == "plain" else STEP_MM
    ends = [[gauge, shift, -down], [gauge, length + shift, -down]]
    if measuring != "plain" and random.random() < 0.25:
        ends.reverse()
    _beam(tree, "left", _section(random), [0.0, 0.0, 0.0], [0.0, length, 0.0])
    _beam(tree, "right", _section(random), *ends)
    for rail, beam in zip("ab", ("left", "right"), strict=True):
        half = tree["section"][beam]["width"] / 2.0 - 6.0
        toward = tree["section"][beam].get("mouth") == "toward_rails"
        seat = half if toward else float(random.uniform(-0.5, 0.5)) * half
        tree["rail"][rail] = {"beam": beam, "guide": "g", "seat": seat, "first_screw": 20.0, "face_deg": 0.0}
    _carriage(tree, "wide", "ab", length, random, float(random.uniform(60.0, 120.0)))
    tree["sweep"] |= sweeps_of_pair(tree, "ab", measuring, "bolted_at" in tree["carriage"]["wide"], random)


def _carriage(tree: Tree, name: str, rails: str, length: float, random: np.random.Generator, along: float) -> None:
    """Four blocks on two rails; rigid seats or some that give, bolted at some place or at nominal spacing."""
    low, high = along + 25.0, length - along - 25.0
    blocks = [
        {"name": f"{rail}{'+' if sign > 0 else '-'}", "rail": rail, "along": sign * along}
        for rail in rails
        for sign in (1.0, -1.0)
    ]
    mass = float(random.uniform(3.0, 25.0))
    tree["carriage"][name] = {"travel": [low, high], "mass_kg": mass, "centre": [0.0, 0.0, 60.0], "blocks": blocks}
    faces = {tree["rail"][rail]["face_deg"] for rail in rails}
    if len(faces) > 1 or random.random() < 0.7:
        tree["carriage"][name]["bolted_at"] = float(random.uniform(low, high))
    if random.random() < 0.6:
        soft = float(np.exp(random.uniform(np.log(0.3), np.log(3.0))))
        per_um, per_mrad = {"lateral_n_per_um": 30.0, "height_n_per_um": 60.0}, ("roll", "pitch", "yaw")
        seats = {key: soft * value for key, value in per_um.items()}
        seats |= {f"{key}_nm_per_mrad": 20.0 * soft for key in per_mrad}
        tree["carriage"][name]["seat_stiffness"] = seats
