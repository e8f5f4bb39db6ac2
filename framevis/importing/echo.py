"""What was understood, to be looked at before it is taken: how, the first and last rows, a small plot.

Takes an `Understood`; gives lines of printable text.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from itertools import pairwise

from framevis.entering.neighbours import Point
from framevis.entering.strip_plot import strip_plot
from framevis.entering.unit_words import shown_unit
from framevis.importing.understanding import Entry, Understood
from framevis.reading.door import one_line, quoted

FIRST, LAST = 5, 2


def echo(found: Understood, sweep: str, stage: str, width: int) -> list[str]:
    """The lines of the echo."""
    values = [float(value) for each in found.entries for value in each.readings if value is not None]
    unit = shown_unit(found.unit)
    return [
        f"{quoted(found.source.name, 120)} for {one_line(sweep)}, stage {one_line(stage)}:",
        *(f"  {one_line(each)}" for each in found.told),
        "",
        *_table(found),
        "",
        *_plot(found, width),
        f"{len(values)} readings at {len(found.entries)} stations, from {min(values):g} to {max(values):g} {unit}",
        *(f"Not certain: {one_line(each)}" for each in found.doubts),
    ]


def _table(found: Understood) -> list[str]:
    heads = [f"station {found.station_unit}", *(f"{label} {shown_unit(found.unit)}" for label in found.labels)]
    widths = [max(len(head), 9) for head in heads]
    shown: list[Entry | None] = list(found.entries)
    if len(shown) > FIRST + LAST + 1:
        shown = [*shown[:FIRST], None, *shown[-LAST:]]
    lines = ["  ".join(f"{head:>{width}}" for head, width in zip(heads, widths, strict=True))]
    return [*lines, *(_row(each, widths) for each in shown)]


def _row(entry: Entry | None, widths: Sequence[int]) -> str:
    if entry is None:
        return f"{'...':>{widths[0]}}"
    texts = [plain(entry.station), *("" if value is None else plain(value) for value in entry.readings)]
    note = f"  {one_line(entry.note)[:40]}" if entry.note else ""
    return "  ".join(f"{text:>{width}}" for text, width in zip(texts, widths, strict=True)) + note


def plain(value: Decimal) -> str:
    return format(value, "f")


def _plot(found: Understood, width: int) -> list[str]:
    """The first column of readings, or the middle of go and no-go, out and back."""
    points = []
    for each in found.entries:
        known = [float(value) for value in each.readings if value is not None]
        if known:
            value = sum(known) / len(known) if "go" in found.labels else known[0]
            points.append(Point(float(each.station), value))
    steps = [b.station - a.station for a, b in pairwise(points)]
    first = next((step for step in steps if step), 0.0)
    turn = next((i + 1 for i, step in enumerate(steps) if step * first < 0.0), len(points))
    keys = "o out, x back" if turn < len(points) else "o"
    title = f"{shown_unit(found.unit)} along {found.station_unit}: {keys}"
    return [title, *strip_plot(points[:turn], points[turn:], width=min(width, 100))]
