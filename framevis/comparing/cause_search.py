"""Which single cause, if any, explains how the readings of a later stage differ from what was expected.

Takes readings held and hypotheses, gives the readings with bad ones set aside, and the explanation. A cause is weighed
by Schwarz's criterion (Ann. Statist. 6, 1978): by how much χ² falls, less ln N for each size that is fitted, less
2 ln of how many kinds of causes, and causes of its kind, are tried: 2 ln of its odds against no cause at all.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from framevis.comparing.held import Fit, Held, span
from framevis.comparing.single_causes import Cause, CauseKind, Hypothesis
from framevis.deviations import Layout
from framevis.frame import Floats

UNLIKELY = 0.001  # chance of a χ² as large below which a sweep, or all of them, disagree
ODDS = 100.0  # a cause is named where it is so many times as likely as none
RIVAL_ODDS = 10.0  # another is named beside it where it is not so many times less likely
MOST_BAD, MOST_RIVALS = 8, 2


@dataclass(frozen=True, eq=False)
class Explanation:
    """The cause that explains most. `settles`: with it, everything is as expected. `rivals` are nearly as likely.

    `size`: where it was fitted, the largest value of what changed, at `station_mm` of its rail or beam: µm, or mrad of
    a twist or opening; counted from where the readings start, or from the line through both ends, where an offset, or
    offset and slope, can't be seen. 0 where it was of known size.
    """

    cause: Cause
    size: float
    station_mm: float
    settles: bool
    rivals: tuple[Cause, ...]


def explain_away(layout: Layout, held: Held, causes: list[Hypothesis]) -> tuple[Held, Held, Explanation | None]:
    """Set bad readings aside and find the cause, the likeliest first, until nothing is likelier than no cause.

    One cause besides bad readings: where two things went wrong, the explanation doesn't settle it. Gives the readings
    held with bad ones set aside, the same with what the cause explains taken off, and the cause.
    """
    found, rivals = None, tuple[Cause, ...]()
    rest, tried = held, causes
    while True:
        odds = weigh(rest, tried)
        best = int(np.argmax(odds)) if odds.size else 0
        if not odds.size or odds[best] <= 2.0 * np.log(ODDS) or held.aside.shape[1] >= MOST_BAD:
            break
        if tried[best].cause.kind == "reading":
            place = tried[best].cause.first
            held, rest = held.without(place), rest.without(place)
            continue
        found, rivals = tried[best], _rivals(tried, odds, best)
        sizes = fitted(rest, found)
        rest = rest.less(found.patterns @ sizes)
        tried = [each for each in causes if each.cause.kind == "reading"]
    if found is None:
        return held, held, None
    size, station = _largest(layout, rest, found, sizes)
    return held, rest, Explanation(found.cause, size, station, is_normal(rest, found), rivals)


def is_normal(rest: Held, found: Hypothesis) -> bool:
    """Whether χ² of all readings and of each sweep are what chance brings, after a cause was taken off."""
    whole = rest.fit
    fitted_sizes = 0 if found.fixed else found.patterns.shape[1]
    enough = Fit(whole.chi2, whole.freedom - fitted_sizes).p >= UNLIKELY
    return enough and all(rest.sweep_fit(part).p >= UNLIKELY for _, part in rest.parts)


def weigh(held: Held, causes: list[Hypothesis]) -> Floats:
    """2 ln of the odds of each cause against none (K,)."""
    if not causes:
        return np.zeros(0)
    kinds = Counter(each.cause.kind for each in causes)
    white = held.white(np.hstack([each.patterns for each in causes]))
    off, count = held.white_off, np.log(max(int(np.count_nonzero(held.counts)), 2))
    odds, start = np.empty(len(causes)), 0
    for i, each in enumerate(causes):
        stop = start + each.patterns.shape[1]
        gain, sizes = _gain(each, white[:, start:stop], off)
        odds[i] = gain - sizes * count - 2.0 * np.log(kinds[each.cause.kind]) - 2.0 * np.log(len(kinds))
        start = stop
    return odds


def _gain(cause: Hypothesis, white: Floats, off: Floats) -> tuple[float, int]:
    """By how much χ² falls with a cause, and how many sizes were fitted for it."""
    if cause.fixed:
        pattern = white[:, 0]
        return float(2.0 * pattern @ off - pattern @ pattern), 0
    if white.shape[1] == 1:
        pattern = white[:, 0]
        along = float(pattern @ off)
        if not np.any(pattern) or (cause.positive and along <= 0.0):
            return 0.0, 1
        return along**2 / float(pattern @ pattern), 1
    basis = span(white)
    return float(np.sum((basis.T @ off) ** 2)), basis.shape[1]


def fitted(held: Held, cause: Hypothesis) -> Floats:
    """The sizes (k,) of a cause's patterns that explain most; the smallest where the readings leave some open."""
    if cause.fixed:
        return np.ones(1)
    return np.asarray(np.linalg.lstsq(held.white(cause.patterns), held.white_off, rcond=1e-8)[0])


def _largest(layout: Layout, held: Held, found: Hypothesis, sizes: Floats) -> tuple[float, float]:
    """The largest value of what changed, with its station where it is a function."""
    cause = found.cause
    if found.fixed:
        return 0.0, 0.0
    if cause.function is None:
        return float(sizes[0]), 0.0
    stations = np.linspace(*found.reach_mm, 201)
    shapes = layout.strips[cause.function, cause.where].shapes(stations)[:, : sizes.size]
    values = shapes @ sizes
    offset_seen, slope_seen = (bool(np.any(held.white(found.patterns[:, [k]]))) for k in (0, 1))
    if not offset_seen:
        values = values - (values[0] if slope_seen else np.interp(stations, stations[[0, -1]], values[[0, -1]]))
    at = int(np.argmax(np.abs(values)))
    return float(values[at]), float(stations[at])


def _rivals(causes: list[Hypothesis], odds: Floats, best: int) -> tuple[Cause, ...]:
    """Causes nearly as likely as the best that would be looked for elsewhere."""
    near = [i for i in np.argsort(-odds) if odds[i] > max(odds[best] - 2.0 * np.log(RIVAL_ODDS), 2.0 * np.log(ODDS))]
    named = [causes[best].cause]
    for i in near:
        if len(named) <= MOST_RIVALS and not any(_alike(causes[i].cause, other) for other in named):
            named.append(causes[i].cause)
    return tuple(named[1:])


SHIMS: frozenset[CauseKind] = frozenset({"left_out", "run_left_out"})


def _alike(one: Cause, other: Cause) -> bool:
    """Whether two causes are the same thing at overlapping screws."""
    kinds = one.kind == other.kind or {one.kind, other.kind} <= SHIMS
    same = (one.where, one.part, one.function) == (other.where, other.part, other.function)
    return kinds and same and one.first <= other.last and other.first <= one.last
