"""Readings in the conversation: typed, doubted, kept, undone, skipped, noted.

Takes a `State` and what was typed; gives the next `State`, and its sheet where that must be written first.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from math import sqrt

from framevis.entering.neighbours import WIDE, Expected, expected
from framevis.entering.sheet import Sheet
from framevis.entering.sign_check import NOTED, comment
from framevis.entering.slots import Slot, unit_of_column, value_of, written
from framevis.entering.state import State
from framevis.entering.typed import Typed, plain, typed
from framevis.entering.unit_words import converted, shown_unit
from framevis.torque.closure import GOOD_UM

Written = tuple[State, Sheet | None]
FORCE_FLOOR = 0.3  # of the force itself: a tight spot changes it within a step
MOST_NOTE = 200


def typed_in(state: State, text: str) -> Written:
    """A reading goes into the sheet at once; if it doesn't fit, it is asked about while it stands there."""
    slot = state.slot
    found = typed(text, len(slot.columns), state.unit, state.dimension)
    if isinstance(found, str):
        return replace(state, said=(found,)), None
    values = {
        column: converted(_turned(state, value), found.unit, unit_of_column(column), state.dimension)
        for column, value in zip(slot.columns, found.values, strict=True)
    }
    sheet = state.sheet.with_values(slot.row, values)
    if state.signed:
        sheet = _with_sign_comment(state, sheet)
    value = value_of(sheet, slot) or 0.0
    said = (_told(state, slot, sheet, found),)
    after = replace(state, sheet=sheet, signed=False, said=said)
    awaited = neighbours_say(state)
    same_again = state.doubted is not None and abs(value - state.doubted) <= WIDE * sqrt(2.0) * state.u
    if not awaited or same_again or any(each.fits(value) for each in awaited):
        more = ("The same twice: kept.",) if same_again else ()
        return _on(replace(after, said=(*said, *more))), sheet
    return replace(after, mode="doubt", doubted=value), sheet


def _turned(state: State, value: Decimal) -> Decimal:
    return -value if state.turned and value else value


def _with_sign_comment(state: State, sheet: Sheet) -> Sheet:
    """The sheet with what was settled about signs before this row, unless the same stands there already."""
    assert state.check is not None
    text = comment(state.turned, state.check)
    there = sheet.comment_before(state.slot.row, NOTED)
    return sheet if there == text else sheet.with_comment(state.slot.row, text)


def neighbours_say(state: State) -> tuple[Expected, ...]:
    """What the readings before say of the slot that is asked for, in the unit of the cells."""
    slot = state.slot
    here = state.points(slot.back, slot)
    if state.dimension == "force":
        middle = sorted(point.value for point in here)[len(here) // 2] if here else 0.0
        u = max(state.u, FORCE_FLOOR * abs(middle) / WIDE)
        return expected(state.station(slot), u, here)
    floor = 0.0 if state.dimension == "angle" else GOOD_UM / state.factor
    return expected(state.station(slot), state.u, here, state.points(False, slot) if slot.back else (), floor)


def _told(state: State, slot: Slot, sheet: Sheet, found: Typed) -> str:
    """What was written, and what of it is not just as typed."""
    column = state.column_unit
    said = f"written: {state.station(slot):g} {state.station_unit} = {written(sheet, slot)} {shown_unit(column)}"
    if found.unit != column:
        said += f", typed {' to '.join(plain(value) for value in found.values)} {shown_unit(found.unit)}"
    return said + (" with its sign turned" if state.turned else "")


def _on(state: State) -> State:
    """To the next blank slot, to the question about skipped ones, or to the end."""
    done = replace(state, history=(*state.history, state.at), doubted=None)
    following = done.next_blank(done.at)
    if following is not None:
        return replace(done, mode="reading", at=following)
    return replace(done, mode="skipped" if done.blanks and not done.again else "end")


def kept(state: State) -> State:
    return _on(replace(state, said=("Kept as it is.",)))


def taken_back(state: State) -> Written:
    """The reading in doubt goes; the same station is asked for again."""
    sheet = state.sheet.with_values(state.slot.row, dict.fromkeys(state.slot.columns))
    return replace(state, sheet=sheet, mode="reading", doubted=None, said=("Taken away.",)), sheet


def undone(state: State) -> Written:
    """Back to the slot that was answered last; its reading goes."""
    at = state.history[-1] if state.history else _last_filled(state)
    if at is None:
        return replace(state, said=("There is nothing to undo.",)), None
    slot = state.slots[at]
    where = f"{state.station(slot):g} {state.station_unit}"
    back = replace(state, mode="reading", at=at, history=state.history[:-1], again=False, doubted=None)
    if not any(state.sheet.cell(slot.row, column) for column in slot.columns):
        return replace(back, said=(f"Back at {where}, which was skipped.",)), None
    was = written(state.sheet, slot)
    sheet = state.sheet.with_values(slot.row, dict.fromkeys(slot.columns))
    said = f"Undone: {where} was {was} {shown_unit(state.column_unit)}."
    return replace(back, sheet=sheet, said=(said,)), sheet


def _last_filled(state: State) -> int | None:
    """Where nothing was typed in this session: the last reading before the one that is asked for."""
    end = len(state.slots) if state.mode in ("end", "skipped") else state.at
    return next((i for i in reversed(range(end)) if state.filled[i]), None)


def skipped(state: State) -> State:
    return _on(replace(state, said=(f"Skipped: {state.station(state.slot):g} {state.station_unit}.",)))


def noted(state: State, note: str) -> Written:
    """A note at the station that is asked for."""
    where = f"{state.station(state.slot):g} {state.station_unit}"
    if not note:
        return replace(state, said=("Type n and the note, as n burr stoned off.",)), None
    sheet = state.sheet.with_note(state.slot.row, note[:MOST_NOTE])
    return replace(state, sheet=sheet, said=(f"Noted at {where}.",)), sheet
