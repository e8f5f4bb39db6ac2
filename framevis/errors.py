"""What is wrong with an input, said so that the person at the machine can mend it.

Takes nothing from the rest of the package; every reader raises `BadInput`, only the command line prints it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, order=True)
class Problem:
    """One thing that is wrong: in which file, line and field, what it is, and what to do about it."""

    file: str
    line: int | None
    field: str | None
    what: str
    todo: str

    def __str__(self) -> str:
        where = self.file
        if self.line is not None:
            where += f", line {self.line}"
        if self.field:
            where += f", {self.field}"
        return f"{where}: {self.what}: {self.todo}"


class BadInput(Exception):
    """Input that can't be used. Carries every problem found, each one sentence."""

    def __init__(self, problems: Problem | Iterable[Problem]) -> None:
        self.problems = (problems,) if isinstance(problems, Problem) else tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


def problem(file: str, what: str, todo: str, *, line: int | None = None, field: str | None = None) -> Problem:
    """A `Problem`, with line and field only where they are known."""
    return Problem(file, line, field, what, todo)
