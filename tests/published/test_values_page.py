"""VALUES.md says what the code says: the committed page is read again and held against the lists that are asserted."""

from __future__ import annotations

from functools import cache
from importlib import import_module

import pytest
from ledger import Account, Range, Source, Value, accounts, check
from write_values import HEADINGS, PAGE, SUMMARY, Row, opening, page, row_of, summary_row, table

AGAIN = "write it again: python tests/published/write_values.py"
LAST_DIGIT = 0.02  # of the tolerance; a hundredth is the last digit that is shown
ROUNDING, HALF = 1e-6, 0.5  # so small a tolerance is there for rounding alone, which differs between machines
FEW_DIGITS = 2e-3  # relative, for what is shown with three or four digits


@cache
def told() -> list[Account]:
    return accounts()


@cache
def sections() -> dict[str, str]:
    """The page's text under each source's name."""
    parts = PAGE.read_text(encoding="utf-8").split("\n### ")[1:]
    return {part.split("\n", 1)[0]: part.split("\n## ")[0] for part in parts}


def rows_in(text: str, headings: Row) -> list[Row]:
    """The rows of the one table in a text."""
    lines = [line for line in text.splitlines() if line.startswith("|")]
    first, _, *rest = [tuple(cell.strip() for cell in line.strip("|").split(" | ")) for line in lines]
    assert first == headings
    return rest


def differs(written: Row, entry: Value | Range) -> bool:
    """Whether a row of the page is not what the code gives now, but for last digits."""
    fresh = row_of(entry)
    if isinstance(entry, Range):
        exact, rough, slack = (0, 1, 2, 4, 5, 6), (3,), FEW_DIGITS * abs(entry.ours)
    else:
        exact, rough = (0, 1, 5, 6), (2, 3, 4)
        slack = (HALF if entry.allowed <= ROUNDING else LAST_DIGIT) * entry.allowed + 1e-11 * abs(entry.published)
    return any(written[i] != fresh[i] for i in exact) or any(
        abs(float(written[i]) - float(fresh[i])) > slack for i in rough
    )


def per_cent(cell: str) -> float:
    """The number that a cell of the summary begins with; 0 where it has words only."""
    return float(cell.split()[0]) if cell[:1].isdigit() else 0.0


def test_every_source_has_its_chapter_and_no_other() -> None:
    names = [account.source.name for account in told()]
    assert len(set(names)) == len(names)
    assert set(sections()) == set(names), AGAIN


def test_every_row_is_what_the_code_gives_now() -> None:
    wrong = []
    for account in told():
        written = rows_in(sections()[account.source.name], HEADINGS)
        assert len(written) == len(account.entries), AGAIN
        wrong += [row for row, entry in zip(written, account.entries, strict=True) if differs(row, entry)]
    assert not wrong, AGAIN


def test_words_are_those_of_the_sources() -> None:
    for account in told():
        assert account.source.note in " ".join(sections()[account.source.name].split()), AGAIN
        assert f"`{account.file}`" in sections()[account.source.name], AGAIN


def test_the_opening_counts_what_is_there() -> None:
    before = PAGE.read_text(encoding="utf-8").split("\n## ")[0]
    assert opening(told()) in " ".join(before.split()), AGAIN
    for row in rows_in(before, SUMMARY):
        fresh = summary_row(row[0], [account for account in told() if account.source.field == row[0]])
        assert row[:3] == fresh[:3], AGAIN
        assert per_cent(row[3]) == pytest.approx(per_cent(fresh[3]), rel=0.1), AGAIN  # two digits are shown


def test_every_source_asserts_what_it_lists() -> None:
    for account in told():
        assert callable(getattr(import_module(account.file.removesuffix(".py")), "test_values", None)), account.file


def test_values_of_one_source_have_names_of_their_own() -> None:
    for account in told():
        names = [entry.what for entry in account.entries]
        assert len(set(names)) == len(names), account.file


def test_what_disagrees_is_told() -> None:
    right = Value("right", "mm", 2.0, 2.1, "seen", absolute=0.11)
    check([right])
    wrong = (
        Value("off", "mm", 2.0, 2.12, "seen", absolute=0.11),
        Value("nothing", "mm", 2.0, float("nan"), "seen", absolute=0.11),
        Value("not equal", "mm", 2.0, 2.0000001, "seen"),
        Range("at its end", "1", 1.5, 3.0, 3.0, "common practice"),
    )
    for value in wrong:
        with pytest.raises(AssertionError, match=value.what):
            check([right, value])
    with pytest.raises(AssertionError):
        check([])


def test_a_page_that_is_out_of_date_is_told() -> None:
    value = Value("load", "N", 100.0, 100.2, "seen", relative=0.005)
    row = row_of(value)
    assert not differs(row, value)
    for i, other in enumerate(("lead", "kN", "101", "100.3", "0.4", "±1 %", "computed")):
        assert differs((*row[:i], other, *row[i + 1 :]), value), HEADINGS[i]


def test_a_page_is_read_as_it_is_written() -> None:
    source = Source("A source", "Sag", "Its note.")
    account = Account("test_x.py", source, (Value("a", "1", 1.0, 1.01, "seen", relative=0.1),))
    text = page([account])
    assert rows_in(text.split("\n### ")[1], HEADINGS) == [row_of(account.entries[0])]
    assert table(("h",), [("cell",)]) == ["| h    |", "|------|", "| cell |"]
