"""A beam's cross-section on a sheet of its own over the picture, magnified, with its figures written in.

Takes a `Section` and a box in pixels, draws with `Ink`. Seen along the beam from its start: t points to the left.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from framevis.deviations import Cause
from framevis.frame import Floats
from framevis.pictures.ears import triangles
from framevis.pictures.ink import BOXES, LEADERS, MARKS, Ink, text_width
from framevis.pictures.look import EDGE, GHOST, INK, PAPER, PART_COLOUR, QUIET_INK, Colour, round_down, times
from framevis.pictures.look import length as length_said
from framevis.pictures.notes import LINE, Box, Shown
from framevis.pictures.section import Note, Outline, Section

FILLED = {"rail": PART_COLOUR["rail"], "block": (208, 204, 190), "plate": (226, 230, 230), "beam": (212, 219, 223)}
SHARE = 0.1  # of the section's width, for the largest deformation of the section itself
BOLD = ("gap", "opening")
NOTE_INK: dict[str, Colour] = {"opening": INK, "roll": INK, "gap": (0, 74, 122), "twist": QUIET_INK}


@dataclass(frozen=True, eq=False)
class Sheet:
    """How millimetres of the section fall on pixels: x = middle − t · scale, y = middle + n · scale."""

    middle_px: Floats
    middle_mm: Floats
    px_per_mm: float

    def pixels(self, points_mm: Floats) -> Floats:
        """(N, 2) mm (t, n) as (N, 2) pixels."""
        away = (points_mm - self.middle_mm) * self.px_per_mm
        return np.asarray(self.middle_px + away * np.array([-1.0, 1.0]))


def settled(section: Section, causes: Iterable[Cause]) -> list[Floats]:
    """Displacement (N, 2) µm of each outline, for the causes, less the beam's own shift: that says nothing here."""
    wanted = tuple(causes)
    total = [_total(outline, wanted) for outline in section.outlines]
    return [um - total[0].mean(axis=0) for um in total]


def _total(outline: Outline, causes: tuple[Cause, ...]) -> Floats:
    return np.asarray(sum((outline.displacement[c] for c in causes), np.zeros_like(outline.points_mm)))


def own_magnification(section: Section, causes: Iterable[Cause], most: float) -> float:
    """The window's magnification, or less where the section would be torn apart by it."""
    moved = settled(section, causes)
    largest = max(float(np.abs(um).max()) for um in moved) / 1000.0
    wide = float(np.ptp(section.outlines[0].points_mm[:, 0]))
    limit = SHARE * wide / largest if largest > 0.0 else most
    return most if limit >= most else max(1.0, round_down(limit))


def draw_section(ink: Ink, box: Box, section: Section, shown: Shown, place_said: str) -> float:
    """The sheet with title, outlines and notes; gives the magnification that it uses."""
    px = shown.type_px
    left, bottom, right, top = box
    corners = [(left, bottom), (right, bottom), (right, top), (left, top)]
    ink.fill(corners, PAPER, LEADERS)
    ink.line(corners, QUIET_INK, LEADERS, closed=True)
    magnification = own_magnification(section, shown.causes, shown.magnification)
    ink.text(f"Section of {section.beam} at {place_said}", left + px, top - 1.3 * px, 1.15 * px, INK, bold=True)
    how = f"seen from the beam's start · deviations {times(magnification)}"
    ink.text(how, left + px, top - (1.3 + LINE) * px, 0.9 * px, QUIET_INK)
    sheet = _fit(section, (left + 9.5 * px, bottom + 6.0 * px, right - 9.5 * px, top - 6.5 * px))
    moved = settled(section, shown.causes)
    drawn = [o.points_mm + magnification * um / 1000.0 for o, um in zip(section.outlines, moved, strict=True)]
    for outline, points in zip(section.outlines, drawn, strict=True):
        _outline(ink, sheet, outline, points, px)
    _bar(ink, (left + px, bottom + 1.2 * px), magnification, sheet, px)
    ink.text("left", left + px, (top + bottom) / 2.0, 0.9 * px, QUIET_INK)
    ink.text("right", right - px - text_width("right", 0.9 * px), (top + bottom) / 2.0, 0.9 * px, QUIET_INK)
    _notes(ink, sheet, section, box, px)
    return magnification


def _fit(section: Section, free: Box) -> Sheet:
    points = np.concatenate([outline.points_mm for outline in section.outlines])
    low, high = points.min(axis=0), points.max(axis=0)
    size = np.array([free[2] - free[0], free[3] - free[1]])
    middle = np.array([free[0] + free[2], free[1] + free[3]]) / 2.0
    return Sheet(middle, (low + high) / 2.0, float(np.min(size / np.maximum(high - low, 1e-6))) / 1.06)


def _outline(ink: Ink, sheet: Sheet, outline: Outline, points: Floats, px: float) -> None:
    """Filled where it now lies, and thin as drawn."""
    seen = sheet.pixels(points)
    colour = PAPER if outline.name.endswith(" inside") else FILLED[outline.role]
    for a, b, c in triangles(outline.points_mm):
        ink.fill(_pairs(seen[[a, b, c]]), colour, BOXES)
    for a, b in zip(seen, np.roll(seen, -1, axis=0), strict=True):
        _stroke(ink, a, b, 0.06 * px)
    ink.line(_pairs(sheet.pixels(outline.points_mm)), GHOST, MARKS, alpha=110, closed=True)


def _stroke(ink: Ink, a: Floats, b: Floats, half: float) -> None:
    """A line of a width that grows with the window."""
    way = b - a
    side = np.array([-way[1], way[0]]) / max(float(np.linalg.norm(way)), 1e-9) * half
    ink.fill(_pairs(np.array([a - side, b - side, b + side, a + side])), EDGE, MARKS)


def _pairs(points: Floats) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in points]


def _bar(ink: Ink, at: tuple[float, float], magnification: float, sheet: Sheet, px: float) -> None:
    """A bar as long as a round deviation is drawn."""
    um = round_down(8.0 * px / sheet.px_per_mm / magnification * 1000.0)
    long, (x, y) = um / 1000.0 * magnification * sheet.px_per_mm, at
    ink.line([(x, y + 0.4 * px), (x, y), (x + long, y), (x + long, y + 0.4 * px)], INK, MARKS)
    ink.text(f"this bar = {length_said(um)}", x + long + 0.7 * px, y + 0.2 * px, 0.9 * px, INK)


def _notes(ink: Ink, sheet: Sheet, section: Section, box: Box, px: float) -> None:
    """Gaps along the top, rolls at the sides, opening and twist at the bottom, each with a line to its place."""
    gaps = [n for n in section.notes if n.kind == "gap"]
    rolls = [n for n in section.notes if n.kind == "roll"]
    others = [n for n in section.notes if n.kind in ("opening", "twist")]
    _in_row(ink, sheet, gaps, box, box[3] - 5.2 * px, px)
    _in_row(ink, sheet, rolls, box, box[1] + 4.6 * px, px)
    _in_row(ink, sheet, others, box, box[1] + 2.9 * px, px, leaders=False)


def _in_row(ink: Ink, sheet: Sheet, notes: Sequence[Note], box: Box, y: float, px: float, leaders: bool = True) -> None:
    """Notes side by side in the order of their places, spread so that none covers another."""
    if not notes:
        return
    spots = [sheet.pixels(np.array([note.anchor_mm]))[0] for note in notes]
    order = sorted(range(len(notes)), key=lambda i: float(spots[i][0]))
    wide = [text_width(notes[i].text, px, notes[i].kind in BOLD) for i in order]
    xs = spread([float(spots[i][0]) for i in order], wide, box[0] + px, box[2] - px, 1.2 * px)
    for i, x, w in zip(order, xs, wide, strict=True):
        note, spot = notes[i], spots[i]
        if leaders:
            edge = y - 0.8 * px if y > spot[1] else y + 0.8 * px
            ink.line([(x + w / 2.0, edge), (float(spot[0]), float(spot[1]))], NOTE_INK[note.kind], MARKS, alpha=170)
        ink.text(note.text, x, y, px, NOTE_INK[note.kind], bold=note.kind in BOLD)


def spread(middles: Sequence[float], wide: Sequence[float], low: float, high: float, gap: float) -> list[float]:
    """Left ends of texts near their middles, in order, at least `gap` apart, between low and high if they fit."""
    xs: list[float] = []
    for middle, w in zip(middles, wide, strict=True):
        x = max(low, middle - w / 2.0)
        xs.append(max(x, xs[-1] + wide[len(xs) - 1] + gap) if xs else x)
    limit = high
    for i in reversed(range(len(xs))):
        xs[i] = min(xs[i], limit - wide[i])
        limit = xs[i] - gap
    return xs
