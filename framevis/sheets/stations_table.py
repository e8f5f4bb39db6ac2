"""The table of a sheet: every station with blank cells to write in, in as many columns as paper takes.

Takes the rows of a sweep's CSV; gives HTML.
"""

from __future__ import annotations

from collections.abc import Sequence

from framevis.frame import Frame, PullSweep
from framevis.page.embed import text
from framevis.sheets.blank_csv import reading_unit, shown_unit
from framevis.sheets.stations import AnySweep
from framevis.starting.answers import number

ROWS = 16  # of one column of a table; more go into a second one beside it
FORCE_HEADS = ("breakaway forth", "running forth", "breakaway back", "running back")


def heads(frame: Frame, sweep: AnySweep, goes_back: bool) -> tuple[str, ...]:
    """The headings of the cells to write in."""
    unit = shown_unit(reading_unit(frame, sweep))
    if isinstance(sweep, PullSweep):
        return tuple(f"{head}, {unit}" for head in FORCE_HEADS)
    if sweep.kind == "gap":
        return f"go, {unit}", f"no-go, {unit}"
    return (f"out, {unit}", f"back, {unit}") if goes_back else (f"reading, {unit}",)


def stations_table(frame: Frame, sweep: AnySweep, rows: Sequence[float]) -> str:
    """One table, or two side by side where there are many stations. A station that comes again has a cell for it."""
    once = list(dict.fromkeys(rows))
    again = {at for at in once if rows.count(at) > 1}
    titles = heads(frame, sweep, bool(again))
    pieces = [once] if len(once) <= ROWS else _halves(once)
    made = "".join(_table(frame, piece, titles, again) for piece in pieces)
    return f'<div class="{"two" if len(pieces) > 1 else "one"}">{made}</div>'


def _halves(stations: list[float]) -> list[list[float]]:
    middle = (len(stations) + 1) // 2
    return [stations[:middle], stations[middle:]]


def _table(frame: Frame, stations: Sequence[float], titles: Sequence[str], again: set[float]) -> str:
    head = "".join(f'<th scope="col">{text(each)}</th>' for each in (*titles, "note"))
    body = "".join(_row(at, titles, at in again or not again) for at in stations)
    station = f'<th scope="col">station, {frame.length_unit}</th>'
    return f'<table class="stations"><thead><tr>{station}{head}</tr></thead><tbody>{body}</tbody></table>'


def _row(at: float, titles: Sequence[str], comes_again: bool) -> str:
    """The cells of a station; where a run out and back turns, the second one is struck out."""
    cells = ["<td></td>"] * len(titles)
    if not comes_again:
        cells[-1] = '<td class="none">turn</td>'
    return f'<tr><th scope="row">{number(at)}</th>{"".join(cells)}<td></td></tr>'
