"""Draws readings as arrows over the picture, with as many of their numbers as find room, the largest first.

Takes arrows with the shown places (N, 3) mm of their feet, draws with `Ink`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from framevis.frame import Floats
from framevis.pictures.arrows import Arrows
from framevis.pictures.camera import Projection
from framevis.pictures.ink import BOXES, LEADERS, MARKS, Ink
from framevis.pictures.look import PAPER, Colour
from framevis.pictures.notes import Box, Shown

READING: Colour = (0, 74, 122)
WIDE = 0.66  # of a letter, as a share of its height
MOST_NUMBERS = 70

Drawn = Sequence[tuple[Arrows, Floats]]


def draw_arrows(ink: Ink, drawn: Drawn, seen: Projection, shown: Shown, taken: Sequence[Box]) -> None:
    """All arrows, and numbers that keep clear of boxes taken and of each other."""
    places: list[tuple[float, str, Floats]] = []
    for arrows, feet in drawn:
        tips = feet + shown.magnification / 1000.0 * arrows.along
        start, end = seen.pixels(feet), seen.pixels(tips)
        for a, b in zip(start, end, strict=True):
            _arrow(ink, a, b, shown.type_px)
        size = np.linalg.norm(end - start, axis=1)
        places += [(float(n), w, tip) for n, w, tip in zip(size, arrows.words, end, strict=True) if w]
    _numbers(ink, places, shown, list(taken))


def _arrow(ink: Ink, foot: Floats, tip: Floats, px: float) -> None:
    """A shaft with a filled head; a short one is only a dot at its foot."""
    x, y = float(foot[0]), float(foot[1])
    r = 0.14 * px
    ink.fill([(x - r, y - r), (x + r, y - r), (x + r, y + r), (x - r, y + r)], READING, MARKS)
    way = tip - foot
    size = float(np.linalg.norm(way))
    if size < 0.3 * px:
        return
    way = way / size
    head = min(0.6 * px, 0.6 * size)
    side, neck = np.array([-way[1], way[0]]) * 0.38 * head, tip - way * head
    ink.line([(x, y), (float(neck[0]), float(neck[1]))], READING, LEADERS)
    corners = [tip, neck + side, neck - side]
    ink.fill([(float(c[0]), float(c[1])) for c in corners], READING, MARKS)


def _numbers(ink: Ink, places: list[tuple[float, str, Floats]], shown: Shown, taken: list[Box]) -> None:
    px, written = 0.85 * shown.type_px, 0
    for _, words, tip in sorted(places, key=lambda place: -place[0]):
        x, y = float(tip[0]) + 0.5 * px, float(tip[1]) + 0.5 * px
        box = (x, y - 0.7 * px, x + WIDE * px * len(words), y + 0.7 * px)
        if written == MOST_NUMBERS:
            return
        if not _inside(box, shown.size) or any(_overlap(box, other) for other in taken):
            continue
        corners = [(box[0], box[1]), (box[2], box[1]), (box[2], box[3]), (box[0], box[3])]
        ink.fill(corners, PAPER, BOXES, alpha=170)
        ink.text(words, x, y, px, READING)
        taken.append(box)
        written += 1


def _inside(box: Box, size: tuple[int, int]) -> bool:
    return box[0] >= 0.0 and box[1] >= 0.0 and box[2] <= size[0] and box[3] <= size[1]


def _overlap(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
