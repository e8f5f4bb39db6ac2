"""A sweep entered with the wrong sign or in the wrong unit: found where other sweeps contradict it.

Takes a posterior, gives the doubt, if there is one: which sweep, what it looks like, how sure. With f times a sweep's
readings on its rows of v, −2 ln likelihood = vᵀPv − 2n ln |f| (and what doesn't change) is a parabola in f: one product
a sweep tries every factor. Of sweeps that look mistaken the likeliest factor is estimated anew, with prior scales of
its own, and weighed against "nothing is wrong" and "it only scatters more than its u says": 2 ln odds, less what many
candidates and one more unknown would bring by chance (Schwarz 1978). Readings are never altered: a doubt is named.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import permutations

import numpy as np

from framevis import priors
from framevis.estimate import Posterior, fitted
from framevis.frame import Flags, Floats, Sweep, SweepReadings
from framevis.rows import Rows, placed, reduce
from framevis.solved import Solved, improbability
from framevis.units import MRAD_PER_UNIT, UM_PER_UNIT

ODDS = 14.0  # 2 ln odds from which a turned sign is named: 1000 to 1
ODDS_OF_UNIT = 40.0  # a factor also mends sizes that are merely unusual, and a wrong unit shows in far larger odds
NEARLY = 10.0  # of 2 ln odds: what is nearly as likely is named too
WORTH_TRYING, WORTH_TRYING_UNIT = 6.0, 25.0  # 2 ln odds at the scales as they are, from which a sweep is tried
MUCH = 0.15  # share of a sweep's readings set aside from which it is tried whatever is left says
MOST_TRIED = 3
SCATTERS = (2.0, 5.0, 12.0)  # times its u: what else might be wrong with a sweep
LOG_U_SD = float(np.log(2.0))
FITS = 1.7  # times its u: so much may the sweep still scatter once the mistake is put right
DIVISION_UM = 10.0  # a dial's usual division, 0.01 mm

LENGTHS: dict[str, float] = {**UM_PER_UNIT, "0.01 mm divisions": DIVISION_UM}
ANGLES: dict[str, float] = {unit: size for unit, size in MRAD_PER_UNIT.items() if unit != "mm_per_m"}


@dataclass(frozen=True)
class Mistake:
    """What may have gone wrong with a sweep: its true readings are `factor` times those entered.

    `units`: pairs (the unit read, the unit entered) of which the factor is the ratio; empty for a sign.
    `own_zero`: the instrument was turned round, so it doesn't share its zero error with the others any more.
    """

    sweep: Sweep
    factor: float
    units: tuple[tuple[str, str], ...] = ()
    own_zero: bool = False


@dataclass(frozen=True, eq=False)
class Doubt:
    """Mistakes that explain the readings far better, the likeliest first, each of another sweep or kind.

    `odds`: 2 ln odds of the first against the likeliest of whatever isn't a mistake. `standardised`: what the deletion
    residuals (N,) of every sweep, in the order of `Posterior.checked`, would be if the first were put right.
    """

    mistakes: tuple[Mistake, ...]
    odds: float
    standardised: tuple[Floats, ...]


def candidates(sweep: Sweep) -> Iterator[Mistake]:
    """Everything that a sweep's readings could be by mistake."""
    if sweep.kind != "gap" and sweep.nominal_um is None:  # a gap and a size have no sign
        yield Mistake(sweep, -1.0, own_zero=sweep.is_angle and sweep.instrument is not None)
    size = ANGLES if sweep.is_angle else LENGTHS
    pairs: dict[float, list[tuple[str, str]]] = {}
    for read, entered in permutations(size, 2):
        pairs.setdefault(float(f"{size[read] / size[entered]:.9g}"), []).append((read, entered))
    for factor, units in pairs.items():
        yield Mistake(sweep, factor, tuple(units))


def find_mistake(posterior: Posterior) -> Doubt | None:
    """The doubt about a stage's readings, None where all is well or where no other sweep could tell."""
    places = _places(posterior)
    screened = [_screened(posterior.groups, *at) for at in places]
    worth = []
    for i, (found, (_, place)) in enumerate(zip(screened, places, strict=True)):
        aside = float(np.mean(posterior.aside[place.group][place.rows]))
        if found and (aside > MUCH or found[0][0] > (WORTH_TRYING_UNIT if found[0][1].units else WORTH_TRYING)):
            worth.append((np.inf if aside > MUCH else found[0][0], i))
    likeliest = [places[i] for _, i in sorted(worth, reverse=True)[:MOST_TRIED]]
    return _Trial(posterior, likeliest, sum(map(len, screened))).doubt() if likeliest else None


@dataclass(frozen=True)
class Place:
    """Where a sweep's readings stand: which group, which of its rows."""

    group: int
    rows: slice


def _places(posterior: Posterior) -> list[tuple[SweepReadings, Place]]:
    return [
        (readings, Place(group, part))
        for group, solved in enumerate(posterior.groups)
        for readings, part in placed(solved.reduced.rows.sweeps)
    ]


def _freedom(rows: Rows, part: slice) -> int:
    """How many readings of a sweep are left once what it leaves open is taken from them."""
    opened = np.column_stack([rows.free[part], rows.zeros[part]])
    return int(part.stop - part.start) - int(np.count_nonzero(np.any(opened, axis=0)))


def _screened(groups: tuple[Solved, ...], readings: SweepReadings, place: Place) -> list[tuple[float, Mistake]]:
    """2 ln odds of every mistake of a sweep, at the scales of `groups`, the likeliest first."""
    solved, part = groups[place.group], place.rows
    reduced = solved.reduced
    freedom = _freedom(reduced.rows, part)
    if freedom < 2:
        return []
    entered, constant = np.zeros((2, reduced.rows.values.size))
    entered[part], constant[part] = readings.values / reduced.u[part], 1.0 / reduced.u[part]
    seen, zero = solved.left_of(np.column_stack([entered, constant])).T
    residual = solved.residual / reduced.u  # P v
    slope, bend, freed = float(residual @ entered), float(entered @ seen), float(zero @ constant)
    found = []
    for mistake in candidates(readings.sweep):
        more = mistake.factor - 1.0
        fall = -2.0 * more * slope - more**2 * bend
        if mistake.own_zero and freed > 1e-12:
            fall += float(residual @ constant + more * entered @ zero) ** 2 / freed
        found.append((fall + 2.0 * freedom * float(np.log(abs(mistake.factor))), mistake))
    return sorted(found, key=lambda pair: -pair[0])


@dataclass(frozen=True, eq=False)
class Weighed:
    """An explanation, estimated with scales of its own. `cost` −2 ln of its odds, up to a constant."""

    cost: float
    groups: tuple[Solved, ...]


@dataclass(frozen=True, eq=False)
class _Trial:
    """The few likeliest mistakes against each other and against what else may be. `choices`: out of how many."""

    posterior: Posterior
    suspected: list[tuple[SweepReadings, Place]]
    choices: int

    @cached_property
    def rows(self) -> list[Rows]:
        return [solved.reduced.rows for solved in self.posterior.groups]

    @cached_property
    def aside(self) -> list[Flags]:
        """Readings that don't count: those of the sweeps on trial all do."""
        aside = [flags.copy() for flags in self.posterior.aside]
        for _, place in self.suspected:
            aside[place.group][place.rows] = False
        return aside

    @cached_property
    def right(self) -> Weighed:
        """Nothing is wrong."""
        return self._weigh(self.rows)

    def likeliest(self, readings: SweepReadings, place: Place) -> Mistake:
        """Of a sweep's mistakes, by what the others say: with the scales that they have without it."""
        without = [flags.copy() for flags in self.aside]
        without[place.group][place.rows] = True
        solved = fitted(self.posterior.layout, self.rows, without).groups
        counted = reduce(self.rows[place.group], self.aside[place.group])
        groups = list(solved)
        groups[place.group] = replace(solved[place.group], reduced=counted)
        return _screened(tuple(groups), readings, place)[0][1]

    def mistaken(self, mistake: Mistake, readings: SweepReadings, place: Place) -> Weighed:
        """As if the readings were `factor` times those entered; the price is for the choice among so many."""
        rows, part = self.rows[place.group], place.rows
        values = rows.values.copy()
        values[part] += (mistake.factor - 1.0) * readings.values
        free, price = rows.free, 2.0 * np.log(self.choices)
        if mistake.own_zero and _shares_zero(rows, part):
            zero = np.zeros((values.size, 1))
            zero[part] = 1.0
            free, price = np.concatenate([free, zero], axis=1), price + np.log(readings.values.size)
        weighed = self._weigh(self._with(place, replace(rows, values=values, free=free)))
        gain = 2.0 * _freedom(rows, part) * np.log(abs(mistake.factor))
        return replace(weighed, cost=weighed.cost + price - gain)

    def scattering(self, readings: SweepReadings, place: Place) -> float:
        """The least cost at which a sweep merely scatters more than its u says; u is known to a factor of two or so."""
        rows, part = self.rows[place.group], place.rows
        costs = []
        for times in SCATTERS:
            u = rows.u.copy()
            u[part] *= times
            price = 2.0 * _freedom(rows, part) * np.log(times) + (np.log(times) / LOG_U_SD) ** 2
            costs.append(self._weigh(self._with(place, replace(rows, u=u))).cost + price)
        return float(min(costs))

    def _with(self, place: Place, rows: Rows) -> list[Rows]:
        return [rows if group == place.group else other for group, other in enumerate(self.rows)]

    def _weigh(self, rows: list[Rows]) -> Weighed:
        found = fitted(self.posterior.layout, rows, self.aside)
        weak = float(found.scales @ found.scales) / priors.LOG_SCALE_SD**2
        return Weighed(weak + improbability(found.groups), found.groups)

    def doubt(self) -> Doubt | None:
        mistakes = ((self.likeliest(*at), at) for at in self.suspected)
        weighed = [(self.mistaken(mistake, *at), mistake, at) for mistake, at in mistakes]
        best, mistake, at = min(weighed, key=lambda each: each[0].cost)
        asked = ODDS_OF_UNIT if mistake.units else ODDS
        if self.right.cost - best.cost < asked or not self._is_told_by_others(best, at[1]):
            return None
        odds = min(self.right.cost, self.scattering(*at)) - best.cost
        if odds < ODDS or not _fits(best, at[1]):
            return None
        near = sorted((each for each in weighed if each[0].cost < best.cost + NEARLY), key=lambda each: each[0].cost)
        return Doubt(tuple(other for _, other, _ in near), odds, self._put_right(best))

    def _is_told_by_others(self, best: Weighed, place: Place) -> bool:
        """Whether it is other sweeps that speak for the mistake, not only what is usual: at the same scales they
        must bear out the sweep put right far better than as it was entered."""
        put_right = best.groups[place.group]
        same = replace(put_right.reduced.rows, values=self.rows[place.group].values)
        as_entered = replace(put_right, reduced=reduce(same, self.aside[place.group]))
        return _support(put_right, place.rows) - _support(as_entered, place.rows) > ODDS

    def _put_right(self, best: Weighed) -> tuple[Floats, ...]:
        return tuple(best.groups[place.group].standardised[place.rows] for _, place in _places(self.posterior))


def _fits(best: Weighed, place: Place) -> bool:
    """Whether a sweep put right is what the others foretell: its χ² given theirs."""
    solved, others = best.groups[place.group], np.ones(best.groups[place.group].reduced.u.size, dtype=bool)
    others[place.rows] = False
    rest = _only(solved, others).chi_squared if others.any() else 0.0
    return solved.chi_squared - rest < FITS**2 * _freedom(solved.reduced.rows, place.rows)


def _shares_zero(rows: Rows, part: slice) -> bool:
    """Whether an unknown of a sweep's is one of others too."""
    elsewhere = np.ones(rows.values.size, dtype=bool)
    elsewhere[part] = False
    here = np.any(rows.free[part], axis=0) & np.any(rows.free[elsewhere], axis=0)
    return bool(np.any(here) or np.any(rows.zeros[part]))


def _support(solved: Solved, part: slice) -> float:
    """2 ln p(sweep and others) / (p(sweep) p(others)): how far the other sweeps bear a sweep out."""
    mine = np.zeros(solved.reduced.rows.values.size, dtype=bool)
    mine[part] = True
    if mine.all():
        return 0.0
    alone, others = _only(replace(solved, told=None), mine), _only(solved, ~mine)
    return alone.improbability + others.improbability - solved.improbability


def _only(solved: Solved, which: Flags) -> Solved:
    """The same scales with some of the readings (N,) bool alone. Told nothing, shared unknowns are theirs alone."""
    rows, u = solved.reduced.rows, solved.reduced.u
    free, zeros = rows.free[which], rows.zeros[which]
    if solved.told is None:
        free, zeros = np.column_stack([free, zeros]), zeros[:, :0]
    left, size, _ = np.linalg.svd(free, full_matrices=False)
    free = left[:, size > 1e-9 * max(size.max(initial=0.0), 1e-300)]
    names = (), np.ones(free.shape[1]), rows.columns
    part = Rows((), rows.values[which], u[which], rows.design[which], free, *names, zeros)
    return replace(solved, reduced=reduce(part, np.zeros(len(free), dtype=bool)))
