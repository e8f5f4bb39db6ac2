"""The keys of the window and what they do, in words: one table for the handler and for the help panel.

A command is a key symbol as the window system names it, what is written for it, and what it does.
"""

from __future__ import annotations

from dataclasses import dataclass

from framevis.deviations import CAUSES
from framevis.pictures.ink import LEADERS, Ink, text_width
from framevis.pictures.look import CAUSE_WORDS, INK, PAPER, QUIET_INK
from framevis.pictures.notes import Box, Shown


@dataclass(frozen=True)
class Command:
    """`symbols`: key symbols that mean it; `shown`: the key as it is written; `does`: in words."""

    name: str
    symbols: tuple[str, ...]
    shown: str
    does: str


COMMANDS: tuple[Command, ...] = (
    *(Command(c, (str(i + 1),), str(i + 1), f"{CAUSE_WORDS[c]} on or off") for i, c in enumerate(CAUSES)),
    Command("all", ("0",), "0", "all causes"),
    Command("ghost", ("g",), "G", "ghost: as drawn, the first stage, off"),
    Command("labels", ("l",), "L", "labels on or off"),
    Command("readings", ("a",), "A", "readings as arrows, on or off"),
    Command("only", ("d",), "D", "arrows of the next sweep alone"),
    Command("risk", ("r",), "R", "risk along the rails, on or off"),
    Command("section", ("s",), "S", "section of a beam, on or off"),
    Command("beam", ("b",), "B", "section and views of the next beam"),
    Command("back", ("bracketleft",), "[", "section back along the beam"),
    Command("forward", ("bracketright",), "]", "section on along the beam"),
    Command("more", ("plus", "equal", "KP_Add"), "+", "magnify more"),
    Command("less", ("minus", "KP_Subtract"), "−", "magnify less"),
    Command("next", ("c", "Tab"), "C", "the next carriage for arrow keys and play"),
    Command("left", ("Left", "Down"), "←", "carriage back"),
    Command("right", ("Right", "Up"), "→", "carriage on"),
    Command("play", ("space",), "Space", "the carriage travels by itself, or stops"),
    Command("stage", ("n",), "N", "the next stage"),
    Command("home", ("h",), "H", "view: whole frame"),
    Command("along", ("x",), "X", "view: along the beam"),
    Command("across", ("y",), "Y", "view: across the beam"),
    Command("above", ("z",), "Z", "view: from above"),
    Command("worst", ("w",), "W", "view: the worst block, where it suffers most"),
    Command("perspective", ("v",), "V", "perspective or parallel"),
    Command("save", ("p",), "P", "picture to a file"),
    Command("help", ("question", "F1"), "?", "this list"),
    Command("close", ("q", "Escape"), "Q", "close help or section, then the window"),
)
BY_SYMBOL = {symbol: command for command in COMMANDS for symbol in command.symbols}
SHOWN = {command.name: command.shown for command in COMMANDS}
MOUSE = (
    ("drag", "turn the frame"),
    ("Shift + drag", "move it"),
    ("wheel", "nearer or farther"),
)
COLUMNS = 2


def command_for(symbol: str) -> Command | None:
    """What a key means; letters in either case."""
    return BY_SYMBOL.get(symbol) or BY_SYMBOL.get(symbol.lower())


def help_rows() -> list[tuple[str, str]]:
    """Every key, and the mouse, with what it does."""
    return [*((c.shown, c.does) for c in COMMANDS), *MOUSE]


def draw_help(ink: Ink, shown: Shown) -> Box:
    """The panel in the middle of the window."""
    rows, (width, height) = help_rows(), shown.size
    per = -(-len(rows) // COLUMNS)
    px = min(shown.type_px, 0.9 * height / ((per + 4) * 1.6), 0.94 * width / 78.0 * 1.6)
    key = max(text_width(k, px, True) for k, _ in rows) + 1.2 * px
    column = key + max(text_width(d, px) for _, d in rows) + 2.4 * px
    wide, high = COLUMNS * column + 2.0 * px, (per + 2.8) * 1.6 * px
    left, bottom = (width - wide) / 2.0, (height - high) / 2.0
    box = (left, bottom, left + wide, bottom + high)
    corners = [(box[0], box[1]), (box[2], box[1]), (box[2], box[3]), (box[0], box[3])]
    ink.fill(corners, PAPER, LEADERS)
    ink.line(corners, QUIET_INK, LEADERS, closed=True)
    ink.text("Keys", left + 1.5 * px, box[3] - 1.7 * px, 1.3 * px, INK, bold=True)
    for i, (shown_key, does) in enumerate(rows):
        x, y = left + 1.5 * px + (i // per) * column, box[3] - (3.5 + 1.6 * (i % per)) * px
        ink.text(shown_key, x, y, px, INK, bold=True)
        ink.text(does, x + key, y, px, QUIET_INK)
    return box
