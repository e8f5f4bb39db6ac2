"""What to measure next: of all readings that could be taken, those that would settle most.

Takes a study, gives every open block's chance of a wrong verdict now, and a short list of readings with what is to be
expected of them; each by itself, not one after the other.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from framevis.advising.candidates import Candidate, candidates
from framevis.advising.expected_error import Open, Told, Trial, error_now, narrowed, open_of, told
from framevis.study import Study

WORTH = 0.03  # wrong verdicts: readings that are expected to avoid less are not worth the time
SURE = 0.005  # a chance of a wrong verdict below which nothing is left to settle
LEAST_DROP = 0.02  # of the variance of what is open: readings that take less settle nothing
SHORT_LIST = 5
MOST_TRIED = 12  # sets of readings of which the outcome is worked out, those that narrow most
MOST_DRAWS = 400  # of which the outcome is worked out
NEARLY_AS_GOOD = 0.8  # fewer readings that do this share of the work are preferred
Tell = Callable[[int, int], object]


@dataclass(frozen=True, eq=False)
class Offer:
    """Readings that could be taken. `after`: the chance of a wrong verdict of each open block, in their order."""

    candidate: Candidate
    after: tuple[float, ...]

    @property
    def errors_after(self) -> float:
        return sum(self.after)


@dataclass(frozen=True, eq=False)
class Advice:
    """`open`: the blocks whose verdict may be wrong; `errors` the number of wrong verdicts to be expected now, of
    blocks that are sure too; `offers` those worth taking, the best first; `best` for each open block its own best."""

    study: Study
    open: tuple[Open, ...]
    errors: float
    offers: tuple[Offer, ...]
    best: tuple[Offer | None, ...]

    @property
    def enough(self) -> bool:
        return not self.offers

    def saves(self, offer: Offer) -> float:
        """Wrong verdicts that an offer is expected to avoid."""
        return sum(each.error for each in self.open) - offer.errors_after


def advise(study: Study, tell: Tell = lambda done, total: None) -> Advice:
    """`tell`: is told how many of how many sets of readings were tried."""
    draws = study.drawn[:, :MOST_DRAWS]
    every = [(carriage, block) for carriage in study.carriages for block in carriage.blocks]
    errors = sum(error_now(study, block) for _, block in every)
    unsettled = [pair for pair in every if error_now(study, pair[1]) >= SURE or pair[1].verdict == "unsure"]
    if not unsettled:
        return Advice(study, (), errors, (), ())
    left = tuple(open_of(study, draws, carriage, block) for carriage, block in unsettled)
    wanted = np.concatenate([each.rows for each in left])
    trials = [
        Trial.of(study, [each for each in left if each.carriage is carriage])
        for carriage in dict.fromkeys(each.carriage for each in left)
    ]
    tried = _worth_trying(study, left, candidates(study, wanted))
    offers = []
    for done, (candidate, readings) in enumerate(tried):
        tell(done, len(tried))
        after = [error for trial in trials for error in trial.errors(readings, draws, study.seed)]
        offers.append(Offer(candidate, tuple(after)))
    best = tuple(_best_for(offers, i, each.error) or _narrowest(study, each, offers) for i, each in enumerate(left))
    advice = Advice(study, left, errors, (), best)
    worth = _in_frame_first(advice, [each for each in _one_a_sweep(advice, offers) if advice.saves(each) >= WORTH])
    ranked = sorted(worth, key=lambda offer: (offer.errors_after, offer.candidate.readings))
    return Advice(study, left, errors, tuple(ranked[:SHORT_LIST]), best)


def _worth_trying(study: Study, left: tuple[Open, ...], offered: list[Candidate]) -> list[tuple[Candidate, Told]]:
    """The readings that narrow most of what is open, weighed by the chances; for every block its best is among them."""
    with_told = [(candidate, told(study, candidate)) for candidate in offered]
    with_told = [pair for pair in with_told if len(pair[1].design)]
    if not with_told:
        return []
    share = np.array([[narrowed(study, each, readings) for each in left] for _, readings in with_told])
    share = np.where(share < LEAST_DROP, 0.0, share)
    score = share @ np.array([each.error for each in left])
    order = np.argsort(-score, kind="stable")[:MOST_TRIED]
    kept = dict.fromkeys(int(i) for i in (*order, *np.argmax(share, axis=0)) if score[i] > 0.0)
    return [with_told[i] for i in kept]


def _best_for(offers: list[Offer], block: int, now: float) -> Offer | None:
    """What settles one block best, the fewest readings where several do as well; None where nothing does."""
    least = min((offer.after[block] for offer in offers), default=now)
    good = [offer for offer in offers if now - offer.after[block] >= NEARLY_AS_GOOD * (now - least) > 0.0]
    return min(good, key=lambda offer: (offer.candidate.readings, offer.after[block]), default=None)


def _narrowest(study: Study, about: Open, offers: list[Offer]) -> Offer | None:
    """Where no chance falls among the draws: what narrows most of what is open; None where nothing does."""
    share = [narrowed(study, about, told(study, offer.candidate)) for offer in offers]
    return offers[int(np.argmax(share))] if share and max(share) >= LEAST_DROP else None


def _one_a_sweep(advice: Advice, offers: list[Offer]) -> list[Offer]:
    """Of the offers of the same sweeps one: the fewest readings that do nearly as well as all of them."""
    by_sweeps: dict[tuple[str, ...], list[Offer]] = {}
    for offer in offers:
        by_sweeps.setdefault(tuple(sweep.name for sweep in offer.candidate.sweeps), []).append(offer)
    kept = []
    for same in by_sweeps.values():
        most = max(advice.saves(offer) for offer in same)
        good = [offer for offer in same if advice.saves(offer) >= min(most, NEARLY_AS_GOOD * most)]
        kept.append(min(good, key=lambda offer: (offer.candidate.readings, -advice.saves(offer))))
    return kept


def _in_frame_first(advice: Advice, offers: list[Offer]) -> list[Offer]:
    """Without the new sweeps that do hardly more than one between the same rails that frame.toml names."""
    named = [offer for offer in offers if offer.candidate.how != "new"]

    def is_needless(offer: Offer) -> bool:
        enough = NEARLY_AS_GOOD * advice.saves(offer)
        return any(_rails(other) == _rails(offer) and advice.saves(other) >= enough for other in named)

    return [offer for offer in offers if offer.candidate.how != "new" or not is_needless(offer)]


def _rails(offer: Offer) -> set[str]:
    return {rail.name for sweep in offer.candidate.sweeps for rail in sweep.rails}
