"""The conversation at the machine, without a terminal: a line comes in, a new state and what to write come out.

Takes a `State` and one line; gives a `Step`. What a step wants written must be on the disk before its state is shown;
where that is refused, the state before stays.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from framevis.entering import readings_in, sign_talk
from framevis.entering.sheet import Sheet
from framevis.entering.state import Mode, State
from framevis.entering.typed import cleaned
from framevis.entering.unit_words import shown_unit, unit_of
from framevis.frame import PullSweep, Sweep
from framevis.reading.csv_table import label

HELP = (
    "Type the reading and Return: 12.5 or 12,5, with a unit if it has another one (0.012 mm). Stations go on alone.",
    "u  undo the last reading      s  skip this station      n TEXT  a note at this station",
    "k  keep a reading in doubt    q  stop; everything typed is kept, start again to go on",
)
WORDS = {
    "undo": "u",
    "skip": "s",
    "note": "n",
    "help": "?",
    "keep": "k",
    "stop": "q",
    "quit": "q",
    "h": "?",
    "exit": "q",
}


@dataclass(frozen=True)
class Step:
    """A new state, and the sheet to put on the disk first (None: nothing has changed)."""

    state: State
    write: Sheet | None = None


def begin(sweep: Sweep | PullSweep, stage: str, length_unit: str, sheet: Sheet) -> State:
    """The state at the start: after the last reading that stands in the sheet."""
    state = State(sweep, stage, length_unit, sheet, "unit", "")
    state = replace(state, unit=state.column_unit, at=_resume(state))
    return replace(state, mode="unit" if state.blanks else "end")


def _resume(state: State) -> int:
    """The first blank slot behind the last filled one, else the first blank one."""
    last = max((i for i, done in enumerate(state.filled) if done), default=-1)
    behind = state.next_blank(last)
    return behind if behind is not None else next(iter(state.blanks), len(state.slots) - 1)


def take(state: State, line: str) -> Step:
    """What a line does."""
    text = cleaned(line)
    if text in ("q", "Q") or WORDS.get(text.casefold()) == "q":
        return Step(replace(state, mode="done", said=()))
    if text == "?" or WORDS.get(text.casefold()) == "?":
        return Step(replace(state, said=HELP))
    return ANSWERS[state.mode](state, text)


def _unit(state: State, text: str) -> Step:
    """The unit of bare numbers; in a file without readings, of its columns too."""
    found = unit_of(text, state.dimension) if text else (state.unit, 1)
    if found is None or found[1] != 1:
        return _say(state, f"{shown_unit(text[:20])} is no unit for this: take one of those named.")
    unit, sheet = found[0], state.sheet
    ready = replace(state, unit=unit, said=())
    if unit != state.column_unit and not any(state.filled):
        asked = {column for slot in state.slots for column in slot.columns}
        sheet = sheet.with_header([f"{label(name)}_{unit}" if name in asked else name for name in sheet.columns])
        ready = replace(ready, sheet=sheet)
    begun = sign_talk.begin(ready)
    return Step(begun, sheet if sheet is not state.sheet else None)


def _say(state: State, *sentences: str) -> Step:
    return Step(replace(state, said=sentences))


def _reading(state: State, text: str) -> Step:
    command, note = _command(text)
    if command == "u":
        return Step(*readings_in.undone(state))
    if command == "s":
        return Step(readings_in.skipped(state))
    if command == "n":
        return Step(*readings_in.noted(state, note))
    if command == "k":
        return _say(state, "Nothing is in doubt here: type the reading.")
    return Step(*readings_in.typed_in(state, text)) if text else Step(state)


def _doubt(state: State, text: str) -> Step:
    command, note = _command(text)
    if command == "k":
        return Step(readings_in.kept(state))
    if command == "u":
        return Step(*readings_in.taken_back(state))
    if command == "n":
        return Step(*readings_in.noted(state, note))
    if command == "s":
        return _say(state, "k keeps the reading, u takes it away; or measure again and type what it says now.")
    return Step(*readings_in.typed_in(state, text)) if text else Step(state)


def _command(text: str) -> tuple[str, str]:
    """The short word of a command, and what stands behind it; empty where the line is none."""
    first, _, rest = text.partition(" ")
    word = WORDS.get(first.casefold(), first.casefold())
    if word == "n" or (word in ("u", "s", "k") and not rest.strip()):
        return word, rest.strip()
    return "", ""


def _skipped(state: State, text: str) -> Step:
    """All rows were asked for, some are blank: go through them once more, or not."""
    if not text:
        first = state.blanks[0]
        return Step(replace(state, mode="reading", at=first, again=True, said=()))
    if _command(text)[0] == "u":
        return Step(*readings_in.undone(state))
    return _say(state, "Return goes through them, u undoes the last reading, q stops.")


def _end(state: State, text: str) -> Step:
    if not text:
        return Step(replace(state, mode="done", said=()))
    if _command(text)[0] == "u":
        return Step(*readings_in.undone(state))
    return _say(state, "Everything is read here: Return ends, u undoes the last reading.")


ANSWERS: dict[Mode, Callable[[State, str], Step]] = {
    "unit": _unit,
    "as_before": lambda state, text: Step(sign_talk.as_before(state, text)),
    "where": lambda state, text: Step(sign_talk.where(state, text)),
    "press": lambda state, text: Step(sign_talk.pressed(state, text)),
    "contrary": lambda state, text: Step(sign_talk.contrary(state, text)),
    "reading": _reading,
    "doubt": _doubt,
    "skipped": _skipped,
    "end": _end,
    "done": lambda state, _: Step(state),
}
