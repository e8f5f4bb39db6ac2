"""The part of the conversation that settles the sign.

Takes a `State` and one line; gives the next `State`. Nothing is written here: what was settled goes into the file as a
comment line before the first reading that it holds for.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from framevis.entering.sign_check import NOTED, TURNED
from framevis.entering.state import State
from framevis.entering.typed import typed

YES, NO = ("y", "yes", ""), ("n", "no")


def begin(state: State) -> State:
    """To the sign check, to the question whether all is as before, or straight to the readings."""
    if state.check is None:
        return replace(state, mode="reading")
    before = noted(state)
    if before is not None:
        return replace(state, mode="as_before", turned=before.startswith(TURNED))
    return _from_the_start(state)


def noted(state: State) -> str | None:
    """The comment on signs that holds where the next reading goes."""
    return state.sheet.comment_before(state.slot.row, NOTED)


def _from_the_start(state: State) -> State:
    assert state.check is not None
    return replace(state, mode="press" if state.check.where is None else "where", turned=False, said=())


def as_before(state: State, text: str) -> State:
    if text.casefold() in YES:
        return replace(state, mode="reading", said=())
    if text.casefold() in NO:
        return _from_the_start(state)
    return replace(state, said=("Type Return if the instrument stands as before, n to check its sign again.",))


def where(state: State, text: str) -> State:
    """How the stylus stands: by the first letters, or 1 or 2."""
    assert state.check is not None
    if text.casefold() in ("s", "skip"):
        return _unchecked(state)
    names = [answer.casefold() for answer in state.check.answers]
    wanted = text.casefold()
    found = [i for i, name in enumerate(names) if wanted and (name.startswith(wanted) or wanted == str(i + 1))]
    exact = [i for i, name in enumerate(names) if name == wanted]
    if len(exact or found) != 1:
        first, second = state.check.answers
        return replace(state, said=(f"Type 1 for {first}, 2 for {second}, or s to go on without this check.",))
    return replace(state, mode="press", answer=(exact or found)[0], said=())


def pressed(state: State, text: str) -> State:
    """What it reads when the stylus is pressed in: more or less than before is the sign of what is typed."""
    assert state.check is not None
    if text.casefold() in ("s", "skip"):
        return _unchecked(state)
    found = Decimal(f"{text}1") if text in ("+", "-", "−") else typed(text, 1, state.unit, state.dimension)
    value = found if isinstance(found, Decimal | str) else found.values[0]
    if isinstance(value, str):
        return replace(state, said=(value, "Set it to zero, press it in, type what it shows: + or - is enough."))
    if not value:
        return replace(state, said=("Zero doesn't tell: press it in further.",))
    if state.check.is_right(state.answer, value > 0):
        said = f"Right: the instrument's plus is {state.check.plus}, as the frame file says."
        return replace(state, mode="reading", signed=True, said=(said,))
    return replace(state, mode="contrary", said=())


def contrary(state: State, text: str) -> State:
    """The instrument counts the other way: turn the signs here, or leave them and change the frame file."""
    assert state.check is not None
    if text.casefold() in ("t", "turn"):
        said = "Each reading is written with its sign turned, and shown so; a comment line in the file says it."
        return replace(state, mode="reading", turned=True, signed=True, said=(said,))
    if text.casefold() in ("k", "keep"):
        name = state.sweep.name
        todo = f'{state.check.key} in frame.toml at the sweep "{name}"'
        said = f"Readings are written as typed. Now {todo}: else all of it is mirrored."
        return replace(state, mode="reading", turned=False, said=(said,))
    if text.casefold() in ("a", "again"):
        return _from_the_start(state)
    return replace(state, said=("Type t, k or a.",))


def _unchecked(state: State) -> State:
    return replace(state, mode="reading", said=("The sign is not checked: readings are written as typed.",))
