"""The text form of `framevis assess` for many frames: a row each, the worst first, for whoever keeps a shop's frames.

Takes summaries, prints to a rich console.
"""

from __future__ import annotations

import shlex
from collections.abc import Sequence

from rich.console import Console
from rich.table import Table

from framevis.archive import Summary
from framevis.report import STYLES, indented, plain_table, shown
from framevis.say import CAUTION
from framevis.verdicts import RANK, Verdict

VERDICTS: tuple[Verdict, ...] = tuple(sorted(RANK, key=RANK.__getitem__, reverse=True))
HEADS = ("folder", "frame", "stage", "blocks", "worst block", "binds", "drag ×", "at", "suspect")
TEXTS = 5  # the first so many of them


def print_archive(summaries: Sequence[Summary], refused: int, console: Console) -> None:
    """`refused`: how many frames can't be used; each was said where it was met."""
    ranked = worst_first(summaries)
    console.print(f"[bold]{headline(ranked, refused)}[/bold]")
    if not ranked:
        return
    console.print()
    console.print(_table(ranked))
    doubts = [(each, doubt) for each in ranked for doubt in each.doubts]
    if doubts:
        console.print("\n[bold]Mind[/bold]")
    for each, doubt in doubts:
        indented(console, f"{shown(each.folder)}: {shown(doubt)}")
    console.print(
        "\nOf each frame: its blocks by verdict, the block likeliest to bind with its chance, readings to take again."
    )
    first = ranked[0]
    words = " ".join(map(shlex.quote, ("framevis", "assess", first.folder, "--stage", first.stage)))
    console.print(f"One in full: {shown(words)}", soft_wrap=True)
    console.print(f"\n[bold]{CAUTION}[/bold]")


def worst_first(summaries: Sequence[Summary]) -> list[Summary]:
    """By the worst verdict of any block, then by how likely and how hard the worst block binds; else as given."""
    return sorted(summaries, key=_badness, reverse=True)


def _badness(each: Summary) -> tuple[int, float, float, float]:
    return RANK[verdict_of(each)], each.worst.p_binding, each.worst.p_tight, each.worst.drag_ratio


def verdict_of(each: Summary) -> Verdict:
    """The worst verdict of any of a frame's blocks."""
    return next(verdict for verdict in VERDICTS if each.counts[verdict])


def headline(summaries: Sequence[Summary], refused: int) -> str:
    """How many frames have blocks of which verdict at worst."""
    total = len(summaries) + refused
    found = [verdict_of(each) for each in summaries]
    parts = [f"{found.count(verdict)} {verdict}" for verdict in VERDICTS if verdict in found]
    if refused:
        parts.append(f"{refused} can't be used")
    return f"{total} {'frame' if total == 1 else 'frames'}, by the worst block of each: {', '.join(parts)}"


def _table(ranked: Sequence[Summary]) -> Table:
    table = plain_table(None, HEADS, TEXTS)
    for each in ranked:
        worst = each.worst
        table.add_row(
            shown(each.folder),
            shown(each.frame),
            shown(each.stage),
            _blocks(each),
            shown(worst.block),
            f"{100 * worst.p_binding:.0f} %",
            f"{worst.drag_ratio:.1f}",
            worst.where,
            str(each.suspects or ""),
        )
    return table


def _blocks(each: Summary) -> str:
    """How many blocks have which verdict, the worst first."""
    found = ", ".join(f"{each.counts[verdict]} {verdict}" for verdict in VERDICTS if each.counts[verdict])
    style = STYLES[verdict_of(each)]
    return f"[{style}]{found}[/]" if style else found
