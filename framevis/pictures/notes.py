"""What is written on a picture beside the blocks' labels: caption, scale bar, directions.

Takes the scene as shown and where its points fall on the window, draws with `Ink`, gives the boxes that it took.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap

import numpy as np

from framevis.deviations import Cause
from framevis.pictures.camera import Projection
from framevis.pictures.ink import BOXES, Ink, text_width
from framevis.pictures.look import INK, QUIET_INK, causes_said, length, place, round_down, times
from framevis.pictures.scene import Scene

Box = tuple[float, float, float, float]  # left, bottom, right, top, pixels

BAR_SHARE = 0.11  # of the window's width, at most, for the scale bar
LINE = 1.55  # from one line of text to the next, times its size


@dataclass(frozen=True)
class Shown:
    """How the scene is shown now. `low_px`: height at the bottom that controls take from the notes."""

    magnification: float
    causes: tuple[Cause, ...]
    size: tuple[int, int]
    low_px: float = 0.0

    @property
    def type_px(self) -> float:
        """Height of the type: legible in a small window, in proportion in a large one."""
        return float(np.clip(min(self.size[1] * 0.0175, self.size[0] * 0.0115), 11.0, 48.0))


def caption_lines(scene: Scene, shown: Shown) -> list[str]:
    """Name; stage, magnification and causes; where each carriage stands."""
    said = [f"stage {scene.stage}", f"deviations drawn {times(shown.magnification)}"]
    only = causes_said(shown.causes)
    stands = [f"{name} at {place(at, scene.frame.length_unit)}" for name, at in scene.positions.items()]
    return [scene.frame.name, " · ".join([*said, only] if only else said), " · ".join(stands)]


def write_caption(ink: Ink, scene: Scene, shown: Shown, more: Sequence[str] = ()) -> Box:
    """At the top left; `more`: lines that follow."""
    size, (width, height) = shown.type_px, shown.size
    name, *rest = [*caption_lines(scene, shown), *more]
    edge, y = 1.4 * size, height - 2.0 * size
    ink.text(name, edge, y, 1.45 * size, INK, bold=True)
    per_line = max(20, int((width - 2 * edge) / (0.6 * size)))
    lines = [part for text in rest for part in wrap(text, per_line)]
    wide = max([text_width(name, 1.45 * size, True), *(text_width(line, size) for line in lines)])
    y -= 0.25 * size
    for line in lines:
        y -= LINE * size
        ink.text(line, edge, y, size, QUIET_INK)
    return 0.0, y - size, edge + wide + size, float(height)


def bar_um(shown: Shown, pixels_per_mm: float) -> float:
    """The deviation (µm) that the scale bar stands for: a round number that makes a bar of a sensible length."""
    return round_down(BAR_SHARE * shown.size[0] / pixels_per_mm / shown.magnification * 1000.0)


def draw_scale(ink: Ink, shown: Shown, seen: Projection) -> Box:
    """At the bottom left: a bar as long as a deviation of a round number is drawn, true in the picture's plane."""
    size = shown.type_px
    um = bar_um(shown, seen.pixels_per_mm)
    long = um / 1000.0 * shown.magnification * seen.pixels_per_mm
    x, y, tick = 1.4 * size, shown.low_px + 1.6 * size, 0.4 * size
    corners = [(x, y + 2 * tick), (x, y), (x + long, y), (x + long, y + 2 * tick)]
    ink.fill([(x, y), (x + long, y), (x + long, y + 0.45 * tick), (x, y + 0.45 * tick)], INK, BOXES)
    ink.line(corners, INK, BOXES)
    words = f"this bar = {length(um)}"
    ink.text(words, x, y + 1.75 * size, size, INK)
    return 0.0, 0.0, x + max(long, text_width(words, size)) + size, y + 3.0 * size


def draw_directions(ink: Ink, shown: Shown, seen: Projection) -> Box:
    """At the bottom right: arms as long as the scale bar's deviation is drawn along each machine direction."""
    size = shown.type_px
    um = bar_um(shown, seen.pixels_per_mm)
    arms = [seen.arm(axis, um / 1000.0 * shown.magnification) for axis in np.eye(3)]
    reach = np.array([np.zeros(2), *arms])
    low, high = reach.min(axis=0), reach.max(axis=0)
    foot = np.array([shown.size[0] - 2.6 * size - high[0], shown.low_px + 1.6 * size - low[1] + 0.6 * size])
    for name, arm in zip("XYZ", arms, strict=True):
        if np.linalg.norm(arm) < 1.5 * size:
            continue
        tip = foot + arm
        ink.line([tuple(foot), tuple(tip)], QUIET_INK, BOXES)
        beyond = tip + arm / np.linalg.norm(arm) * 0.75 * size
        ink.text(name, beyond[0] - 0.35 * size, beyond[1], 0.9 * size, QUIET_INK)
    corner = foot + low - 2.0 * size
    return float(corner[0]), 0.0, float(shown.size[0]), float(foot[1] + high[1] + 2.0 * size)
