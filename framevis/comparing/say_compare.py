"""A comparison of two stages in words: whether the correction did what it should, and if not, what that may mean."""

from __future__ import annotations

from framevis.comparing.cause_search import Explanation
from framevis.comparing.compare import Comparison, HeldSweep
from framevis.comparing.single_causes import Cause
from framevis.frame import Frame, Sweep
from framevis.say import length, printable, small

MOST_NAMED = 6
TO_DO = {
    "left_out": "Count what is left on the bench, and look under the rail there.",
    "run_left_out": "Count what is left on the bench, and look under the rail there.",
    "nothing_done": "Were the shims fitted before these readings were taken?",
    "wrong_edge": "Look on which side of the screws they lie; left is to the left looking from the beam's start.",
    "not_pushed": "Put the indicator to the rail, slacken and push again.",
    "walked": "A rail can walk as its screws are tightened: put the indicator to it. If it was pushed on purpose, "
    "enter the push in frame.toml.",
    "moved": "Look at feet and clamps, at what was bolted to it, and whether the frame was warmer.",
    "dirt": "Take the rail up there, clean and stone the seat; dirt is a shim too. A shim that is thicker than its "
    "nominal size, or not entered, looks the same.",
}
FUNCTION_WORDS = {
    "bow_lateral": "bowed sideways",
    "bow_height": "sagged or risen",
    "twist": "twisted",
    "opening": "opened or closed",
}


def sentences(comparison: Comparison) -> list[str]:
    """All that is to be said, the main thing first."""
    return [
        headline(comparison),
        *meaning(comparison),
        *_disagreeing(comparison),
        *again(comparison),
        *_unchecked(comparison),
    ]


def headline(comparison: Comparison) -> str:
    before, after = printable(comparison.before.stage), printable(comparison.after.stage)
    agree = sum(int(sweep.agrees.sum()) for sweep in comparison.sweeps)
    total = sum(sweep.agrees.size for sweep in comparison.sweeps)
    share = f"{agree} of {total} readings of {after} agree with what is expected, where by chance about 95 % would"
    if comparison.as_expected and comparison.changed != comparison.unchecked:
        return f"The correction did what it should: {share}."
    if comparison.as_expected and comparison.changed:
        return f"Nothing speaks against the correction, but no reading of {after} looks closely enough: {share}."
    if comparison.as_expected:
        return f"Nothing was changed under the rails since {before}, and they lie as they did: {share}."
    corrected = "Not all is as it should be after the correction"
    begin = corrected if comparison.changed else f"Something changed since {before}"
    return f"{begin}: {_otherwise(comparison)} than {before} and what was done since predict ({share})."


def _otherwise(comparison: Comparison) -> str:
    """Which sweeps read otherwise."""
    off = [printable(sweep.readings.sweep.name) for sweep in comparison.sweeps if not sweep.as_expected]
    if not off:
        return "the readings, taken together, read otherwise"
    names = ", ".join(off[:MOST_NAMED]) + (" and more" if len(off) > MOST_NAMED else "")
    return f"{names} {'reads' if len(off) == 1 else 'read'} otherwise"


def meaning(comparison: Comparison) -> list[str]:
    """What may lie behind it, where not all is as expected."""
    found = comparison.explanation
    if found is None:
        return [] if comparison.as_expected else ["No single cause that was tried explains it."]
    frame = comparison.after.frame
    reads = f"It reads as if {cause_words(frame, found.cause, found)}"
    if not found.settles:
        return [
            f"No single cause that was tried explains all of it. Most of it {reads[0].lower()}{reads[1:]}.",
            TO_DO[found.cause.kind],
        ]
    rivals = "; or as if ".join(cause_words(frame, rival, None) for rival in found.rivals)
    nearly = [f"Nearly as likely: as if {rivals}."] if rivals else []
    return [f"{reads}; with that, all other readings are as expected.", *nearly, TO_DO[found.cause.kind]]


def cause_words(frame: Frame, cause: Cause, found: Explanation | None) -> str:
    """A cause as the rest of "as if …"."""
    where, size = printable(cause.where), "" if found is None else small(frame, abs(found.size))
    if cause.kind in ("left_out", "run_left_out"):
        return f"{_shims(frame, cause)} {_not_there(cause)}"
    if cause.kind == "wrong_edge":
        other = "right" if cause.part == "left" else "left"
        return f"{_shims(frame, cause)} lay under the {other} edge instead"
    if cause.kind == "nothing_done":
        return "nothing of what was to be done under the rails had been done"
    if cause.kind == "not_pushed":
        return f"{where} had not been pushed"
    if cause.kind == "reading":
        return "one reading were wrong"
    if cause.kind == "dirt":
        part = "the rail" if cause.part == "full" else f"the {cause.part} edge of the rail"
        about = f" of about {size}" if size else ""
        return f"something{about} lay under {part} {where} at screw {cause.first} (dirt or a burr)"
    if cause.kind == "walked":
        return f"the rail {where} had moved sideways{_by(frame, found, ('to the left', 'to the right'))}"
    changed = FUNCTION_WORDS[str(cause.function)]
    return f"the beam {where} had {changed}{_by(frame, found, ('', ''))}"


def _by(frame: Frame, found: Explanation | None, sides: tuple[str, str]) -> str:
    if found is None:
        return ""
    angle = found.cause.function in ("twist", "opening")
    size = f"{abs(found.size):.2f} mrad" if angle else small(frame, abs(found.size))
    side = sides[0] if found.size > 0.0 else sides[1]
    return f" by about {size}{f' {side}' if side else ''}, most at {length(frame, found.station_mm)}"


def _shims(frame: Frame, cause: Cause) -> str:
    """The shims of a cause, by size and place: "the 20 µm under left_outer@24/right"."""
    thick = [abs(um) for um in cause.change_um]
    sizes = small(frame, thick[0]) if min(thick) == max(thick) else _from_to(frame, min(thick), max(thick))
    if cause.first == cause.last:
        return f"the {sizes} under {printable(cause.where)}@{cause.first}/{cause.part}"
    edge = "the whole width" if cause.part == "full" else f"{cause.part} edge"
    to = "and" if cause.last == cause.first + 1 else "to"
    return f"the {sizes} under {printable(cause.where)}, {edge}, screws {cause.first} {to} {cause.last}"


def _from_to(frame: Frame, low: float, high: float) -> str:
    return f"{small(frame, low).split(' ')[0]} to {small(frame, high)}"


def _not_there(cause: Cause) -> str:
    taken_out = all(um < 0.0 for um in cause.change_um)
    return "were still there" if taken_out else "weren't there"


def _disagreeing(comparison: Comparison) -> list[str]:
    """The worst reading of each sweep that disagrees, at most `MOST_NAMED`."""
    off = [sweep for sweep in comparison.sweeps if not sweep.as_expected]
    off.sort(key=lambda sweep: sweep.fit.p)
    frame = comparison.after.frame
    return [f"{printable(sweep.readings.sweep.name)} {off_by(frame, sweep, sweep.worst)}" for sweep in off[:MOST_NAMED]]


def again(comparison: Comparison) -> list[str]:
    """Readings that nothing explains, where the rest is explained: to be taken again."""
    if not comparison.as_expected and not (comparison.explanation and comparison.explanation.settles):
        return []
    frame, found = comparison.after.frame, []
    for sweep in comparison.sweeps:
        for i in (int(i) for i in sweep.odd.nonzero()[0]):
            name = printable(sweep.readings.sweep.name)
            line = f"(line {sweep.readings.line[i]})"
            found.append(f"{name} {line} {off_by(frame, sweep, i)} Nothing explains it: measure it again.")
    more = [f"{len(found) - MOST_NAMED} more such readings are in the JSON."] if len(found) > MOST_NAMED else []
    return found[:MOST_NAMED] + more


def off_by(frame: Frame, sweep: HeldSweep, i: int) -> str:
    """One reading against what was expected."""
    station = length(frame, float(sweep.readings.station_mm[i]))
    difference = float(sweep.readings.values[i] - sweep.expected[i])
    way = "more" if difference > 0.0 else "less"
    size, u = (amount(frame, sweep.readings.sweep, abs(each)) for each in (difference, float(sweep.u[i])))
    times = f"{abs(float(sweep.standardised[i])):.1f} standard uncertainties"
    return f"reads {size} {way} than expected at {station} (± {u}; {times})."


def amount(frame: Frame, sweep: Sweep, value: float) -> str:
    """A reading or a difference of readings with its unit."""
    return f"{value:.2f} mrad" if sweep.is_angle else small(frame, value)


def _unchecked(comparison: Comparison) -> list[str]:
    after = printable(comparison.after.stage)
    said = [
        f"No reading of {after} shows closely enough whether what was to be done under {printable(name)} was done."
        for name in comparison.unchecked
    ]
    if comparison.on_blocks:
        said.append("Readings of rails don't see shims at blocks: the verdicts reckon with them as they were entered.")
    return said
