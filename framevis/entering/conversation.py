"""Runs the conversation over any source of lines: keyboard, gauge or pipe.

Takes a `State`, where lines come from and where they go; every step is kept before it is shown.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from framevis.entering.dialogue import take
from framevis.entering.sheet import Sheet
from framevis.entering.state import State
from framevis.errors import Problem

Keep = Callable[[Sheet], tuple[Problem, ...]]
Show = Callable[[State], None]


def converse(state: State, lines: Iterable[str], keep: Keep, show: Show) -> State:
    """From a state until it is done or the lines end. `keep` puts a sheet on the disk or says why it can't be read."""
    show(state)
    for line in lines:
        after = advanced(state, line, keep)
        if after.mode == "done":
            return after
        state = after
        show(state)
    return state


def advanced(state: State, line: str, keep: Keep) -> State:
    """The state after one line; the one before, with the reader's own words, where a file would not be readable."""
    step = take(state, line)
    if step.write is not None:
        wrong = keep(step.write)
        if wrong:
            sentences = tuple(f"Not written: {each.what}: {each.todo}." for each in wrong[:3])
            return replace(state, said=sentences)
    return step.state
