"""What is shown at the machine: what was read so far, and big and plain what comes next.

Takes a `State` and a width; gives lines of printable text. Names from files are escaped.
"""

from __future__ import annotations

from framevis.entering.big import big
from framevis.entering.closing import closure_in, judged
from framevis.entering.neighbours import Expected, Point
from framevis.entering.readings_in import neighbours_say
from framevis.entering.sign_talk import noted
from framevis.entering.slots import written
from framevis.entering.state import State
from framevis.entering.strip_plot import strip_plot
from framevis.entering.unit_words import listed, shown_unit
from framevis.frame import PullSweep
from framevis.reading.door import one_line
from framevis.units import MM_PER_LENGTH_UNIT

LAST = 5


def lines_of(state: State, width: int, *, is_big: bool) -> list[str]:
    """The whole screen, without the prompt."""
    shown = [_title(state), ""]
    if state.mode in ("reading", "doubt", "skipped", "end"):
        shown += [*_plot(state, width), *_last(state)]
    shown += [one_line(sentence) for sentence in state.said]
    asked = _asked(state, width, is_big)
    return [*shown, "", *asked] if asked else shown


def prompt_of(state: State) -> str:
    if state.mode in ("reading", "doubt"):
        pair = ": go and no-go" if len(state.slot.columns) == 2 else ""
        return f"reading in {shown_unit(state.unit)}{pair} > "
    return "> "


def _title(state: State) -> str:
    done = sum(state.filled)
    title = f"{one_line(state.sweep.name)} · {one_line(state.stage)} · {done} of {len(state.slots)} read"
    if state.check is not None:
        title += f" · plus is {state.check.plus}"
    return title + (" · signs are turned" if state.turned else "")


def _plot(state: State, width: int) -> list[str]:
    like = state.slot if isinstance(state.sweep, PullSweep) else None
    out, back = state.points(False, like), state.points(True, like)
    if isinstance(state.sweep, PullSweep):
        out, back = (back, []) if state.slot.back else (out, [])
    ends = [state.station(slot) for slot in state.slots]
    doubted = None
    if state.mode == "doubt" and state.doubted is not None:
        doubted = Point(state.station(state.slot), state.doubted)
    lines = strip_plot(out, back, ends=(min(ends), max(ends)), doubted=doubted, width=min(width, 100))
    if not lines:
        return []
    keys = ["o out", *(["x back"] if back else []), *(["? in doubt"] if doubted else [])]
    return [f"{shown_unit(state.column_unit)} along {state.station_unit}: {', '.join(keys)}", *lines, ""]


def _last(state: State) -> list[str]:
    """The readings that were typed last, in one line."""
    recent = [state.slots[i] for i in state.history if state.filled[i]][-LAST:]
    texts = [f"{state.station(slot):g}: {written(state.sheet, slot)}" for slot in recent]
    return [f"last: {'   '.join(texts)}"] if texts else []


def _asked(state: State, width: int, is_big: bool) -> list[str]:
    check = state.check
    if state.mode == "unit":
        bare = f"a number without a unit is {shown_unit(state.unit)}"
        return [f"What does your instrument show? {listed(state.dimension)}. Return: {bare}."]
    if state.mode in ("reading", "doubt"):
        return [*_station(state, width, is_big), *(_doubt(state) if state.mode == "doubt" else [])]
    if state.mode == "as_before" and check is not None:
        return [
            f"This file says: {one_line(noted(state) or '')}.",
            f"For the frame file plus is {check.plus}. Does the instrument stand as before?",
            "Return: yes    n: check its sign again",
        ]
    if state.mode == "where" and check is not None:
        return [f"Sign check. {check.where} (1 or 2; s: without this check)"]
    if state.mode == "press" and check is not None:
        return [f"Sign check. Set it to zero. {check.press} (+ or - is enough; s: without this check)"]
    if state.mode == "contrary" and check is not None:
        return [
            f"The instrument's plus is {check.minus}, and the frame file says that plus is {check.plus}.",
            "t: turn the sign of each reading as it is written    a: check again",
            f"k: write them as typed; then {check.key} in frame.toml at this sweep",
        ]
    return _ending(state)


def _station(state: State, width: int, is_big: bool) -> list[str]:
    slot = state.slot
    text = f"{state.station(slot):g} {state.station_unit}"
    way = f"{'<-- BACK' if slot.back else 'OUT -->'}   {state.at + 1} of {len(state.slots)}   {slot.what}"
    if isinstance(state.sweep, PullSweep):
        way += f", pulled toward {'lower' if slot.back else 'higher'} stations"
    large = big(text) if is_big else [f"==== {' '.join(text.upper())} ===="]
    return [*(large if max(map(len, large)) <= width else [text]), "", way]


def _doubt(state: State) -> list[str]:
    """By how much the reading misses what its neighbours say, and what to do."""
    nearest = min(neighbours_say(state), key=lambda each: abs(each.value - (state.doubted or 0.0)))
    return [
        f"{state.doubted:g} does not fit its neighbours: {_about(state, nearest)}.",
        "Read it again and type what it says, or k to keep it as it is, u to take it away.",
    ]


def _about(state: State, each: Expected) -> str:
    digits = max(0, 2 - len(f"{each.within:.0f}")) if each.within >= 1.0 else 3
    return f"they say {each.value:.{digits}f} ± {each.within:.{digits}f} {shown_unit(state.column_unit)}"


def _ending(state: State) -> list[str]:
    if state.mode == "skipped":
        where = ", ".join(f"{state.station(state.slots[i]):g}" for i in state.blanks[:12])
        more = ", …" if len(state.blanks) > 12 else ""
        return [f"Not read yet: {where}{more} {state.station_unit}. Return: read them now; q: stop; u: undo."]
    if state.mode != "end":
        return []
    left = f"{len(state.blanks)} stations stay without a reading. " if state.blanks else ""
    return [*_closure(state), f"{left}Return: done; u: undo the last reading."]


def _closure(state: State) -> list[str]:
    if isinstance(state.sweep, PullSweep):
        return []
    closure = closure_in(state.sheet, state.slots, state.sweep, state.factor)
    if closure is None:
        return []
    unit, per = (shown_unit(state.column_unit), state.factor) if state.dimension == "angle" else _small(state)
    count, worst = closure.station_mm.size, closure.worst
    where = f"{closure.station_mm[worst] / MM_PER_LENGTH_UNIT[state.station_unit]:g} {state.station_unit}"
    largest = float(closure.difference[worst]) / per
    numbers = f"mean {closure.mean / per:+.3g}, largest {largest:+.3g} {unit} at {where}"
    limits = f"{closure.good / per:.3g} to {closure.bad / per:.3g} {unit}"
    again = "1 station" if count == 1 else f"{count} stations"
    return [f"Back against out, {again}: {numbers}: {judged(closure, limits)}."]


def _small(state: State) -> tuple[str, float]:
    """Small lengths in µm, in a frame in inches in thou."""
    return ("µm", 1.0) if state.length_unit == "mm" else ("thou", 25.4)
