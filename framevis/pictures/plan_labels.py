"""What is written beside a plan's marks: a small table a rail or carriage, a row for each run of equal spots.

Takes a plan, its marks and where they fall on the window; draws with `Ink`. Shape and word tell what is done: a filled
square is a shim to fit, a hollow one with a minus a shim to take out, an arrow a push.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from framevis.frame import BlockSpot, Floats, Frame
from framevis.pictures.ink import BOXES, LEADERS, MARKS, Ink, text_width
from framevis.pictures.look import EDGE, INK, PAPER, QUIET_INK
from framevis.pictures.notes import LINE, Box
from framevis.pictures.plan_marks import MARK_COLOUR, Kind, Mark
from framevis.plan import Plan
from framevis.planning.plan_runs import PushRun, Run, push_runs, push_said, runs, screws_said, todo, where
from framevis.say import printable

MOST_ROWS = 14
PUSH_WEIGHT = 0.2  # of a push against a shim of the same thickness, where there are too many rows


@dataclass(frozen=True, eq=False)
class Row:
    """One run in words. `marks`: which of the plan's marks are its own; `weight` tells what to leave out first."""

    under: str
    words: str
    kind: Kind
    marks: tuple[int, ...]
    weight: float


@dataclass(frozen=True, eq=False)
class PlanTable:
    """Rows of one rail or carriage, and the pixel (N, 2) at which each points."""

    name: str
    rows: tuple[Row, ...]
    targets: Floats
    type_px: float

    @property
    def middle(self) -> Floats:
        return np.asarray(self.targets.mean(axis=0))

    @property
    def size(self) -> tuple[float, float]:
        """Width and height, pixels."""
        wide = max(text_width(row.words, self.type_px) for row in self.rows) + 2.9 * self.type_px
        title = text_width(self.name, self.type_px, True) + 1.4 * self.type_px
        return max(wide, title), (LINE * (len(self.rows) + 1) + 0.7) * self.type_px


def rows_of(frame: Frame, plan: Plan) -> tuple[Row, ...]:
    """A row for each run in the order of work, the weightiest `MOST_ROWS` of them."""
    place = {id(work): i for i, work in enumerate((*plan.fittings, *plan.pushes))}
    made = [_fitting_row(frame, run, place) for run in runs(plan.fittings)]
    made += [_push_row(frame, run, place) for run in push_runs(plan.pushes)]
    kept = sorted(made, key=lambda row: -row.weight)[:MOST_ROWS]
    return tuple(row for row in made if row in kept)


def _fitting_row(frame: Frame, run: Run, place: Mapping[int, int]) -> Row:
    under, screws, edge = where(run)
    spot = run.first.spot
    at = f"screws {screws}" if "–" in screws else f"screw {screws}"
    if isinstance(spot, BlockSpot):
        under, at = f"carriage {printable(spot.carriage)}", printable(spot.block)
    else:
        under = f"rail {under}"
    um = abs(run.first.total_um - sum(run.first.now_um)) or run.first.total_um
    kind: Kind = "out" if run.is_thinner else "fit"
    words = f"{at}, {edge}: {todo(frame, run)}"
    return Row(under, words, kind, tuple(place[id(f)] for f in run.fittings), um * len(run.fittings))


def _push_row(frame: Frame, run: PushRun, place: Mapping[int, int]) -> Row:
    most = "up to " if len(run.pushes) > 1 else ""
    at = f"{'screws' if len(run.pushes) > 1 else 'screw'} {screws_said(run.screws)}"
    words = f"{at}: push {most}{push_said(frame, run.largest_um)}"
    marks = tuple(place[id(push)] for push in run.pushes)
    weight = PUSH_WEIGHT * sum(abs(push.push_um) for push in run.pushes)
    return Row(f"rail {printable(run.rail)}", words, "push", marks, weight)


def more_said(plan: Plan, rows: Sequence[Row]) -> list[str]:
    """How many runs have no row."""
    hidden = len(runs(plan.fittings)) + len(push_runs(plan.pushes)) - len(rows)
    return [f"and {hidden} more in the plan's table"] if hidden else []


def plan_tables(rows: Sequence[Row], marks_px: Sequence[Floats], type_px: float) -> list[PlanTable]:
    """`marks_px`: the middle pixel (2,) of each of the plan's marks."""
    made = []
    for under in dict.fromkeys(row.under for row in rows):
        its = [row for row in rows if row.under == under]
        places = [np.mean([marks_px[i] for i in row.marks], axis=0) for row in its]
        made.append(PlanTable(under, tuple(its), np.array(places), type_px))
    return made


def draw_plan_tables(ink: Ink, made: Sequence[PlanTable], boxes: Mapping[str, Box]) -> None:
    for table in made:
        _draw_table(ink, table, boxes[table.name])


def _draw_table(ink: Ink, table: PlanTable, box: Box) -> None:
    px = table.type_px
    left, bottom, right, top = box
    corners = [(left, bottom), (right, bottom), (right, top), (left, top)]
    ink.fill(corners, PAPER, BOXES, alpha=230)
    ink.line(corners, QUIET_INK, BOXES, closed=True)
    y = top - 1.1 * px
    ink.text(table.name, left + 0.7 * px, y, px, INK, bold=True)
    start = right if table.middle[0] > (left + right) / 2.0 else left
    for row, target in zip(table.rows, table.targets, strict=True):
        y -= LINE * px
        draw_key(ink, row.kind, left + 1.2 * px, y, 0.42 * px)
        ink.text(row.words, left + 2.2 * px, y, px, INK)
        ink.line([(start, y), (float(target[0]), float(target[1]))], EDGE, LEADERS, alpha=150)


def draw_key(ink: Ink, kind: Kind, x: float, y: float, r: float) -> None:
    """The sign of what is done, about a pixel."""
    square = [(x - r, y - r), (x + r, y - r), (x + r, y + r), (x - r, y + r)]
    arrow = [(x - r, y - 0.3 * r), (x, y - 0.3 * r), (x, y - r), (x + 1.2 * r, y), (x, y + r), (x, y + 0.3 * r)]
    arrow.append((x - r, y + 0.3 * r))
    if kind == "push":
        ink.fill(arrow[:2] + arrow[5:], MARK_COLOUR[kind], MARKS)
        ink.fill(arrow[2:5], MARK_COLOUR[kind], MARKS)
        ink.line(arrow, EDGE, MARKS, closed=True)
        return
    ink.fill(square, MARK_COLOUR[kind], MARKS)
    ink.line(square, EDGE, MARKS, closed=True)
    if kind == "out":
        ink.line([(x - 0.6 * r, y), (x + 0.6 * r, y)], EDGE, MARKS)


def middles(marks: Sequence[Mark], magnification: float, causes: Sequence[str]) -> Floats:
    """The middle of each mark where it is shown, (M, 3) mm."""
    return np.array([mark.points(magnification, causes).mean(axis=0) for mark in marks])  # type: ignore[arg-type]
