"""The door of an input file: collects everything that is wrong with it, one sentence each, and refuses it once.

Takes what the readers find; gives `BadInput` with every problem. Text from a file is shown quoted and
escaped, so that no name can break a terminal or a line.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping
from datetime import date, datetime, time

from framevis.errors import BadInput, Problem
from framevis.reading.toml_lines import KeyPath, line_of
from framevis.units import MM_PER_LENGTH_UNIT, UM_PER_UNIT

_BARE = re.compile(r"[A-Za-z0-9_-]{1,60}")


def quoted(text: str, most: int = 60) -> str:
    """Text from a file between double quotes, on one line, control characters escaped, cut where it is long."""
    cut = text if len(text) <= most else text[: most - 1] + "…"
    return '"' + repr('"' + cut)[2:-1].replace("\\'", "'") + '"'


def shown(value: object) -> str:
    """Any value of a TOML file in a few words."""
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return "a number of that size" if isinstance(value, int) and abs(value) > 10**15 else f"{value:.10g}"
    if isinstance(value, date | datetime | time):
        return value.isoformat()
    return "a table" if isinstance(value, dict) else "a list"


def one_line(text: str) -> str:
    """Text as one printable line: blanks joined, control characters escaped."""
    if text.isprintable():
        return text
    return "".join(mark if mark.isprintable() else repr(mark)[1:-1] for mark in " ".join(text.split()))


def did_you_mean(name: str, known: Iterable[str]) -> str:
    """What to do about a name that isn't known: the nearest one, or those that there are."""
    names = sorted(set(known))
    folded = {each.casefold(): each for each in names}
    near = difflib.get_close_matches(name[:100].casefold(), folded, n=1)
    if near:
        return f"did you mean {quoted(folded[near[0]])}?"
    if not names:
        return "there is none in this file"
    listed = ", ".join(quoted(each) for each in names[:12])
    return f"use one of {listed}" + (", …" if len(names) > 12 else "")


def a_sweep(kind: str) -> str:
    """A kind of sweep with its article."""
    return f"{'an' if kind[:1] in 'aeiou' else 'a'} {kind} sweep"


def field_name(path: KeyPath) -> str:
    """A key path to print: rail.left_outer.guide, blocks[3] for the third of a list."""
    name = ""
    for key in path:
        if isinstance(key, int):
            name += f"[{key + 1}]"
        else:
            name += ("." if name else "") + (key if _BARE.fullmatch(key) else quoted(key))
    return name


class Door:
    """The problems of one input file. `unit` is the one in which its lengths are shown, mm or in."""

    def __init__(self, file: str, lines: Mapping[KeyPath, int] | None = None, unit: str = "mm") -> None:
        self.file = file
        self.lines = lines or {}
        self.unit = unit
        self.problems: list[Problem] = []

    def refuse(self, path: KeyPath, what: str, todo: str) -> None:
        """Note a problem of a key."""
        field = field_name(path) or None
        self.problems.append(Problem(self.file, line_of(self.lines, path), field, one_line(what), one_line(todo)))

    def refuse_line(self, line: int | None, what: str, todo: str) -> None:
        """Note a problem of a line."""
        self.problems.append(Problem(self.file, line, None, one_line(what), one_line(todo)))

    def length(self, value_mm: float) -> str:
        """A length in the file's own unit."""
        return f"{round(value_mm / MM_PER_LENGTH_UNIT[self.unit], 6):.9g} {self.unit}"

    def small(self, um: float) -> str:
        """A small length in the unit that goes with the file's own: µm, or thou."""
        return f"{um:.3g} µm" if self.unit == "mm" else f"{um / UM_PER_UNIT['thou']:.3g} thou"

    def listed(self, most: int) -> list[Problem]:
        """The problems in the order of their lines, at most so many, then one that counts the rest."""
        ordered = sorted(self.problems, key=lambda each: each.line or 0)
        if len(ordered) <= most:
            return ordered
        rest = Problem(self.file, None, None, f"there are {len(ordered) - most} more problems", "correct these first")
        return [*ordered[:most], rest]

    def close(self, most: int = 100) -> None:
        """Raise what was found, if anything was."""
        if self.problems:
            raise BadInput(self.listed(most))
