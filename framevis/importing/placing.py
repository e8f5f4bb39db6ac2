"""Puts imported readings into the frame: the readings file whole or not at all, the original kept beside.

Takes an `Understood` and the sweep's place; writes readings/STAGE/SWEEP.csv and readings/STAGE/originals/NAME. Raises
`BadInput` where the readings can't be right or the disk refuses.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from framevis.entering import disk
from framevis.entering.sheet import sheet_from
from framevis.entering.slots import slots_of, value_of
from framevis.errors import BadInput, Problem, problem
from framevis.frame import PullSweep, Sweep
from framevis.importing.echo import plain
from framevis.importing.understanding import Understood
from framevis.reading.door import one_line, quoted
from framevis.reading.readings import problems_of

ORIGINALS = "originals"
HEAD_LINES = 2  # of the readings file, before its first row


def text_of(found: Understood) -> str:
    """The readings file: stations and readings as they were understood, in the order of the file."""
    has_notes = any(each.note for each in found.entries)
    columns = [f"station_{found.station_unit}", *(f"{label}_{found.unit}" for label in found.labels)]
    lines = [f"# imported from {one_line(found.source.name)}", ",".join([*columns, *(["note"] if has_notes else [])])]
    for each in found.entries:
        cells = [plain(each.station), *("" if value is None else plain(value) for value in each.readings)]
        lines.append(",".join([*cells, *([_note(each.note)] if has_notes else [])]))
    return "\n".join(lines) + "\n"


def _note(note: str) -> str:
    text = "".join(mark if mark.isprintable() else " " for mark in note)
    return '"' + text.replace('"', '""') + '"' if set(text) & set(',;#"') else text


def check(found: Understood, sweep: Sweep | PullSweep, path: Path, *, replacing: bool) -> None:
    """Raise what stands against it: readings that are there already, or what the reader would refuse."""
    there = disk.read_bytes(path)
    if there is not None and not replacing and not is_blank(path, sweep, there):
        todo = "give --replace to put these in their place; the old file is then kept beside"
        raise BadInput(problem(disk.shown(path), "holds readings already", todo))
    name = quoted(found.source.name, 120)
    wrong = disk.refused(path, text_of(found).encode(), lambda beside: problems_of(beside, sweep, name))
    if wrong:
        raise BadInput([_of_original(each, found) for each in wrong])


def place(found: Understood, path: Path) -> tuple[str, ...]:
    """Write everything; what was kept where, a sentence each. The caller holds the file and has checked."""
    there, folder = disk.read_bytes(path), path.parent / ORIGINALS
    kept = [("the original", disk.keep_another(folder, found.source.name, found.source.raw))]
    if there is not None:
        kept.append(("the file that stood there before", disk.keep_another(folder, path.name, there)))
    disk.keep(path, text_of(found).encode())
    return tuple(f"{what} is kept as {quoted(f'{ORIGINALS}/{name}', 200)}" for what, name in kept)


def _of_original(each: Problem, found: Understood) -> Problem:
    row = (each.line or 0) - HEAD_LINES - 1
    line = found.entries[row].line if 0 <= row < len(found.entries) else None
    return replace(each, line=line)


def is_blank(path: Path, sweep: Sweep | PullSweep, raw: bytes) -> bool:
    """Whether a file that stands there is a prepared sheet without a single reading."""
    if problems_of(path, sweep, path.name):
        return False
    sheet = sheet_from(raw)
    return sheet.is_empty or all(value_of(sheet, slot) is None for slot in slots_of(sheet, sweep))
