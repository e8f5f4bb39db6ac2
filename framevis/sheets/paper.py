"""A drawing in millimetres of paper: lines, outlines, arrows and letters as SVG, styled by class only.

Takes points (N, 2) of a view, across and up in mm of the machine; gives SVG elements. Strokes, letters and arrow
heads have their size on paper whatever the scale.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

import numpy as np

from framevis.frame import Floats

HEAD_MM, HEAD_WIDE = 2.2, 0.32  # of an arrow: its length on paper, half its width over its length
LETTER_WIDE = 2.15  # mm on paper that a letter of a text takes
LETTER_MM = 2.4  # radius of the circle round a letter


@dataclass(frozen=True, eq=False)
class Paper:
    """Where a view lies on paper: x = left + scale · across, y = top − scale · up, paper of width × height mm."""

    width: float
    height: float
    scale: float
    left: float
    top: float

    @classmethod
    def fitted(cls, points: Floats, width: float, height: float, margin: float) -> Paper:
        """All points (N, 2) inside, in the middle."""
        low, high = points.min(axis=0), points.max(axis=0)
        size = np.maximum(high - low, 1e-6)
        scale = float(min((width - 2.0 * margin) / size[0], (height - 2.0 * margin) / size[1]))
        middle = (low + high) / 2.0
        left, top = width / 2.0 - scale * float(middle[0]), height / 2.0 + scale * float(middle[1])
        return cls(width, height, scale, left, top)

    def on(self, points: Floats) -> Floats:
        """Points (N, 2) or (2,) of the view on paper, mm from its upper left corner."""
        place = np.asarray(points, dtype=np.float64)
        return np.stack([self.left + self.scale * place[..., 0], self.top - self.scale * place[..., 1]], axis=-1)

    def outline(self, points: Floats, style: str) -> str:
        return f'<path class="{style}" d="{path(self.on(points))}Z"/>'

    def line(self, points: Floats, style: str) -> str:
        return f'<path class="{style}" d="{path(self.on(points))}"/>'

    def lines(self, pieces: Sequence[Floats], style: str) -> str:
        return f'<path class="{style}" d="{"".join(path(self.on(each)) for each in pieces)}"/>' if pieces else ""

    def dot(self, at: Floats, radius_mm: float, style: str) -> str:
        x, y = self.on(at)
        return f'<circle class="{style}" cx="{x:.2f}" cy="{y:.2f}" r="{radius_mm:.2f}"/>'

    def text(self, at: Floats, shown: str, anchor: str = "middle", dx: float = 0.0, dy: float = 0.0) -> str:
        x, y = self.on(at) + np.array([dx, dy])
        half = LETTER_WIDE * len(shown) / 2.0
        if anchor == "middle":
            x = min(max(x, half + 1.0), max(self.width - half - 1.0, self.width / 2.0))
        return f'<text class="{anchor}" x="{x:.2f}" y="{y:.2f}">{escape(shown)}</text>'

    def corner(self, shown: str, left: bool) -> str:
        """A word in one of the lower corners."""
        x, anchor = (1.5, "start") if left else (self.width - 1.5, "end")
        return f'<text class="{anchor} faint" x="{x:.2f}" y="{self.height - 1.2:.2f}">{escape(shown)}</text>'

    def letter(self, at: Floats, shown: str, dx: float = 0.0, dy: float = 0.0) -> str:
        """A letter in a circle, over whatever lies there."""
        x, y = self.on(at) + np.array([dx, dy])
        circle = f'<circle class="letter" cx="{x:.2f}" cy="{y:.2f}" r="{LETTER_MM}"/>'
        return f'{circle}<text class="middle bold" x="{x:.2f}" y="{y + 1.25:.2f}">{escape(shown)}</text>'

    def arrow(self, start: Floats, way: Floats, length_mm: float, shown: str = "", dx: float = 0.0) -> str:
        """An arrow of a length on paper from a point of the view; `way` (2,) in the view. A text beyond its tip."""
        direction = np.array([way[0], -way[1]]) / max(float(np.hypot(*way)), 1e-12)
        foot = self.on(start) + np.array([dx, 0.0])
        tip = foot + length_mm * direction
        back, side = tip - HEAD_MM * direction, HEAD_WIDE * HEAD_MM * np.array([-direction[1], direction[0]])
        shaft = f'<path class="arrow" d="{path(np.array([foot, back]))}"/>'
        head = f'<path class="ink" d="{path(np.array([tip, back + side, back - side]))}Z"/>'
        x, y = tip + 2.6 * direction
        beyond = f'<text class="middle bold" x="{x:.2f}" y="{y + 1.25:.2f}">{escape(shown)}</text>' if shown else ""
        return shaft + head + beyond


def path(points: Floats) -> str:
    """M x y L x y …, in hundredths of a millimetre."""
    return "M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in points)


def svg(width: float, height: float, label: str, inside: str) -> str:
    """A picture with the words that stand for it where it can't be seen."""
    return (
        f'<svg class="sketch" viewBox="0 0 {width:g} {height:g}" role="img" aria-label="{escape(label, quote=True)}">'
        f"{inside}</svg>"
    )
