"""A study in words: sentences for the person at the machine. Takes a study, gives plain strings.

Lengths come in the frame's own unit: mm and µm, or inch and thou.
"""

from __future__ import annotations

import numpy as np

from framevis.advice import next_reading
from framevis.curves import never_measured
from framevis.deviations import Cause
from framevis.estimate import NORMAL_MEDIAN, SUSPECT, Checked
from framevis.explain import Doubt, Reason, spans
from framevis.frame import Flags, Floats, Frame
from framevis.mistaken import Mistake
from framevis.study import Study
from framevis.units import UM_PER_UNIT
from framevis.verdicts import BlockAssessment, CarriageAssessment

CAUTION = (
    "Caution: power off and locked out; gravity stays: block a vertical axis, never free all blocks at once; "
    "limits and torques are the maker's, lifting and guarding for qualified people and local rules."
)
MOST_NAMED = 10
MOST_RESIDUAL = 1e-6  # N or N·mm
CAUSE_WORDS: dict[Cause, str] = {
    "bow": "bow",
    "twist": "twist",
    "opening": "opening",
    "own": "the rail's own",
    "shims": "shims",
}


def length(frame: Frame, mm: float) -> str:
    """A station or size in the frame's own unit."""
    return f"{mm:.0f} mm" if frame.length_unit == "mm" else f"{mm / 25.4:.2f} in"


def small(frame: Frame, um: float, signed: bool = False) -> str:
    """A deviation in µm or thou."""
    plus = "+" if signed else ""
    if frame.length_unit == "mm":
        return f"{um:{plus}.0f} µm"
    return f"{um / UM_PER_UNIT['thou']:{plus}.1f} thou"


def thickness(frame: Frame, um: float) -> str:
    """A shim's thickness as it is printed on it: µm, or thou."""
    return f"{um:g} µm" if frame.length_unit == "mm" else f"{um / UM_PER_UNIT['thou']:.3g} thou"


def printable(name: str) -> str:
    """A name from a file, with what could disturb a terminal escaped."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in name)


def headline(study: Study, carriage: CarriageAssessment) -> str:
    """One sentence: how many blocks bind or run tight, and where along the travel."""
    frame, total = study.frame, len(carriage.blocks)
    counts = {
        verdict: sum(block.verdict == verdict for block in carriage.blocks)
        for verdict in ("binding", "tight", "unsure", "free")
    }
    worst = next((verdict for verdict in ("binding", "tight", "unsure") if counts[verdict]), None)
    if worst is None:
        return "all blocks run free." if total > 1 else "its block runs free."
    verb = {"binding": "bind", "tight": "run tight", "unsure": "can't be judged yet"}[worst]
    if counts[worst] == 1 and worst != "unsure":
        verb = {"binding": "binds", "tight": "runs tight"}[worst]
    return f"{counts[worst]} of {total} blocks {verb}{_where(frame, carriage, worst, study)}."


def _where(frame: Frame, carriage: CarriageAssessment, worst: str, study: Study) -> str:
    if worst == "unsure":
        return ": the readings leave it open"
    limits = study.frame.limits
    limit = limits.binding_drag_ratio if worst == "binding" else limits.tight_drag_ratio
    ratio = np.max([block.drag_ratio for block in carriage.blocks], axis=0)
    unsafe = np.min([block.static_safety for block in carriage.blocks], axis=0) < limits.static_safety
    low, high = carriage.carriage.travel_mm
    found = spans(carriage.stations_mm, (ratio >= limit) | (unsafe & (worst == "binding")))
    if not found:
        return " in most of the likely cases"
    if found == [(low, high)]:
        return " all along the travel"
    easy = spans(carriage.stations_mm, (ratio < limits.tight_drag_ratio) & ~unsafe)
    if len(found) > 2 or len(easy) > 2:
        whole = found[0][0] <= low and found[-1][1] >= high
        return f" in places {'all along' if whole else _stretch(frame, found[0][0], found[-1][1], low, high)}"
    free = " and ".join(_stretch(frame, a, b, low, high) for a, b in easy)
    return f" {' and '.join(_stretch(frame, a, b, low, high) for a, b in found)}" + (f"; free {free}" if free else "")


def _stretch(frame: Frame, a: float, b: float, low: float, high: float) -> str:
    if a <= low:
        return f"up to {length(frame, b)}"
    if b >= high:
        return f"beyond {length(frame, a)}"
    return f"from {length(frame, a)} to {length(frame, b)}"


def suffers(study: Study, why: Reason) -> str:
    """What a block suffers from, in words and numbers, and which cause brings how much."""
    frame = study.frame
    if why.overloaded is not None:
        return (
            f"overloaded rather than out of line: static safety {why.overloaded:.1f} where "
            f"{frame.limits.static_safety:g} is asked for, worst at {length(frame, why.position_mm)}"
        )
    if why.doubt is not None:
        return f"{_doubtful(frame, why.doubt)}, most likely {_complaint(frame, why)}"
    return f"{_complaint(frame, why)}, worst at {length(frame, why.position_mm)}{_by_cause(frame, why)}{_opening(why)}"


SETTLED_BY = {
    "lateral": "the rails' spacing by a bridge with absolute = true, or bolted_at in the frame, settles it",
    "height": "a bridge in height or a level across the rails settles it",
    "roll": "a level across each rail and across the pair, with one instrument, settles it",
    "pitch": "more stations in height settle it",
    "yaw": "more stations sideways settle it",
}


def _doubtful(frame: Frame, doubt: Doubt) -> str:
    """What the readings leave open, where the likeliest case alone would not give the verdict."""
    lengths = doubt.component in ("lateral", "height")
    u = small(frame, doubt.u) if lengths else f"{doubt.u:.2f} mrad"
    return f"left open by the readings: {doubt.component} known only to ± {u} ({SETTLED_BY[doubt.component]})"


def _complaint(frame: Frame, why: Reason) -> str:
    pair = f"{printable(why.pair.name)}" if why.pair is not None else ""
    if why.component == "roll":
        width = f"{small(frame, why.across_um)} across the block's width"
        if why.pair is not None:
            return f"rolled {abs(why.relative):.1f} mrad against its pair {pair}: {width}"
        return f"rolled {abs(why.misfit):.1f} mrad against its rail: {width}"
    if why.component == "lateral":
        side = "left" if why.misfit > 0 else "right"
        rails = f"; the rails' spacing is off by {small(frame, abs(why.relative))} there" if pair else ""
        return f"pushed {small(frame, abs(why.misfit))} to the {side} on its rail{rails}"
    if why.component == "height":
        sense = "lifted off" if why.misfit > 0 else "pressed onto"
        return f"{sense} its rail by {small(frame, abs(why.misfit))}: the seats don't lie in one plane"
    pitched = "pitched far end down" if why.misfit > 0 else "pitched far end up"
    word = pitched if why.component == "pitch" else f"skewed to the {'left' if why.misfit > 0 else 'right'}"
    along = f"{small(frame, abs(why.misfit) * why.block.rail.guide.block_length_mm)} along the block's length"
    return f"{word} by {abs(why.misfit):.2f} mrad on its rail: {along}"


def _by_cause(frame: Frame, why: Reason) -> str:
    """Shares in order of size, those under 5 % of the whole left out."""
    angle = why.component in ("roll", "pitch", "yaw")
    whole = sum(abs(value) for value in why.shares.values())
    told = sorted(why.shares.items(), key=lambda item: -abs(item[1]))
    parts = [
        f"{CAUSE_WORDS[cause]} {value:+.2f} mrad" if angle else f"{CAUSE_WORDS[cause]} {small(frame, value, True)}"
        for cause, value in told
        if abs(value) > max(0.05 * whole, 0.005 if angle else 0.5)
    ]
    return f" ({', '.join(parts).replace('-', '−')})" if parts else ""


def _opening(why: Reason) -> str:
    biggest = max(why.shares, key=lambda cause: abs(why.shares[cause]))
    if biggest != "opening" or abs(why.opening_mrad) < 0.05:
        return ""
    way = "opened" if why.opening_mrad > 0 else "closed"
    beam = printable(why.block.rail.beam.name)
    return f"; {beam} beam's channel has {way} {abs(why.opening_mrad):.1f} mrad under the block"


def next_step(study: Study, carriage: CarriageAssessment, block: BlockAssessment) -> str:
    """Which reading would settle an unsure block."""
    best = next_reading(study, carriage, block)
    if best is None:
        return "no reading of the frame's sweeps would tell more: a finer instrument or another kind of sweep would"
    where = "" if best.station_mm is None else f" again at {length(study.frame, best.station_mm)}"
    names = " and ".join(printable(sweep.name) for sweep in best.sweeps)
    return f"next reading: {names}{where} (uncertainty −{100 * best.gain:.0f} %)"


def mistaken(study: Study) -> list[str]:
    """The sweep that reads as if it had been entered with the wrong sign or in the wrong unit."""
    if study.doubt is None:
        return []
    first, *others = study.doubt.mistakes
    told = f"{printable(first.sweep.name)} reads as if {_as_if(study.frame, first)}"
    less = "".join(f"; or else {printable(each.sweep.name)} as if {_as_if(study.frame, each)}" for each in others)
    return [f"{told}: so the other sweeps say{less}. {_to_do(first)}; until then its verdicts can't be relied on"]


UNIT_WORDS = {"um": "µm", "in_per_ft": "in/ft", "mrad": "mrad (mm/m)"}


def _as_if(frame: Frame, mistake: Mistake) -> str:
    if not mistake.units:
        return "its sign were turned round"
    usual = ("um", "mm", "mrad") if frame.length_unit == "mm" else ("thou", "in", "mrad")
    pairs = sorted(mistake.units, key=lambda pair: usual.index(pair[1]) if pair[1] in usual else len(usual))
    (read, entered), *more = [tuple(UNIT_WORDS.get(unit, unit) for unit in pair) for pair in pairs[:2]]
    other = "".join(f", or {a} as {b}" for a, b in more)
    return f"{read} had been entered as {entered}{other} (times {mistake.factor:.4g})"


def _to_do(mistake: Mistake) -> str:
    if mistake.units:
        return "Compare what was read with the heading of its column, and correct the heading"
    settle = "lifting one foot of the level" if mistake.sweep.is_angle else "touching the stylus"
    return f"Settle it by {settle}, then {'set' if mistake.sweep.sign > 0.0 else 'take out'} sign = -1"


def suspects(study: Study) -> list[str]:
    """A mistaken sweep; sweeps whose stated u is too small; each reading that doesn't fit, the worst first, at most
    `MOST_NAMED`. What would fit if the mistaken sweep were put right is left out."""
    found: list[tuple[float, str]] = []
    scattered: list[str] = []
    for checked, standardised, suspect in _held(study):
        found += [_suspect(study.frame, checked, int(i)) for i in np.flatnonzero(suspect)]
        scatter = float(np.median(np.abs(standardised))) / NORMAL_MEDIAN
        if standardised.size >= 8 and scatter > 1.7:
            name = printable(checked.readings.sweep.name)
            scattered.append(f"{name} scatters about {scatter:.1f} times as much as its u says: state a larger u")
    named = [text for _, text in sorted(found, reverse=True)]
    more = [f"and {len(named) - MOST_NAMED} more (all in the JSON)"] if len(named) > MOST_NAMED else []
    return mistaken(study) + scattered + named[:MOST_NAMED] + more


def _held(study: Study) -> list[tuple[Checked, Floats, Flags]]:
    """Every sweep with its standardised residuals and suspects (N,), as they are or would be without a mistake."""
    held = study.posterior.checked
    if study.doubt is None:
        return [(checked, checked.standardised, checked.suspect) for checked in held]
    put_right = zip(held, study.doubt.standardised, strict=True)
    return [(checked, each, checked.suspect & (np.abs(each) > SUSPECT)) for checked, each in put_right]


def _suspect(frame: Frame, checked: Checked, i: int) -> tuple[float, str]:
    """How far off a reading is, and the sentence that names it."""
    readings, off = checked.readings, abs(float(checked.standardised[i]))
    value = float(readings.values[i])
    shown = f"{value:.3g} mrad" if readings.sweep.is_angle else small(frame, value)
    if readings.sweep.kind == "mouth" and frame.length_unit == "mm":
        shown = f"{value / 1000.0:.3f} mm"
    place = f"{printable(readings.sweep.name)} at {length(frame, float(readings.station_mm[i]))}"
    done = "set aside, measure it again" if checked.aside[i] else "measure it again"
    far = f"{shown} is {off:.1f} standard deviations from what the other readings say"
    return off, f"{place} (line {readings.line[i]}): {far}: {done}"


def unmeasured(study: Study) -> list[str]:
    """What no reading has looked at."""
    missing = never_measured(study)
    taken = {readings.sweep.name for readings in study.readings.sweeps}
    taken |= {readings.pull.name for readings in study.readings.pulls}
    names = [sweep.name for sweep in study.frame.sweeps] + [pull.name for pull in study.frame.pulls]
    return [
        f"not measured: {printable(what)} (only an ordinary extrusion's tolerance is assumed)" for what in missing
    ] + [f"sweep {printable(name)} was not taken in this stage" for name in names if name not in taken]


def unsure(study: Study) -> list[str]:
    return [
        f"{printable(carriage.name)}/{printable(block.name)} is unsure: {next_step(study, carriage, block)}"
        for carriage in study.carriages
        for block in carriage.blocks
        if block.verdict == "unsure"
    ]


def unsolved(study: Study) -> list[str]:
    """Carriages for which the equilibrium of some state was not found."""
    return [
        f"carriage {printable(carriage.name)}: no equilibrium found for some states (residual "
        f"{carriage.worst_residual:.2g} N or N·mm): don't rely on its numbers, check the guide's dimensions"
        for carriage in study.carriages
        if carriage.worst_residual > MOST_RESIDUAL
    ]


def warnings(study: Study) -> list[str]:
    """All that should be known beside the numbers, a sentence each."""
    doors = [printable(text) for text in (*study.frame.warnings, *study.readings.warnings)]
    wrong = mistaken(study)
    named = wrong + [f"suspect reading: {text}" for text in suspects(study)[len(wrong) :]]
    return [*unsolved(study), *doors, *named, *unmeasured(study), *unsure(study), CAUTION]
