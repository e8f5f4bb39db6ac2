"""Trials → how good framevis' uncertainties and chances are: coverage, reliability, Brier score, wrong verdicts.

Everything of one frame hangs together (neighbouring stations, blocks of one carriage), so that every standard error
is taken over frames: that of a ratio of sums, √Σ(errors of a frame)² / all that was counted.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from trial import BlockOutcome, Trial

from framevis.frame import Floats

LEVELS = (0.5, 0.8, 0.95)
BINS = 10
Event = Literal["tight", "binding"]


@dataclass(frozen=True)
class Share:
    """A share of `count` things in `frames` frames, with its standard error over frames."""

    value: float
    error: float
    count: int
    frames: int


def share_by_frames(hits: Sequence[float], counts: Sequence[int]) -> Share:
    """Share of Σ hits in Σ counts, one entry a frame; frames without any are left out."""
    n = np.array(counts, dtype=float)
    k = np.array(hits, dtype=float)[n > 0]
    n = n[n > 0]
    if n.size == 0:
        return Share(np.nan, np.nan, 0, 0)
    value = k.sum() / n.sum()
    error = np.sqrt(np.sum((k - value * n) ** 2)) / n.sum()
    return Share(float(value), float(error), int(n.sum()), n.size)


def coverage(trials: Sequence[Trial], quantity: str) -> tuple[Share, ...]:
    """How often the central interval of each level (`LEVELS`) covers the truth."""
    placed = [trial.places.get(quantity, np.zeros(0)) for trial in trials]
    counts = [place.size for place in placed]
    return tuple(
        share_by_frames([float(np.sum(np.abs(place - 0.5) <= level / 2.0)) for place in placed], counts)
        for level in LEVELS
    )


def below_the_middle(trials: Sequence[Trial], quantity: str) -> Share:
    """How often the truth lies below the middle of framevis' distribution: half the time if it is calibrated."""
    placed = [trial.places.get(quantity, np.zeros(0)) for trial in trials]
    return share_by_frames([float(np.sum(place < 0.5)) for place in placed], [place.size for place in placed])


@dataclass(frozen=True, eq=False)
class Forecasts:
    """Chances and what came true, block by block. Arrays (N,): `chance`, `came` (0 or 1), `frame` its number;
    `likeliest` and `by_hand` (NaN where there is none) say 0 or 1 without uncertainty."""

    chance: Floats
    came: Floats
    likeliest: Floats
    by_hand: Floats
    frame: Floats

    def only(self, wanted: Floats) -> Forecasts:
        """Some of the blocks (N,) bool."""
        return Forecasts(*(getattr(self, name)[wanted] for name in self.__dataclass_fields__))


def forecasts(blocks_of: Iterable[Sequence[BlockOutcome]], event: Event) -> Forecasts:
    """The blocks of every frame; the event is to be tight, or to be binding."""
    found = [(number, block) for number, blocks in enumerate(blocks_of) for block in blocks]

    def column(name: str) -> Floats:
        values = (getattr(block, name) for _, block in found)
        return np.array([np.nan if value is None else float(value) for value in values])

    names = (f"p_{event}", event, f"mean_{event}", f"plain_{event}")
    return Forecasts(*(column(name) for name in names), np.array([number for number, _ in found], dtype=float))


def mean_by_frames(values: Floats, frame: Floats) -> Share:
    """Mean of values (N,) with its standard error over frames."""
    sums = [(values[frame == number].sum(), int(np.sum(frame == number))) for number in np.unique(frame)]
    return share_by_frames([k for k, _ in sums], [n for _, n in sums])


@dataclass(frozen=True)
class Bin:
    """Blocks with chances in one tenth, the `tenth` from 0: the mean chance, and the share that came true (error: the
    larger of that over frames and the binomial)."""

    tenth: int
    chance: float
    came: Share


def reliability(told: Forecasts) -> list[Bin]:
    """The reliability curve, empty bins left out."""
    which = np.minimum((told.chance * BINS).astype(int), BINS - 1)
    bins = []
    for number in np.unique(which):
        part = told.only(which == number)
        chance, came = float(part.chance.mean()), mean_by_frames(part.came, part.frame)
        binomial = float(np.sqrt(chance * (1.0 - chance) / came.count))
        bins.append(Bin(int(number), chance, Share(came.value, max(came.error, binomial), came.count, came.frames)))
    return bins


@dataclass(frozen=True)
class Brier:
    """Mean squared difference between chance and outcome: framevis', always the base rate, the likeliest shape alone,
    interpolation by hand and framevis on those same blocks. `reliability` − `resolution` + base rate's = framevis'
    (Murphy 1973; memory), up to the width of the bins."""

    framevis: Share
    base_rate: float
    likeliest: Share
    better: Share
    by_hand: Share
    framevis_there: Share
    better_there: Share
    reliability: float
    resolution: float


def brier(told: Forecasts) -> Brier:
    """`better`: Brier score of the likeliest shape less framevis', and `better_there` that of interpolation by hand."""
    squares = {name: (getattr(told, name) - told.came) ** 2 for name in ("chance", "likeliest", "by_hand")}
    hand = np.isfinite(told.by_hand)
    base = float(told.came.mean()) if told.came.size else np.nan
    bins = reliability(told)
    weight = np.array([each.came.count for each in bins]) / max(told.chance.size, 1)
    chance, came = (np.array(x) for x in ([b.chance for b in bins], [b.came.value for b in bins]))
    return Brier(
        mean_by_frames(squares["chance"], told.frame),
        base * (1.0 - base),
        mean_by_frames(squares["likeliest"], told.frame),
        mean_by_frames(squares["likeliest"] - squares["chance"], told.frame),
        mean_by_frames(squares["by_hand"][hand], told.frame[hand]),
        mean_by_frames(squares["chance"][hand], told.frame[hand]),
        mean_by_frames((squares["by_hand"] - squares["chance"])[hand], told.frame[hand]),
        float(weight @ (chance - came) ** 2),
        float(weight @ (came - base) ** 2),
    )


def wrong_verdicts(trials: Sequence[Trial], verdict: str) -> tuple[Share, float]:
    """Share of a verdict's blocks of which it isn't true, and the share that framevis' own chances let expect.

    "free" is wrong of a block that is tight or worse, "tight" of one that isn't even tight, "binding" of one that
    doesn't bind.
    """
    right = {"free": lambda b: not b.tight, "tight": lambda b: b.tight, "binding": lambda b: b.binding}[verdict]
    doubt = {"free": lambda b: b.p_tight, "tight": lambda b: 1.0 - b.p_tight, "binding": lambda b: 1.0 - b.p_binding}
    of = [[block for block in trial.blocks if block.verdict == verdict] for trial in trials]
    wrong = share_by_frames([sum(not right(b) for b in blocks) for blocks in of], [len(blocks) for blocks in of])
    expected = [doubt[verdict](block) for blocks in of for block in blocks]
    return wrong, float(np.mean(expected)) if expected else np.nan


def spiegelhalter(told: Forecasts) -> float:
    """How many standard errors the Brier score is off what the chances themselves let expect (Spiegelhalter 1986; from
    memory): normal with unit variance, about, if the chances are calibrated."""
    return _in_errors((told.came - told.chance) * (1.0 - 2.0 * told.chance), told.frame)


def bias(told: Forecasts) -> float:
    """How many standard errors more blocks came true than the chances let expect."""
    return _in_errors(told.came - told.chance, told.frame)


def _in_errors(values: Floats, frame: Floats) -> float:
    """Σ values (N,) over its standard error, which is taken over frames."""
    sums = np.array([values[frame == number].sum() for number in np.unique(frame)])
    error = float(np.sqrt(np.sum(sums**2)))
    return float(sums.sum()) / error if error > 0.0 else 0.0


def together(one: Forecasts, other: Forecasts) -> Forecasts:
    """Two forecasts of the same frames as one."""
    names = one.__dataclass_fields__
    return Forecasts(*(np.concatenate([getattr(one, name), getattr(other, name)]) for name in names))
