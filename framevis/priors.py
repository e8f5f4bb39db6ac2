"""How far extrusions and rails deviate when nothing has been measured: the project's own choice.

Published tolerance tables were not at hand, so these are orders of magnitude of ordinary extrusions and small
rails (common practice), not a maker's data. They are the width of what stays unknown where no reading looked, and
the centre of the weak prior from which the readings themselves scale the curved parts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from framevis.deviations import Kind, Layout
from framevis.frame import Floats, Indices
from framevis.strip import LINEAR


@dataclass(frozen=True)
class Width:
    """Standard deviations: of the offset, of the difference between the two ends, of the rms of the curved part.

    µm or mrad, for a length of 1 m; the last two grow with the length where `per_m`.
    """

    offset: float
    ends: float
    curved: float
    per_m: bool = True


WIDTHS: dict[Kind, Width] = {
    "bow_lateral": Width(500.0, 500.0, 120.0),
    "bow_height": Width(500.0, 500.0, 120.0),
    "twist": Width(1.0, 1.0, 0.3),
    "opening": Width(1.0, 1.0, 0.4, per_m=False),
    "own_lateral": Width(100.0, 60.0, 20.0),
    "own_height": Width(15.0, 10.0, 5.0),
    "own_roll": Width(0.3, 0.2, 0.15, per_m=False),
}
SCALED: tuple[Kind, ...] = tuple(WIDTHS)  # one scale a kind, found from the readings
LOG_SCALE_SD = 1.0  # weak prior: a factor of e either way is nothing unusual


def spread(layout: Layout) -> Floats:
    """Prior standard deviation of every coefficient of a layout (size,), before scaling."""
    widths = np.empty(layout.size)
    for (kind, _), place in layout.places.items():
        width, strip = WIDTHS[kind], layout.strips[kind, _]
        growth = strip.length_mm / 1000.0 if width.per_m else 1.0
        widths[place] = width.curved * growth
        widths[place.start : place.start + LINEAR] = width.offset, width.ends * growth
    return widths


def scale_group(layout: Layout) -> Indices:
    """For every coefficient the index in `SCALED` of the scale that it takes, −1 for offsets and slopes (size,)."""
    group = np.full(layout.size, -1)
    for (kind, _), place in layout.places.items():
        group[place.start + LINEAR : place.stop] = SCALED.index(kind)
    return group
