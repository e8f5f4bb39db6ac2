"""The ledger of published values: what a source says, what framevis says, and how far apart the two may be.

Every `test_*.py` here that holds numbers against a source names it as `SOURCE`, lists them with `values()`, and asserts
them with `check`. The page VALUES.md is written from the same lists, so what is listed is what is asserted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from importlib import import_module
from math import inf
from pathlib import Path
from types import ModuleType
from typing import Literal

HERE = Path(__file__).parent

#: seen: read in a public copy of the source. computed: by an exact formula or another program, not published.
Status = Literal["seen", "from memory", "computed", "common practice"]
Field = Literal[
    "Contact of ball and groove",
    "Straightness",
    "Least squares and uncertainty",
    "Splines",
    "Sections and opened channels",
    "Sag",
    "Screws and torques",
    "Warmth",
    "Facts of the trade",
]


@dataclass(frozen=True)
class Source:
    """Where values come from. `note`: what the reader must know of it, and of how framevis was asked."""

    name: str
    field: Field
    note: str


@dataclass(frozen=True)
class Value:
    """A number of a source beside framevis's own, in one unit ("1": none), with what lies allowed between them.

    The tolerance is `absolute`, or `relative` to the published value, or the larger of the two; none: exactly equal.
    """

    what: str
    unit: str
    published: float
    ours: float
    status: Status
    absolute: float = 0.0
    relative: float = 0.0

    @property
    def allowed(self) -> float:
        return max(self.absolute, self.relative * abs(self.published))

    @property
    def difference(self) -> float:
        return self.ours - self.published

    @property
    def agrees(self) -> bool:
        return abs(self.difference) <= self.allowed


@dataclass(frozen=True)
class Range:
    """A statement of a source that leaves room, as "binds" or "about a fifth": low ≤ framevis's own value < high."""

    what: str
    unit: str
    low: float
    high: float
    ours: float
    status: Status

    @property
    def agrees(self) -> bool:
        return self.low <= self.ours < self.high


Entry = Value | Range


def at_least(what: str, unit: str, low: float, ours: float, status: Status) -> Range:
    return Range(what, unit, low, inf, ours, status)


def below(what: str, unit: str, high: float, ours: float, status: Status) -> Range:
    return Range(what, unit, -inf, high, ours, status)


def check(entries: Sequence[Entry]) -> None:
    """Asserts every one of them, and that there are some."""
    assert entries
    wrong = [str(entry) for entry in entries if not entry.agrees]
    assert not wrong, "\n".join(wrong)


@dataclass(frozen=True)
class Account:
    """One source with its values, as its test file has them."""

    file: str
    source: Source
    entries: tuple[Entry, ...]


def account_of(module: ModuleType) -> Account:
    return Account(f"{module.__name__}.py", module.SOURCE, tuple(module.values()))


def accounts() -> list[Account]:
    """All sources of this folder, by the names of their files. A file without `SOURCE` holds no number of a source."""
    modules = [import_module(path.stem) for path in sorted(HERE.glob("test_*.py"))]
    return [account_of(module) for module in modules if hasattr(module, "SOURCE")]
