"""Reads a frame: the folder's frame.toml, checked whole, as one frozen `Frame` in mm, µm and mrad.

Takes a folder; gives a `Frame`, or raises `BadInput` with everything that is wrong with the file at once.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from framevis.frame import Beam, Carriage, Floats, Frame, PullSweep, Push, Rail, Shim, Sweep, locked
from framevis.reading import frame_carriages, frame_fitted, frame_parts, frame_pulls, frame_sweeps, frame_tightening
from framevis.reading.csv_table import read_text
from framevis.reading.door import Door, one_line, quoted
from framevis.reading.frame_parts import Named
from framevis.reading.frame_schema import FrameToml
from framevis.reading.schema_errors import Checked, checked
from framevis.reading.toml_lines import key_lines
from framevis.units import MM_PER_LENGTH_UNIT

FILE = "frame.toml"
MOST_BYTES = 1_000_000
T = TypeVar("T")


def read_frame(folder: Path) -> Frame:
    """The frame in a folder. Raises `BadInput` with every problem of its frame.toml."""
    door = Door(FILE)
    text = _text(folder, door)
    tree = _tree(text, door)
    door.lines = key_lines(text)
    sound = checked(tree, door)
    door.unit = sound.model.length_unit
    frame = _frame(sound, folder, door)
    door.close()
    return frame


def _text(folder: Path, door: Door) -> str:
    shown, todo = quoted(str(folder), 200), "give the folder in which frame.toml stands"
    try:
        if not folder.exists():
            door.refuse_line(None, f"there is no folder {shown}", todo)
        elif not folder.is_dir():
            door.refuse_line(None, f"{shown} is not a folder", todo)
        elif not (folder / FILE).exists():
            door.refuse_line(None, f"there is none in the folder {shown}", todo)
    except OSError as bad:
        door.refuse_line(None, f"the folder {shown} can't be read ({bad.strerror})", todo)
    door.close()
    text = read_text(folder / FILE, door, MOST_BYTES)
    if text is not None and not text.strip():
        door.refuse_line(None, "is empty", "describe the machine in it")
    door.close()
    assert text is not None
    return text.replace("\r\n", "\n")


def _tree(text: str, door: Door) -> dict[str, Any]:
    """The parsed TOML, its lists as tuples."""
    try:
        tree: dict[str, Any] = _with_tuples(tomllib.loads(text))
    except RecursionError:
        door.refuse_line(None, "is nested too deeply", "write it as in the manual's example")
    except ValueError as bad:
        door.refuse_line(*_said_by_tomllib(str(bad), text))
    door.close()
    return tree


def _with_tuples(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _with_tuples(each) for key, each in value.items()}
    return tuple(_with_tuples(each) for each in value) if isinstance(value, list) else value


def _said_by_tomllib(message: str, text: str) -> tuple[int | None, str, str]:
    """Line, problem and remedy of a text that isn't TOML."""
    found = re.search(r"\(at line (\d+), column \d+\)", message)
    line = int(found[1]) if found else text.count("\n") + 1 if "end of document" in message else None
    says = re.sub(r" \(at .*\)$", "", message, flags=re.DOTALL)
    if re.search(r"[Oo]verwrite|twice|[Dd]uplicate|immutable|redefine", says):
        return line, "the same key or table is given a second time", "keep one of the two"
    return line, f"is not valid TOML ({one_line(says)})", "correct this line"


def _frame(sound: Checked, folder: Path, door: Door) -> Frame:
    toml, mm = sound.model, MM_PER_LENGTH_UNIT[sound.model.length_unit]
    _check_presence(sound, door)
    beams, rails, carriages = _machine(sound, mm, door)
    up = _up(toml, door)
    sweeps, warnings = _sweeps(sound, frame_sweeps.Sources(rails, beams, folder, mm, up), door)
    pulls, assumed = _pulls(sound, carriages, door)
    return Frame(
        name=toml.name,
        length_unit=toml.length_unit,
        stages=toml.stages,
        limits=frame_parts.limits(toml.limits, door),
        stock=frame_parts.shim_stock(toml.shim_stock, door),
        up=up,
        beams=_all(beams),
        rails=_all(rails),
        carriages=_all(carriages),
        sweeps=sweeps,
        shims=_shims(sound, carriages, rails, door),
        pushes=_pushes(sound, rails, door),
        pulls=pulls,
        tightening=frame_tightening.tightening(toml.tightening, rails, door),
        folder=folder,
        warnings=(*_mouth_warnings(rails, door), *warnings, *assumed),
    )


def _all(named: Named[T]) -> tuple[T, ...]:
    return tuple(each for each in named.values() if each is not None)


def _named(built: Mapping[str, T | None], broken: frozenset[str]) -> dict[str, T | None]:
    return {**built, **dict.fromkeys(broken)}


def _check_presence(sound: Checked, door: Door) -> None:
    needed: tuple[tuple[str, Mapping[str, object]], ...] = (
        ("beam", sound.model.beam),
        ("rail", sound.model.rail),
        ("carriage", sound.model.carriage),
    )
    for kind, tables in needed:
        if not tables and not sound.broken[kind]:
            door.refuse((kind,), f"there is no {kind}", f"describe at least one under [{kind}.NAME]")


def _machine(sound: Checked, mm: float, door: Door) -> tuple[Named[Beam], Named[Rail], Named[Carriage]]:
    """Beams, rails and carriages by name."""
    toml, broken, parts = sound.model, sound.broken, frame_parts
    sections = _named({n: parts.section(n, t, mm, door) for n, t in toml.section.items()}, broken["section"])
    guides = _named({n: parts.guide(n, t, mm, door) for n, t in toml.guide.items()}, broken["guide"])
    beams = _named({n: parts.beam(n, t, mm, sections, door) for n, t in toml.beam.items()}, broken["beam"])
    rails = _named({n: parts.rail(n, t, mm, beams, guides, door) for n, t in toml.rail.items()}, broken["rail"])
    carriages = _named(
        {n: frame_carriages.carriage(n, t, mm, rails, door) for n, t in toml.carriage.items()}, broken["carriage"]
    )
    frame_carriages.check_carriers({n: b for n, b in beams.items() if b is not None}, carriages, door)
    return beams, rails, carriages


def _sweeps(sound: Checked, sources: frame_sweeps.Sources, door: Door) -> tuple[tuple[Sweep, ...], list[str]]:
    geometric = {name: toml for name, toml in sound.model.sweep.items() if toml.kind != "pull"}
    both = [frame_sweeps.sweep(name, toml, sources, door) for name, toml in geometric.items()]
    folded: dict[str, str] = {}
    for name in sound.model.sweep:
        if folded.setdefault(name.casefold(), name) != name:
            what = f"differs from sweep {quoted(folded[name.casefold()])} only in capitals"
            door.refuse(("sweep", name), what, "give each sweep a file name of its own")
    sweeps = tuple(found for found, _ in both if found)
    _check_error_curves(sweeps, door)
    return sweeps, [warning for _, warning in both if warning]


def _pulls(sound: Checked, carriages: Named[Carriage], door: Door) -> tuple[tuple[PullSweep, ...], list[str]]:
    pulled = {name: toml for name, toml in sound.model.sweep.items() if toml.kind == "pull"}
    both = [frame_pulls.pull(name, toml, carriages, door) for name, toml in pulled.items()]
    return tuple(found for found, _ in both if found), [warning for _, warning in both if warning]


def _check_error_curves(sweeps: tuple[Sweep, ...], door: Door) -> None:
    """A straightedge's error counts in both of its runs or in none."""
    for one in sweeps:
        other = next((o for o in sweeps if o.reversed != one.reversed and o.follows_line_of(one)), None)
        if other is not None and one.error is None and other.error is not None:
            what = f"is missing, and sweep {quoted(other.name)} with the same straightedge has it"
            door.refuse(("sweep", one.name, "error_csv"), what, "give it in both runs or in none")


def _shims(sound: Checked, carriages: Named[Carriage], rails: Named[Rail], door: Door) -> tuple[Shim, ...]:
    stages = sound.model.stages if sound.stages_known else None
    shims: dict[tuple[str, str], Shim] = {}
    for index, toml in zip(sound.index["shim"], sound.model.shim, strict=True):
        shim = frame_fitted.shim(("shim", index), toml, stages, carriages, rails, door)
        if shim is None:
            continue
        if (shim.stage, str(shim.spot)) in shims:
            what = f"the spot {quoted(str(shim.spot))} has two entries for one stage"
            door.refuse(("shim", index, "spot"), what, "add up their thickness in one entry")
        shims[shim.stage, str(shim.spot)] = shim
    return tuple(shims.values())


def _pushes(sound: Checked, rails: Named[Rail], door: Door) -> tuple[Push, ...]:
    stages = sound.model.stages if sound.stages_known else None
    pushes: dict[tuple[str, str, int], Push] = {}
    for index, toml in zip(sound.index["push"], sound.model.push, strict=True):
        push = frame_fitted.push(("push", index), toml, stages, rails, door)
        if push is None:
            continue
        if (push.stage, push.rail, push.screw) in pushes:
            what = f"the screw {quoted(toml.spot)} has two entries for one stage"
            door.refuse(("push", index, "spot"), what, "add up the pushes in one entry")
        pushes[push.stage, push.rail, push.screw] = push
    return tuple(pushes.values())


def _up(toml: FrameToml, door: Door) -> Floats:
    up = np.array(toml.up)
    size = float(np.linalg.norm(up))
    if size < 1e-6:
        door.refuse(("up",), "has no direction", "give the direction against gravity, such as [0, 0, 1]")
        return locked([0.0, 0.0, 1.0])
    return locked(up / size)


def _mouth_warnings(rails: Named[Rail], door: Door) -> list[str]:
    both = [frame_parts.over_the_mouth(rail, door) for rail in _all(rails)]
    return [warning for warning in both if warning]
