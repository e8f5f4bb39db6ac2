"""A closed outline cut into triangles, so that a channel's section can be filled.

Takes points in order, gives index triples: ears are cut off until three points are left.
"""

from __future__ import annotations

import numpy as np

from framevis.frame import Floats

Triangle = tuple[int, int, int]


def triangles(points: Floats) -> list[Triangle]:
    """Triangles of a simple outline (N, 2), whichever way round it runs; N − 2 of them."""
    left = list(range(len(points)))
    if _area(points) < 0.0:
        left.reverse()
    found: list[Triangle] = []
    while len(left) > 3:
        ear = next((i for i in range(len(left)) if _is_ear(points, left, i)), 0)
        found.append((left[ear - 1], left[ear], left[(ear + 1) % len(left)]))
        del left[ear]
    return [*found, (left[0], left[1], left[2])]


def _area(points: Floats) -> float:
    """Twice the area, positive where the outline runs anticlockwise."""
    x, y = points.T
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1))


def _cross(a: Floats, b: Floats, c: Floats) -> float:
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))


def _is_ear(points: Floats, left: list[int], i: int) -> bool:
    """Whether a corner is convex with no other point of the outline inside its triangle."""
    ia, ib, ic = left[i - 1], left[i], left[(i + 1) % len(left)]
    a, b, c = points[ia], points[ib], points[ic]
    if _cross(a, b, c) <= 1e-12:
        return False
    others = (points[j] for j in left if j not in (ia, ib, ic))
    return not any(_cross(a, b, p) >= 0.0 and _cross(b, c, p) >= 0.0 and _cross(c, a, p) >= 0.0 for p in others)
