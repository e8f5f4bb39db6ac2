"""Pull force in words: whether the pull follows the prediction, and where it says that the frame is not the cause.

Takes a study and its pull sweeps held against it; gives plain sentences for the person at the machine.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from framevis.frame import Floats, Frame
from framevis.pulls.pull import Compared, Held, bare_drag
from framevis.pulls.pull_period import can_show, pitches, sine_at, spacing
from framevis.say import length, printable
from framevis.study import Study
from framevis.units import GRAVITY_M_PER_S2, N_PER_UNIT

CHANCE = 0.01  # below it, a difference is no scatter
FOLLOWS = 0.7  # correlation from which the pull rises and falls where predicted
WORTH = 0.1  # share of the drag below which a difference is not worth a word
NEARLY = 1.1  # factor within which a variation counts as the predicted one
EVENLY = 0.25  # scatter about a mean difference, as a share of it, up to which it stands all along
OF_ITSELF = 1.25  # times what seals and preload should take: then the block itself is dragging
STICKS = 2.0  # breakaway / running force
ELSEWHERE = "seals, grease, preload, friction or a cable, not the frame"


def force(frame: Frame, n: float) -> str:
    """A force in N, in lbf where the frame is in inches."""
    return f"{n:.1f} N" if frame.length_unit == "mm" else f"{n / N_PER_UNIT['lbf']:.2f} lbf"


def says(study: Study, held: Held) -> list[str]:
    """All that a pull sweep says, the comparison first."""
    told = [*_comparison(study.frame, held), *_bare_blocks(study.frame, held), *_periods(study.frame, held)]
    return [*told, *_ways(study.frame, held), *_breakaway(study.frame, held), *_coupled(study.frame, held)]


def _between(frame: Frame, values: Floats) -> str:
    low, high = force(frame, float(values.min())), force(frame, float(values.max()))
    return low if low == high else f"{low.split(' ')[0]} to {high}"


def _comparison(frame: Frame, held: Held) -> Iterator[str]:
    compared = held.compared
    if compared is None:
        yield "too few running forces to hold against the prediction: pull at three stations or more, best each 100 mm"
        return
    if np.ptp(compared.predicted) > max(4.0 * float(np.median(compared.u)), WORTH * compared.predicted.mean()):
        yield _where_it_varies(frame, compared) + _wrong_unit(compared)
    else:
        yield _where_it_is_even(frame, compared) + _wrong_unit(compared)


def _is_high(compared: Compared) -> bool:
    return compared.level > max(2.0 * compared.u_level, WORTH * float(compared.predicted.mean()))


def _is_low(compared: Compared) -> bool:
    return -compared.level > max(2.0 * compared.u_level, WORTH * float(compared.predicted.mean()))


def _where_it_varies(frame: Frame, compared: Compared) -> str:
    """The frame is predicted to make the drag vary along the travel."""
    r = compared.correlation or 0.0
    fits = compared.p_shape > CHANCE
    even = compared.p_even > CHANCE or compared.found.std() < 0.2 * compared.predicted.std()
    if even and not fits:
        return _even_against(frame, compared)
    if r >= FOLLOWS and (fits or compared.residual.std() < EVENLY * abs(compared.level)):
        return f"the pull {_follows(frame, compared, f'r {r:.2f}')}"
    if r >= FOLLOWS and not 1.0 / NEARLY <= compared.gain <= NEARLY:
        return (
            f"the pull rises and falls where the frame makes it (r {r:.2f}), but {compared.gain:.2f} times as much as "
            "predicted: friction or the seats differ from what is entered (--calibrated fits them)"
        )
    if r >= FOLLOWS:
        rms = force(frame, compared.rms)
        return f"the pull follows the prediction roughly: r {r:.2f}, within {rms} (rms), {_worst(frame, compared)}"
    if fits:
        return f"the pull agrees with the prediction within the uncertainty of both (rms {force(frame, compared.rms)})"
    return f"the pull does not follow the prediction (r {r:.2f}): {_worst(frame, compared)}; {_look_there()}"


def _follows(frame: Frame, compared: Compared, r: str) -> str:
    by = force(frame, abs(compared.level))
    if _is_high(compared):
        return f"follows the prediction along the travel ({r}) but is higher by {by} all along: {ELSEWHERE}"
    if _is_low(compared):
        lighter = "seals or friction are lighter than entered"
        return f"follows the prediction along the travel ({r}) but is lower by {by} all along: {lighter}"
    return f"follows the prediction: {r}, within {force(frame, compared.rms)}"


def _even_against(frame: Frame, compared: Compared) -> str:
    middle, half = float(compared.found.mean()), float(np.ptp(compared.found)) / 2.0
    even = f"the pull is even along the travel ({force(frame, middle).split(' ')[0]} ± {force(frame, half)})"
    against = f"{even} where the frame predicts {_between(frame, compared.predicted)}"
    if _is_high(compared):
        return f"{against}, and high everywhere alike: what holds the carriage is {ELSEWHERE}"
    return (
        f"{against}: the frame's bends don't reach the blocks as predicted: seats softer than entered, blocks that "
        "have settled (bolted_at), or a sweep of the rails read wrongly"
    )


def _where_it_is_even(frame: Frame, compared: Compared) -> str:
    """The frame is predicted to leave the drag even along the travel."""
    predicted = force(frame, float(compared.predicted.mean()))
    mean, by = force(frame, float(compared.found.mean())), force(frame, abs(compared.level))
    if compared.p_shape <= CHANCE and compared.p_even <= CHANCE:
        varies = f"the pull varies from {_between(frame, compared.found)} where the frame predicts an even {predicted}"
        return f"{varies}: {_worst(frame, compared)}; {_look_there()}"
    even = "the pull is even along the travel"
    if _is_high(compared):
        return f"{even} and higher than predicted by {by} ({mean}, not {predicted}): {ELSEWHERE}"
    if _is_low(compared):
        return f"{even} and lower than predicted by {by} ({mean}, not {predicted})"
    return f"{even}, as predicted: {mean}, predicted {predicted}"


def _worst(frame: Frame, compared: Compared) -> str:
    at = int(np.argmax(np.abs(compared.standardised)))
    found, predicted = force(frame, float(compared.found[at])), force(frame, float(compared.predicted[at]))
    return f"farthest off at {length(frame, float(compared.station_mm[at]))}, {found} where {predicted} is predicted"


def _look_there() -> str:
    return "look there for a burr, dirt, a damaged ball or a cable, and measure the rails there again"


def _wrong_unit(compared: Compared) -> str:
    """A pull that is off by just the size of a unit."""
    predicted = float(compared.predicted.mean())
    ratio = float(compared.found.mean()) / predicted if predicted > 0.0 else 1.0
    for unit in ("kgf", "lbf"):
        for factor in (N_PER_UNIT[unit], 1.0 / N_PER_UNIT[unit]):
            if abs(np.log(max(ratio, 1e-9) / factor)) < 0.1:
                return f" ({ratio:.2g} times as predicted, the size of a {unit} in N: is the column's unit right?)"
    return ""


def _bare_blocks(frame: Frame, held: Held) -> Iterator[str]:
    """Each block alone on the bare rail, against its seals and preload."""
    pull, blocks = held.readings.pull, held.mechanism.carriage.blocks
    should = bare_drag(held.mechanism)
    given = [(i, value) for i, value in enumerate(pull.bare_block_n) if value is not None]
    for i, value in given:
        if value - should[i] > 2.0 * pull.u_n and value > OF_ITSELF * should[i]:
            takes = f"{printable(blocks[i].name)} alone on the bare rail takes {force(frame, value)}"
            expected = f"where seals and preload should take {force(frame, should[i])}"
            yield f"{takes} {expected}: the block itself (seals, grease, preload), not the frame"
    light = [(i, value) for i, value in given if should[i] - value > 2.0 * pull.u_n and value < should[i] / OF_ITSELF]
    if light:
        names = ", ".join(printable(blocks[i].name) for i, _ in light)
        takes = _between(frame, np.array([value for _, value in light]))
        entered = _between(frame, np.array([should[i] for i, _ in light]))
        too_high = "friction, seal drag or preload is entered too high"
        yield f"alone on the bare rail, {names} take {takes} where {entered} is expected: {too_high}"
    compared, more = held.compared, sum(value for _, value in given) - float(should.sum())
    if more > 0.0 and len(given) == len(blocks) and compared is not None and _is_high(compared):
        of = force(frame, compared.level)
        yield f"of the {of} more than predicted, the blocks alone on the bare rail account for {force(frame, more)}"


def _periods(frame: Frame, held: Held) -> Iterator[str]:
    """Whether the pull comes and goes with the rails' screws, or the stations are too far apart to tell."""
    compared = held.compared
    if compared is None:
        return
    for pitch in pitches(held):
        if not can_show(compared, pitch):
            apart, near = length(frame, spacing(compared)), length(frame, pitch / 4.0)
            yield (
                f"stations {apart} apart can't show a period of the screw pitch ({length(frame, pitch)}): to see one, "
                f"pull along some screws each {near}"
            )
        elif (sine := sine_at(compared, pitch)).is_there:
            yield (
                f"the pull comes and goes by ± {force(frame, sine.amplitude)} each {length(frame, pitch)}, the screw "
                "pitch: the rail is drawn down at its screws (burrs, dirt or torque), not the frame's shape"
            )


def _ways(frame: Frame, held: Held) -> Iterator[str]:
    taken, compared = held.taken, held.compared
    both = np.isfinite(taken.uneven)
    if compared is None:
        return
    if not both.any():
        yield "pulled one way only: a slope or a cable can't be told from drag; pull both ways"
        return
    half = float(taken.uneven[both].mean())
    u = held.readings.pull.u_n / np.sqrt(2.0 * np.count_nonzero(both))
    if abs(half) <= max(3.0 * u, WORTH * float(compared.found.mean())):
        return
    carriage = held.mechanism.carriage
    weight = (carriage.mass_kg + carriage.payload_kg) * GRAVITY_M_PER_S2
    slope = f", or a slope of {1000.0 * abs(half) / weight:.1f} mm/m" if weight > 0.0 else ", or a slope"
    way = "higher" if half > 0.0 else "lower"
    more = force(frame, 2.0 * abs(half))
    yield f"pulling toward {way} stations takes {more} more than back: a cable, a scale out of line{slope}"


def _breakaway(frame: Frame, held: Held) -> Iterator[str]:
    taken = held.taken
    pairs = ((taken.breakaway, taken.running), (taken.breakaway_back, taken.running_back))
    first = np.concatenate([breakaway for breakaway, _ in pairs])
    then = np.concatenate([running for _, running in pairs])
    both = np.isfinite(first) & np.isfinite(then)
    if not both.any():
        return
    breakaway, running = float(first[both].mean()), float(then[both].mean())
    told = f"breakaway {force(frame, breakaway)} in the mean, running {force(frame, running)}"
    u = held.readings.pull.u_n * np.sqrt(2.0 / np.count_nonzero(both))
    if running - breakaway > 3.0 * u:
        yield f"{told}: breakaway can't be the lower one, are the columns swapped?"
    elif breakaway > STICKS * running:
        yield f"{told}: it sticks before it moves, as seals and grease do that have stood"
    else:
        yield told


def _coupled(frame: Frame, held: Held) -> Iterator[str]:
    name = held.mechanism.carriage.name
    for beam in frame.beams:
        others = [printable(other) for other in beam.carried_by if other != name]
        if name in beam.carried_by and others:
            uncouple = f"uncouple {printable(beam.name)} from {' and '.join(others)} to pull it"
            yield f"predicted for carriage {printable(name)} alone: {uncouple}"
