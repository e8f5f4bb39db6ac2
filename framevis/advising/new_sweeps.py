"""Sweeps that could be added to a frame: usual ways of measuring that its frame.toml doesn't name.

Takes a frame, gives sweeps with the uncertainty that is assumed where none is stated, and their lines for frame.toml.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from math import cos, radians

from framevis.frame import Frame, Rail, Sweep
from framevis.observe import across_mm
from framevis.reading.frame_carriages import are_parallel
from framevis.reading.frame_sweeps import DEFAULT_U, LEAST_APART_MM, SAME_WAY_DEG
from framevis.units import UM_PER_UNIT

Set = tuple[Sweep, ...]
LONGEST = 60


def _file_name(name: str) -> str:
    """A name that a file may have too."""
    return re.sub(r"[^\w-]", "_", name)[:LONGEST]


def new_sweeps(frame: Frame) -> list[Set]:
    """Sweeps, those that only tell something together in one set, of which frame.toml has none."""
    known = {_looks(sweep) for sweep in frame.sweeps}
    offered = [*_of_rails(frame), *_of_pairs(frame), *_of_channels(frame)]
    fresh = [sweeps for sweeps in offered if not any(_looks(sweep) in known for sweep in sweeps)]
    taken = {sweep.name.casefold() for sweep in frame.sweeps} | {pull.name.casefold() for pull in frame.pulls}
    return [sweeps for sweeps in fresh if not any(sweep.name.casefold() in taken for sweep in sweeps)]


def _looks(sweep: Sweep) -> tuple[object, ...]:
    """What a sweep looks at, whatever it is called."""
    rails = frozenset(rail.name for rail in sweep.rails)
    spacing = sweep.kind == "bridge" and sweep.absolute
    return sweep.kind, rails, sweep.direction, sweep.reference == "face", spacing, sweep.beam and sweep.beam.name


def _of_rails(frame: Frame) -> Iterator[Set]:
    for rail in frame.rails:
        for direction in ("lateral", "height"):
            name, u = _file_name(f"{rail.name}_{direction}"), DEFAULT_U["indicator"]
            yield (Sweep(name, "indicator", u, (rail,), direction=direction, reference="straightedge"),)


def _of_pairs(frame: Frame) -> Iterator[Set]:
    """Of the rails that one carriage rides: distance and step from one to the other, levels with one instrument."""
    for a, b in _pairs(frame):
        both = _file_name(f"{a.name}_{b.name}")
        yield (Sweep(f"{both}_spacing", "bridge", DEFAULT_U["bridge"], (a, b), direction="lateral", absolute=True),)
        yield (Sweep(f"{both}_step", "bridge", DEFAULT_U["bridge"], (a, b), direction="height"),)
        if abs(across_mm(a, b)) >= LEAST_APART_MM:
            names = ((f"{both}_roll_of_{a.name}", (a,)), (f"{both}_roll_of_{b.name}", (b,)), (f"{both}_roll", (a, b)))
            u, instrument = DEFAULT_U["level_across"], f"level {both}"
            yield tuple(Sweep(_file_name(name), "level_across", u, on, instrument=instrument) for name, on in names)


def _pairs(frame: Frame) -> list[tuple[Rail, Rail]]:
    pairs: dict[frozenset[str], tuple[Rail, Rail]] = {}
    for carriage in frame.carriages:
        first, *others = {block.rail.name: block.rail for block in carriage.blocks}.values()
        for other in others:
            faces_alike = float(first.axes[2] @ other.axes[2]) > cos(radians(SAME_WAY_DEG))
            if faces_alike and are_parallel(first.beam, other.beam):
                pairs.setdefault(frozenset((first.name, other.name)), (first, other))
    return list(pairs.values())


def _of_channels(frame: Frame) -> Iterator[Set]:
    for beam in frame.beams:
        if beam.section.shape == "channel":
            yield (Sweep(_file_name(f"{beam.name}_mouth"), "mouth", DEFAULT_U["mouth"], beam=beam),)


def toml_lines(frame: Frame, sweep: Sweep) -> list[str]:
    """The entry of a sweep in frame.toml, its u in the units that go with the frame's."""
    lines = [f"[sweep.{_key(sweep.name)}]", f'kind = "{sweep.kind}"']
    names = [json.dumps(rail.name, ensure_ascii=False) for rail in sweep.rails]
    if len(names) == 1:
        lines.append(f"rail = {names[0]}")
    elif names:
        lines.append(f"rails = [{', '.join(names)}]")
    if sweep.beam is not None:
        lines.append(f"beam = {json.dumps(sweep.beam.name, ensure_ascii=False)}")
    if sweep.direction is not None:
        lines.append(f'direction = "{sweep.direction}"')
    if sweep.absolute:
        lines.append("absolute = true")
    if sweep.instrument is not None:
        lines.append(f"instrument = {json.dumps(sweep.instrument, ensure_ascii=False)}")
    u = f"u_um = {sweep.u:g}" if frame.length_unit == "mm" else f"u_thou = {sweep.u / UM_PER_UNIT['thou']:.3g}"
    return [*lines, f"{f'u_mrad = {sweep.u:g}' if sweep.is_angle else u}   # yours: instrument and hand"]


def _key(name: str) -> str:
    return name if re.fullmatch("[A-Za-z0-9_-]+", name) else json.dumps(name, ensure_ascii=False)
