"""Writes VALUES.md, the page of all published values beside framevis's own: python tests/published/write_values.py

Whole or not at all: nothing is written where a value disagrees.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from math import ceil, inf, log10
from pathlib import Path
from textwrap import fill
from typing import get_args

sys.path.insert(0, str(Path(__file__).parents[1]))  # the tests' own kit, as pytest finds it

from ledger import HERE, Account, Entry, Field, Range, Status, Value, accounts, check

from framevis.outfile import beside

PAGE = HERE / "VALUES.md"
HEADINGS = ("what", "unit", "published", "framevis", "difference", "tolerance", "status")
SUMMARY = ("field", "sources", "values", "largest difference", "where")
NOISE = 0.01  # of the tolerance: smaller differences are written as 0
COMMAND = "python tests/published/write_values.py"
LARGEST = "The largest difference in each field, relative to the value; values near zero left out:"
WIDTH = 120
FINEST = 1e-12  # of the value: no more digits than a double has
Row = tuple[str, ...]


def number(value: float, step: float) -> str:
    """A value with so many decimals that a step is seen; in powers of ten where it is very small."""
    if step == 0.0:
        return f"{value:.15g}"
    if abs(value) < step:
        return "0"
    if abs(value) < 1e-3:
        return f"{value:.{ceil(log10(abs(value) / step))}e}"
    return f"{value:.{max(ceil(-log10(step)), 0)}f}"


def step_of(value: Value) -> float:
    """A hundredth of what may differ, as the last digit that is shown; 0 where nothing may: all digits."""
    return max(NOISE * value.allowed, FINEST * abs(value.published)) if value.allowed else 0.0


def tolerance(value: Value) -> str:
    if value.allowed == 0.0:
        return "equal"
    if value.absolute >= value.relative * abs(value.published):
        return f"±{value.absolute:.3g}"
    return f"±{100 * value.relative:g} %" if value.relative >= 1e-5 else f"±{value.relative:g} of it"


def row_of(entry: Entry) -> Row:
    """The cells of one entry, in the order of HEADINGS."""
    if isinstance(entry, Range):
        return entry.what, entry.unit, limits(entry), f"{entry.ours:.4g}", "within", "", entry.status
    step = step_of(entry)
    small = abs(entry.difference) <= NOISE * entry.allowed
    difference = "0" if small else f"{entry.difference:.3g}"
    published = as_printed(entry.published, step)
    return entry.what, entry.unit, published, number(entry.ours, step), difference, tolerance(entry), entry.status


def as_printed(value: float, step: float) -> str:
    """All digits of a value that was written down; of one that was worked out here, those that a step needs."""
    text = f"{value:.15g}"
    return text if float(text) == value else number(value, step)


def limits(entry: Range) -> str:
    if entry.high == inf:
        return f"at least {entry.low:g}"
    return f"below {entry.high:g}" if entry.low == -inf else f"{entry.low:g} to {entry.high:g}"


def share(value: Value) -> float:
    """How much of its tolerance a difference takes, to a thousandth."""
    return round(abs(value.difference) / value.allowed, 3) if value.allowed else 0.0


def relative(value: Value) -> float:
    """Its difference over itself; 0 where the tolerance is more than a tenth of it, as beside a value near zero."""
    about_itself = value.allowed <= 0.1001 * abs(value.published)
    return round(abs(value.difference / value.published), 9) if about_itself and value.published else 0.0


def numbers(entries: Sequence[Entry]) -> list[Value]:
    return [entry for entry in entries if isinstance(entry, Value)]


def table(headings: Row, rows: Sequence[Row]) -> list[str]:
    """A Markdown table whose columns stand under each other in plain text too."""
    width = [max(len(row[i]) for row in (headings, *rows)) for i in range(len(headings))]
    lines = (" | ".join(cell.ljust(w) for cell, w in zip(row, width, strict=True)) for row in (headings, *rows))
    heading, *rest = (f"| {line} |" for line in lines)
    return [heading, "|" + "|".join("-" * (w + 2) for w in width) + "|", *rest]


def summary_row(field: str, of_field: Sequence[Account]) -> Row:
    found = [(account, value) for account in of_field for value in numbers(account.entries)]
    counts = (field, str(len(of_field)), str(sum(len(account.entries) for account in of_field)))
    if not found:
        return *counts, "", "all within their ranges"
    account, value = max(found, key=lambda each: relative(each[1]))
    if relative(value) == 0.0:
        return *counts, "below 1e-9 of it", "all of them"
    allowed = 100.0 * value.allowed / abs(value.published)
    return *counts, f"{100 * relative(value):.2g} % ({allowed:.2g} % allowed)", f"{value.what} ({account.file})"


def opening(told: Sequence[Account]) -> str:
    status = [entry.status for account in told for entry in account.entries]
    counts = ", ".join(f"{status.count(name)} {name}" for name in get_args(Status))
    return (
        f"Every number outside framevis that these tests hold it against: {len(status)} values of {len(told)} sources "
        f"({counts}), each with what framevis makes of it, the difference and the tolerance. The tests assert exactly "
        "what is listed, from the same lists. Seen: read in a public copy of the source; from memory: known to the "
        "author, not read again; computed: by an exact formula or another program, not published; common practice: "
        "what the trade goes by, without a source. A difference below a hundredth of its tolerance is written as 0; "
        "where the tolerance is half of the last printed digit, the source's own rounding may use it up. What is not a "
        "number (names of error motions, properties, refusals) is tested in the same files and not listed. The page is "
        "generated, whole or not at all, and a test holds it against the lists:"
    )


def closeness(entries: Sequence[Entry]) -> str:
    """How many values there are, and which of them comes nearest to its tolerance."""
    count = f"{len(entries)} values" if len(entries) > 1 else "One value"
    if not (found := numbers(entries)):
        return f"{count}, all within their ranges."
    value = max(found, key=share)
    if share(value) < NOISE:
        return f"{count}, all within a hundredth of their tolerances."
    return f"{count}; nearest to its tolerance ({100 * share(value):.0f} % of it): {value.what}."


def chapter(account: Account) -> list[str]:
    source = account.source
    told = (
        f"### {source.name}",
        "",
        fill(source.note, WIDTH),
        "",
        f"{closeness(account.entries)} `{account.file}`",
        "",
    )
    return [*told, *table(HEADINGS, [row_of(entry) for entry in account.entries]), ""]


def page(told: Sequence[Account]) -> str:
    fields = {field: [account for account in told if account.source.field == field] for field in get_args(Field)}
    lines = [
        "# Published values and framevis's own",
        "",
        fill(opening(told), WIDTH),
        "",
        f"    {COMMAND}",
        "",
        LARGEST,
        "",
    ]
    lines += table(SUMMARY, [summary_row(field, of_field) for field, of_field in fields.items()])
    for field, of_field in fields.items():
        lines += ["", f"## {field}", ""]
        for account in of_field:
            lines += chapter(account)
    return "\n".join(lines).rstrip() + "\n"


def main() -> None:
    told = accounts()
    for account in told:
        check(account.entries)
    with beside(PAGE) as hidden:
        hidden.write_text(page(told), encoding="utf-8")


if __name__ == "__main__":
    main()
