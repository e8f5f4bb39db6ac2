"""framevis' uncertainties and chances over some random frames of its own family, everything felt measured.

The smaller version of `prove.py`. Bounds are in standard errors over frames (all of one frame hangs together): three
for coverage (1 in 370 by chance), two and a half for chances (1 in 80). Coverage may besides be off by `BY_NATURE`: the
widths of the priors are the likeliest ones, not integrated over, and drawn toward the tolerance class, of which most of
these frames are smoother. Seeds are fixed, so that a pass stays a pass. The faults planted would break them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import count, islice

import numpy as np
import pytest
from scipy.special import bdtrc, ndtr, ndtri
from scores import LEVELS, Event, Share, bias, coverage, forecasts, spiegelhalter, together
from trial import BlockOutcome, Trial, judged, measured_frame

from framevis.frame import Floats

FRAMES, SEED, DRAWS = 40, 5, 80
BY_NATURE = 0.03
ERRORS, ERRORS_OF_CHANCES = 3.0, 2.5
CURVES = ("rail lateral", "rail height", "rail roll", "pair roll", "misfit roll", "worst drag ratio")


@pytest.fixture(scope="module")
def trials() -> list[Trial]:
    """Frames of one or two beams, bent like strips, smooth to rough, read densely and sparsely."""
    drawn = (measured_frame(SEED, number) for number in count())
    fit = (
        each
        for each in drawn
        if each.of.family == "strips"
        and each.of.all_felt_measured
        and not each.of.level_drifts
        and each.of.arrangement != "carried beam"
    )
    return [judged(each, DRAWS) for each in islice(fit, FRAMES)]


def off(share: Share, level: float) -> float:
    """How many standard errors a coverage lies from its level, beyond what it may."""
    return max(abs(share.value - level) - BY_NATURE, 0.0) / share.error


def in_the_open(trials: list[Trial]) -> float:
    """By how many standard errors chances are off where limits were put in the open: chances from 0 to 1."""
    events: tuple[Event, Event] = ("tight", "binding")
    told = together(*(forecasts((trial.open_blocks for trial in trials), event) for event in events))
    return max(abs(bias(told)), abs(spiegelhalter(told)))


@pytest.mark.parametrize("quantity", CURVES)
def test_intervals_cover_the_truth_as_often_as_they_say(trials: list[Trial], quantity: str) -> None:
    for share, level in zip(coverage(trials, quantity), LEVELS, strict=True):
        assert off(share, level) < ERRORS, (quantity, level, share)


def test_chances_come_true_as_often_as_they_say(trials: list[Trial]) -> None:
    assert in_the_open(trials) < ERRORS_OF_CHANCES


def test_free_is_wrong_in_one_of_twenty_at_most(trials: list[Trial]) -> None:
    """Binomial: so many wrong ones would be a 1 in 100 chance at most if one in twenty were wrong."""
    free = [block for trial in trials for block in (*trial.blocks, *trial.open_blocks) if block.verdict == "free"]
    wrong = sum(block.tight for block in free)
    assert len(free) >= 20
    assert wrong == 0 or bdtrc(wrong - 1, len(free), 0.05) > 0.01


def test_chances_beat_the_base_rate_and_the_likeliest_shape(trials: list[Trial]) -> None:
    told = forecasts((trial.open_blocks for trial in trials), "binding")
    ours = np.mean((told.chance - told.came) ** 2)
    assert ours < np.mean((told.came.mean() - told.came) ** 2)
    assert ours < np.mean((told.likeliest - told.came) ** 2)


def narrower(places: Floats) -> Floats:
    """Where the truth would lie if every standard uncertainty were half of what it is."""
    return ndtr(2.0 * ndtri(np.clip(places, 1e-9, 1.0 - 1e-9)))


@pytest.mark.parametrize("quantity", CURVES)
def test_uncertainties_said_half_as_large_would_be_caught(trials: list[Trial], quantity: str) -> None:
    halved = [replace(t, places={quantity: narrower(t.places[quantity])}) for t in trials if quantity in t.places]
    assert max(off(share, level) for share, level in zip(coverage(halved, quantity), LEVELS, strict=True)) > ERRORS


@pytest.mark.parametrize("fault", [lambda p: p**2, lambda p: p / 2.0], ids=["squared", "halved"])
def test_chances_said_too_low_would_be_caught(trials: list[Trial], fault: Callable[[float], float]) -> None:
    def spoilt(block: BlockOutcome) -> BlockOutcome:
        return replace(block, p_tight=fault(block.p_tight), p_binding=fault(block.p_binding))

    wrong = [replace(trial, open_blocks=tuple(map(spoilt, trial.open_blocks))) for trial in trials]
    assert in_the_open(wrong) > ERRORS_OF_CHANCES
