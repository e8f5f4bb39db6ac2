"""What a picture looks like: colours, marker shapes, type, round numbers. No drawing here.

Verdicts take their colours from matplotlib's cividis map, which the colour-blind read as well: grey for free,
toward yellow as it gets worse, blue where nothing certain can be said; each also has a shape and its word.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from importlib.util import find_spec
from math import cos, floor, log10, pi, sin
from pathlib import Path

from framevis.deviations import CAUSES, Cause
from framevis.verdicts import Verdict

Colour = tuple[int, int, int]

VERDICT_COLOUR: Mapping[Verdict, Colour] = {  # cividis at 1.0, 0.76, 0.50, 0.18
    "binding": (254, 232, 56),
    "tight": (190, 175, 107),
    "free": (125, 124, 120),
    "unsure": (47, 66, 109),
}
MARKER_CORNERS: Mapping[Verdict, tuple[int, float]] = {  # corners of the shape, and where the first stands (turns)
    "binding": (4, 0.125),
    "tight": (3, 0.25),
    "free": (20, 0.0),
    "unsure": (4, 0.25),
}
NOT_JUDGED: Colour = (165, 172, 176)
PART_COLOUR: Mapping[str, Colour] = {
    "beam": (212, 219, 223),
    "rail": (158, 168, 175),
    "block": NOT_JUDGED,
    "plate": (226, 230, 230),
}
EDGE: Colour = (58, 68, 76)
GHOST: Colour = (96, 128, 158)
STAGE_GHOST: Colour = (0, 92, 170)
INK: Colour = (30, 38, 44)
QUIET_INK: Colour = (84, 96, 104)
PAPER: Colour = (252, 252, 250)
PAPER_LOW, PAPER_HIGH = (232, 235, 234), (250, 250, 248)
CAUSE_WORDS: Mapping[Cause, str] = {
    "bow": "bow",
    "twist": "twist",
    "opening": "opening",
    "own": "rail's own",
    "shims": "shims",
}


def unit(colour: Colour) -> tuple[float, float, float]:
    """The colour as VTK wants it, 0 to 1."""
    return colour[0] / 255.0, colour[1] / 255.0, colour[2] / 255.0


def marker(verdict: Verdict, x: float, y: float, radius: float) -> list[tuple[float, float]]:
    """Outline of a verdict's shape about a place: square, triangle, circle or diamond."""
    corners, first = MARKER_CORNERS[verdict]
    turns = [2.0 * pi * (first + i / corners) for i in range(corners)]
    return [(x + radius * cos(turn), y + radius * sin(turn)) for turn in turns]


@lru_cache(maxsize=2)
def font_file(bold: bool = False) -> str | None:
    """A typeface with most of the world's letters: the one that matplotlib brings."""
    found = find_spec("matplotlib")
    if found is None or found.origin is None:
        return None
    file = Path(found.origin).parent / "mpl-data/fonts/ttf" / f"DejaVuSans{'-Bold' if bold else ''}.ttf"
    return str(file) if file.is_file() else None


def plain(text: str) -> str:
    """Text from a file as VTK shows it: no columns (|), no formulas ($), no line breaks."""
    return " ".join(text.replace("|", "¦").replace("$", "\\$").split())


def round_down(value: float) -> float:
    """The largest of 1, 2, 5 times a power of ten that is not above a positive value."""
    power = 10.0 ** floor(log10(value))
    return max(step * power for step in (1.0, 2.0, 5.0) if step * power <= value * (1.0 + 1e-9))


def two_digits(value: float) -> float:
    """A positive value rounded to two significant digits."""
    return float(f"{value:.1e}")


def times(magnification: float) -> str:
    """A magnification as it is said: ×320, ×2.5."""
    return f"×{magnification:.0f}" if magnification >= 10.0 else f"×{magnification:.2g}"


def length(um: float) -> str:
    """A length as it is said beside a scale bar: 100 µm, 20 mm."""
    return f"{um:g} µm" if um < 1000.0 else f"{um / 1000.0:g} mm"


def place(mm: float, unit_name: str) -> str:
    """A position in the frame's own unit."""
    return f"{mm / 25.4:.2f} in" if unit_name == "in" else f"{mm:.0f} mm"


def causes_said(causes: Sequence[Cause]) -> str:
    """Which causes are shown, in words; empty where all are."""
    if set(causes) == set(CAUSES):
        return ""
    return "only " + " + ".join(CAUSE_WORDS[c] for c in CAUSES if c in causes) if causes else "no deviation"
