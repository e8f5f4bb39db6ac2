"""What lies over the picture and its labels: the section's sheet, the list of keys, the ribbon's legend, a message.

Takes what is to be shown, draws on a layer above everything else.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from framevis.pictures.ink import BOXES, LEADERS, MARKS, Ink, text_width
from framevis.pictures.inset import draw_section
from framevis.pictures.keys import draw_help
from framevis.pictures.look import EDGE, INK, PAPER, QUIET_INK, place
from framevis.pictures.notes import Box, Shown
from framevis.pictures.risk_strip import BARS, COLOURS, WIDTHS, WORDS
from framevis.pictures.section import Section

TITLE = "risk along the rails:"


@dataclass(frozen=True, eq=False)
class Over:
    """What lies over the picture now."""

    section: Section | None = None
    help: bool = False
    risk: bool = False
    said: str = ""


def sheet_box(shown: Shown) -> Box:
    """Where the section's sheet lies: the right half, above the controls."""
    (width, height), px = shown.size, shown.type_px
    high = min(height - 4.5 * px, shown.low_px + 2.0 * px + 0.42 * width)
    return 0.5 * width, shown.low_px + 1.2 * px, width - px, high


class Overlay:
    """The layer itself."""

    def __init__(self, window: Any) -> None:
        self.ink = Ink(window)
        window.SetNumberOfLayers(3)
        self.ink.renderer.SetLayer(2)

    def write(self, over: Over, shown: Shown, unit_name: str) -> None:
        self.ink.clear()
        if over.risk:
            self._legend(shown, over.section is not None)
        if over.said:
            self._said(over.said, shown)
        if over.help:
            draw_help(self.ink, shown)
        elif over.section is not None:
            at = place(over.section.station_mm, unit_name)
            draw_section(self.ink, sheet_box(shown), over.section, shown, at)
        self.ink.flush()

    def _said(self, said: str, shown: Shown) -> None:
        """A message at the top right."""
        (width, height), px = shown.size, shown.type_px
        wide = text_width(said, px, True)
        x, y = max(px, width - wide - 1.6 * px), height - 2.0 * px
        corners = [(x - 0.7 * px, y - px), (width - px, y - px), (width - px, y + px), (x - 0.7 * px, y + px)]
        self.ink.fill(corners, PAPER, LEADERS)
        self.ink.line(corners, QUIET_INK, LEADERS, closed=True)
        self.ink.text(said, x, y, px, INK, bold=True)

    def _legend(self, shown: Shown, beside_sheet: bool) -> None:
        """The ribbon's steps with their words, in one line above the controls."""
        left, bottom, right, top = legend_box(shown, beside_sheet)
        px, y = shown.type_px, (bottom + top) / 2.0
        corners = [(left, bottom), (right, bottom), (right, top), (left, top)]
        self.ink.fill(corners, PAPER, LEADERS, alpha=220)
        x = left + 0.7 * px
        self.ink.text(TITLE, x, y, px, QUIET_INK)
        x += text_width(TITLE, px) + px
        for words, colour, wide, bars in zip(WORDS, COLOURS, WIDTHS, BARS, strict=True):
            half, long = 0.32 * px * wide, 3.0 * px
            corners = [(x, y - half), (x + long, y - half), (x + long, y + half), (x, y + half)]
            self.ink.fill(corners, colour, BOXES)
            for i in range(0, 6, bars or 6) if bars else ():
                bar = x + (i + 0.5) * long / 6.0
                self.ink.line([(bar, y - half), (bar, y + half)], EDGE, MARKS)
            self.ink.text(words, x + long + 0.4 * px, y, px, INK)
            x += long + text_width(words, px) + 1.6 * px


def legend_box(shown: Shown, beside_sheet: bool) -> Box:
    """Where the legend lies: beside the scale bar; above it where the section's sheet leaves no room."""
    px = shown.type_px
    wide = text_width(TITLE, px) + sum(text_width(w, px) + 4.6 * px for w in WORDS) + 1.4 * px
    left = px if beside_sheet else 0.22 * shown.size[0]
    bottom = shown.low_px + (4.4 if beside_sheet else 1.0) * px
    return left, bottom, left + wide, bottom + 1.8 * px
