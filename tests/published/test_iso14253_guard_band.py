"""ISO 14253-1: conformity is shown only inside the limit narrowed by the guard band, one-sided 1.65 u."""

from __future__ import annotations

from ledger import Source, Value, check
from scipy.special import ndtri

from framevis.risk import GUARD_BAND, verdict_of

SOURCE = Source(
    "ISO 14253-1, decision rules: the guard band",
    "Least squares and uncertainty",
    "Conformity is shown only inside the limit narrowed by the guard band (seen in summaries): framevis calls a "
    "block free only where at most 5 % of the cases are tight. Of a normal distribution that leaves 1.65 u to the "
    "limit.",
)


def values() -> list[Value]:
    # 1.645, which is written rounded up: a whole digit
    return [Value("guard band, one-sided", "u", 1.65, -float(ndtri(GUARD_BAND)), "from memory", absolute=0.01)]


def test_values() -> None:
    check(values())


def test_the_verdict_free_keeps_the_guard_band() -> None:
    assert verdict_of(GUARD_BAND, 0.0) == "free"
    assert verdict_of(GUARD_BAND + 1e-3, 0.0) == "unsure"
