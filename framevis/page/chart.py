"""A small chart as SVG: axes, lines, bands, points. Takes numbers, gives text; colours come from the page's style.

Sizes are pixels of the drawing's own view box; nothing here knows what is drawn.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, floor

import numpy as np

from framevis.frame import Floats
from framevis.page.embed import text
from framevis.pictures.look import round_down

WIDTH, HEIGHT = 380, 180
LEFT, RIGHT, TOP, BOTTOM = 44, 10, 12, 34


@dataclass(frozen=True)
class Axes:
    """From values to pixels: x and y run over (low, high)."""

    x: tuple[float, float]
    y: tuple[float, float]

    def px(self, value: float) -> float:
        return LEFT + (value - self.x[0]) / (self.x[1] - self.x[0]) * (WIDTH - LEFT - RIGHT)

    def py(self, value: float) -> float:
        share = min(max((value - self.y[0]) / (self.y[1] - self.y[0]), 0.0), 1.0)
        return HEIGHT - BOTTOM - share * (HEIGHT - TOP - BOTTOM)

    def points(self, xs: Floats, ys: Floats) -> str:
        return "L".join(f"{self.px(x):.1f} {self.py(y):.1f}" for x, y in zip(xs.tolist(), ys.tolist(), strict=True))


def ticks(low: float, high: float, most: int) -> list[float]:
    """Round values between two ends, about `most` of them."""
    step = round_down((high - low) / most * 1.6)
    return [i * step for i in range(ceil(low / step - 1e-9), floor(high / step + 1e-9) + 1)]


def line(axes: Axes, xs: Floats, ys: Floats, kind: str) -> str:
    return f'<path class="{kind}" d="M{axes.points(xs, ys)}"/>'


def band(axes: Axes, xs: Floats, low: Floats, high: Floats, kind: str) -> str:
    there, back = axes.points(xs, high), axes.points(xs[::-1], low[::-1])
    return f'<path class="{kind}" d="M{there}L{back}Z"/>'


def level(axes: Axes, y: float, words: str, kind: str) -> str:
    """A level across the chart with its name."""
    if not axes.y[0] <= y <= axes.y[1]:
        return ""
    at = axes.py(y)
    path = f'<path class="{kind}" d="M{LEFT} {at:.1f}H{WIDTH - RIGHT}"/>'
    return f'{path}<text class="level" x="{LEFT + 5}" y="{at - 3:.1f}">{text(words)}</text>'


def number(value: float) -> str:
    return f"{value + 0.0:g}".replace("-", "−")


def grid(axes: Axes, x_words: str, y_words: str, x_factor: float = 1.0, y_factor: float = 1.0) -> str:
    """Grid lines with numbers. A factor turns a value into the unit that is shown."""
    found = []
    for shown in ticks(axes.x[0] * x_factor, axes.x[1] * x_factor, 7):
        at = axes.px(shown / x_factor)
        found.append(f'<path class="grid" d="M{at:.1f} {TOP}V{HEIGHT - BOTTOM}"/>')
        found.append(f'<text class="tick middle" x="{at:.1f}" y="{HEIGHT - BOTTOM + 13}">{number(shown)}</text>')
    for shown in ticks(axes.y[0] * y_factor, axes.y[1] * y_factor, 5):
        at = axes.py(shown / y_factor)
        found.append(f'<path class="grid" d="M{LEFT} {at:.1f}H{WIDTH - RIGHT}"/>')
        found.append(f'<text class="tick end" x="{LEFT - 5}" y="{at + 4:.1f}">{number(shown)}</text>')
    middle = (LEFT + WIDTH - RIGHT) / 2
    found.append(f'<text class="name middle" x="{middle:.1f}" y="{HEIGHT - 6}">{text(x_words)}</text>')
    up = (TOP + HEIGHT - BOTTOM) / 2
    turn = f'transform="rotate(-90 11 {up:.1f})"'
    found.append(f'<text class="name middle" x="11" y="{up:.1f}" {turn}>{text(y_words)}</text>')
    return "".join(found)


def chart(label: str, parts: Iterable[str]) -> str:
    """The whole drawing, with a text that says what it shows."""
    inside = "".join(parts)
    return f'<svg class="chart" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{text(label)}">{inside}</svg>'


def around(arrays: Sequence[Floats], least: float, share: float = 0.08) -> tuple[float, float]:
    """A range that holds all values, and at least ± `least` about their middle."""
    low = min(float(np.min(a)) for a in arrays if a.size)
    high = max(float(np.max(a)) for a in arrays if a.size)
    middle, half = (low + high) / 2.0, max((high - low) / 2.0 * (1.0 + 2.0 * share), least)
    return middle - half, middle + half
