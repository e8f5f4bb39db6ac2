"""A label for every block: its name, its verdict as word, shape and colour, and a line to where it is.

The labels of one carriage stand together in a small table, outside the machine where there is room.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from framevis.frame import Floats
from framevis.pictures.ink import BOXES, LEADERS, MARKS, Ink, text_width
from framevis.pictures.look import EDGE, INK, NOT_JUDGED, PAPER, QUIET_INK, VERDICT_COLOUR, marker
from framevis.pictures.notes import LINE, Box
from framevis.pictures.scene import Part, Scene

COLUMNS, ROWS = 27, 21  # places that are tried for a table
POINTS = 1500  # of the scene, that a table should not hide
HIDES, ONE_MORE = 0.6, 0.01  # cost, in window widths, of hiding anything, and of each point hidden
NOT_BESIDE = 1.0  # and of standing above or below the blocks, where the lines would run behind the table


class Boxed(Protocol):
    """What needs a box in the window: its name, the pixels (N, 2) that it points at, its size."""

    @property
    def name(self) -> str: ...
    @property
    def targets(self) -> Floats: ...
    @property
    def type_px(self) -> float: ...
    @property
    def middle(self) -> Floats: ...
    @property
    def size(self) -> tuple[float, float]: ...


@dataclass(frozen=True, eq=False)
class Table:
    """The labels of one carriage: its blocks from top to bottom as seen, and the pixel (N, 2) that each marks."""

    name: str
    blocks: tuple[Part, ...]
    targets: Floats
    type_px: float

    @property
    def middle(self) -> Floats:
        return np.asarray(self.targets.mean(axis=0))

    @property
    def names_px(self) -> float:
        return max(text_width(short(block), self.type_px) for block in self.blocks)

    @property
    def size(self) -> tuple[float, float]:
        """Width and height, pixels."""
        words = max(text_width(block.verdict or "", self.type_px, True) for block in self.blocks)
        title = text_width(self.name, self.type_px, True) + 1.4 * self.type_px
        width = max(self.names_px + words + 4.0 * self.type_px, title)
        return width, (LINE * (len(self.blocks) + 1) + 0.7) * self.type_px


def short(block: Part) -> str:
    """A block's name without its carriage."""
    return block.name.split("/", 1)[-1]


def tables(scene: Scene, targets: Mapping[str, Floats], type_px: float) -> list[Table]:
    """One table for each carriage. `targets`: of each block, by part name, the pixel (2,) of its anchor."""
    made = []
    for carriage in scene.frame.carriages:
        blocks = [p for p in scene.parts if p.role == "block" and p.owner == carriage.name]
        blocks.sort(key=lambda block: -float(targets[block.name][1]))
        places = np.array([targets[block.name] for block in blocks])
        made.append(Table(carriage.name, tuple(blocks), places, type_px))
    return made


def find_room(made: Sequence[Boxed], points_px: Floats, taken: Sequence[Box], size: tuple[int, int]) -> dict[str, Box]:
    """Boxes by name: near their blocks, off the machine (points (N, 2)), off one another and what is taken."""
    hidden, middle = _filled(points_px), np.array(size) / 2.0
    boxes: dict[str, Box] = {}
    for table in sorted(made, key=lambda t: -float(np.linalg.norm(t.middle - middle))):
        places = _places(table, size)
        far = np.maximum(places[:, :2] - table.middle, table.middle - places[:, 2:])
        cost = np.linalg.norm(np.maximum(far, 0.0), axis=1) / size[0]
        inside = (hidden[:, None] > places[:, :2] - table.type_px) & (hidden[:, None] < places[:, 2:] + table.type_px)
        many = inside.all(axis=2).sum(axis=0)
        cost += HIDES * (many > 0) + ONE_MORE * many + NOT_BESIDE * _astride(places, table)
        for box in [*taken, *boxes.values()]:
            gap = table.type_px
            apart = (places[:, :2] > np.array(box[2:]) + gap) | (places[:, 2:] < np.array(box[:2]) - gap)
            cost += 100.0 * ~apart.any(axis=1)
        left, bottom, right, top = (float(v) for v in places[int(np.argmin(cost))])
        boxes[table.name] = left, bottom, right, top
    return boxes


def _astride(places: Floats, table: Boxed) -> Floats:
    """How far places (K, 4) reach over the blocks sideways, as a share of the table's width, (K,)."""
    x, gap = table.targets[:, 0], table.type_px
    over = np.minimum(places[:, 2] + gap - x.min(), x.max() + gap - places[:, 0])
    return np.asarray(np.clip(over / table.size[0], 0.0, 1.0))


def _places(table: Boxed, size: tuple[int, int]) -> Floats:
    """Boxes (K, 4) all over the window where a table might stand."""
    (wide, high), edge = table.size, 1.4 * table.type_px
    x = np.linspace(edge, max(edge, size[0] - edge - wide), COLUMNS)
    y = np.linspace(edge, max(edge, size[1] - edge - high), ROWS)
    corners = np.array([(left, bottom) for left in x for bottom in y])
    return np.hstack([corners, corners + np.array(table.size)])


def _filled(points_px: Floats) -> Floats:
    """Some of the points, and some between any two of them: what lies between the beams is the machine too."""
    rng = np.random.default_rng(0)
    some = points_px[rng.integers(len(points_px), size=POINTS)]
    between = [(1 - share) * some + share * rng.permutation(some) for share in (0.5, 0.35, 0.2)]
    return np.concatenate([some, *between])


def draw_labels(ink: Ink, made: Sequence[Table], boxes: Mapping[str, Box]) -> None:
    """The tables in their boxes, and markers on the blocks."""
    for table in made:
        _draw_table(ink, table, boxes[table.name])
        _mark(ink, zip(table.blocks, table.targets, strict=True), 0.5 * table.type_px)


def _draw_table(ink: Ink, table: Table, box: Box) -> None:
    """One table, with a line from each row to its block."""
    px, names = table.type_px, table.names_px
    left, bottom, right, top = box
    corners = [(left, bottom), (right, bottom), (right, top), (left, top)]
    ink.fill(corners, PAPER, BOXES, alpha=230)
    ink.line(corners, QUIET_INK, BOXES, closed=True)
    y = top - 1.1 * px
    ink.text(table.name, left + 0.7 * px, y, px, INK, bold=True)
    start = right if table.middle[0] > (left + right) / 2.0 else left
    for block, target in zip(table.blocks, table.targets, strict=True):
        y -= LINE * px
        _mark(ink, [(block, np.array([left + 1.2 * px, y]))], 0.42 * px)
        ink.text(short(block), left + 2.2 * px, y, px, INK)
        ink.text(block.verdict or "", left + 3.2 * px + names, y, px, INK, bold=block.verdict == "binding")
        ink.line([(start, y), (float(target[0]), float(target[1]))], EDGE, LEADERS, alpha=150)


def _mark(ink: Ink, blocks: Iterable[tuple[Part, Floats]], radius: float) -> None:
    """The verdict's shape and colour at a pixel (2,) for each block; nothing where none was given."""
    for block, (x, y) in blocks:
        if block.verdict is None:
            ink.fill(marker("free", float(x), float(y), radius / 2.0), NOT_JUDGED, MARKS)
            continue
        shape = marker(block.verdict, float(x), float(y), radius)
        ink.fill(shape, VERDICT_COLOUR[block.verdict], MARKS)
        ink.line(shape, EDGE, MARKS, closed=True)
