"""What an instrument draws, kept until it is known where on paper: outlines, lines, arrows, words.

Takes places in a view, mm to the right and up; gives SVG on a `Paper`, and how far it reaches at a scale.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from framevis.frame import Floats
from framevis.sheets.paper import LETTER_WIDE, Paper

Draw = Callable[[Paper], str]
PLUS_MM = 8.0  # length of the arrow of plus on paper
BEYOND_MM = 4.5  # room on paper for what stands beyond an arrow's tip
LINE_MM = 3.0  # height of a line of text on paper


@dataclass
class Held:
    """What an instrument draws, in order, and the points (N, 2) of the view that must lie on paper."""

    around: list[Floats] = field(default_factory=list)
    steps: list[Draw] = field(default_factory=list)
    beyond: list[tuple[Floats, Floats]] = field(default_factory=list)  # a place, and how far from it on paper, mm

    def reach(self, scale: float) -> Floats:
        """All points (N, 2) that must lie on paper, letters and arrows at a scale included."""
        return np.concatenate([*self.around, *(np.array([at + by / scale]) for at, by in self.beyond)])

    def drawn(self, paper: Paper) -> list[str]:
        return [step(paper) for step in self.steps]

    def area(self, points: Sequence[Floats] | Floats, style: str) -> None:
        ring = np.array(points)
        self.around.append(ring)
        self.steps.append(lambda paper: paper.outline(ring, style))

    def line(self, points: Sequence[Floats], style: str) -> None:
        run = np.array(points)
        self.around.append(run)
        self.steps.append(lambda paper: paper.line(run, style))

    def dot(self, at: Floats, radius: float, style: str) -> None:
        """`radius` in mm of the machine."""
        self.around.append(np.array([at - radius, at + radius]))
        self.steps.append(lambda paper: paper.dot(at, radius * paper.scale, style))

    def arrow(self, at: Floats, way: Floats, shown: str, length_mm: float = PLUS_MM) -> None:
        self.around.append(np.array([at]))
        unit = way / max(float(np.linalg.norm(way)), 1e-9)
        self.beyond.append((at, (length_mm + (BEYOND_MM if shown else 0.0)) * unit))
        self.steps.append(lambda paper: paper.arrow(at, way, length_mm, shown))

    def between(self, foot: Floats, tip: Floats) -> None:
        """An arrow from one place to the other, whatever the scale."""
        self.around.append(np.array([foot, tip]))
        way = tip - foot
        size = float(np.linalg.norm(way))
        self.steps.append(lambda paper: paper.arrow(foot, way, size * paper.scale))

    def text(self, at: Floats, shown: str, anchor: str = "middle", dx: float = 0.0, dy: float = 0.0) -> None:
        self.around.append(np.array([at]))
        half = LETTER_WIDE * len(shown) / 2.0
        low = 0.0 if anchor == "start" else -half
        self.beyond += [(at, np.array([dx + low, -dy])), (at, np.array([dx + low + 2.0 * half, LINE_MM - dy]))]
        self.steps.append(lambda paper: paper.text(at, shown, anchor, dx, dy))
