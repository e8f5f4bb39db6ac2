"""A station in digits that can be read from a step away.

Takes a short text of digits, point, minus and a unit; gives five lines of characters.
"""

from __future__ import annotations

GLYPHS = {
    "0": "### # # # # # # ###", "1": " #  ##   #   #  ###", "2": "###   # ### #   ###", "3": "###   # ###   # ###",
    "4": "# # # # ###   #   #", "5": "### #   ###   # ###", "6": "### #   ### # # ###", "7": "###   #   #   #   #",
    "8": "### # # ### # # ###", "9": "### # # ###   # ###", ".": "                 # ", "-": "        ###        ",
    "e": "    ### ##  #   ###", "+": "     #  ###  #     ",
}  # fmt: skip
ROWS = 5


def big(text: str, ink: str = "#") -> list[str]:
    """Five lines with the number of "1250 mm" large and its unit beside the last; the text itself where it is none."""
    number, _, unit = text.partition(" ")
    if not number or set(number) - set(GLYPHS):
        return [text]
    rows = []
    for row in range(ROWS):
        marks = [GLYPHS[mark][4 * row : 4 * row + 3] for mark in number]
        wide = "  ".join("".join(2 * mark for mark in glyph.ljust(3)) for glyph in marks)
        rows.append(f"    {wide.replace('#', ink)}")
    return [*(row.rstrip() for row in rows[:-1]), f"{rows[-1]}   {unit}"]
