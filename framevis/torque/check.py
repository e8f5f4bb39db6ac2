"""One check before final torque: what was looked at, how it came out, what was found. Takes nothing, judges nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

State = Literal["passed", "failed", "not measured"]
MOST_NAMED = 6


@dataclass(frozen=True)
class Check:
    title: str
    state: State
    says: str


def is_fit(checks: Sequence[Check]) -> bool:
    """Whether nothing failed. A block that isn't free, for want of readings too, is a failed check."""
    return all(check.state != "failed" for check in checks)


def few(texts: list[str]) -> str:
    """Names in one line, the first of them where they are many."""
    more = f" and {len(texts) - MOST_NAMED} more" if len(texts) > MOST_NAMED else ""
    return ", ".join(texts[:MOST_NAMED]) + more
