"""A small plot in characters: readings along their stations, for a terminal or a file.

Takes points of one or two ways; gives lines of text, nothing else than printable characters.
"""

from __future__ import annotations

from collections.abc import Sequence

from framevis.entering.neighbours import Point

OUT, BACK, BOTH, NOW = "o", "x", "*", "?"
LEAST_WIDTH = 20


def strip_plot(
    out: Sequence[Point],
    back: Sequence[Point] = (),
    *,
    ends: tuple[float, float] | None = None,
    doubted: Point | None = None,
    width: int = 72,
    height: int = 9,
) -> list[str]:
    """Lines of a plot: o for the way out, x back, * both in one place, ? a reading in doubt. Empty without readings.

    `ends`: from where to where stations go; `width`: of the lines, with the numbers at the left.
    """
    every = [*out, *back, *([doubted] if doubted else [])]
    if not every:
        return []
    stations = [*(point.station for point in every), *(ends or ())]
    left, right = min(stations), max(stations)
    low, high = min(point.value for point in every), max(point.value for point in every)
    labels = [f"{_rounded(value):>9}" for value in (high, (low + high) / 2.0, low)]
    inside = max(width - max(map(len, labels)) - 2, LEAST_WIDTH)
    grid = [[" "] * inside for _ in range(height)]

    def place(point: Point, mark: str) -> None:
        column = round((point.station - left) / (right - left) * (inside - 1)) if right > left else inside // 2
        row = round((high - point.value) / (high - low) * (height - 1)) if high > low else height // 2
        there = grid[row][column]
        grid[row][column] = BOTH if {there, mark} == {OUT, BACK} else mark

    for points, mark in ((out, OUT), (back, BACK), ([doubted] if doubted else [], NOW)):
        for point in points:
            place(point, mark)
    beside = {0: labels[0], height // 2: labels[1], height - 1: labels[2]}
    if high == low:
        beside = {height // 2: labels[1]}
    blank = " " * max(map(len, labels))
    body = [f"{beside.get(row, blank):>{len(blank)}} |{''.join(cells).rstrip()}" for row, cells in enumerate(grid)]
    start, end = f"{left:g}", f"{right:g}"
    return [*body, f"{blank} +{'-' * inside}", f"{blank}  {start}{end:>{max(inside - len(start), len(end) + 1)}}"]


def _rounded(value: float) -> str:
    return f"{value:.4g}"
