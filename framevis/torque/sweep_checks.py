"""How the sweeps of a stage were run: do they fit each other, do they close, were they taken at one temperature.

Takes a study, gives checks.
"""

from __future__ import annotations

import numpy as np

from framevis.frame import Beam, Frame, Rail, SweepReadings
from framevis.say import length, printable, small, suspects
from framevis.study import Study
from framevis.torque.check import Check, few
from framevis.torque.closure import Closure, closure_of
from framevis.torque.warmth import REFERENCE_C, length_um_per_k, warmth_of

ALIKE_PER_K = 0.5e-6  # expansions that differ by less: the same material
GOOD_UM, BAD_UM = 10.0, 20.0  # what temperature may bring between two sweeps: as much as a good, a bad run


def suspicion(study: Study) -> Check:
    title = "suspect readings resolved"
    number = sum(int(np.count_nonzero(checked.suspect)) for checked in study.posterior.checked)
    said = suspects(study)
    if number or study.doubt is not None:
        return Check(title, "failed", "; ".join(said))
    return Check(title, "passed", "; ".join(["every reading fits the others", *said]))


def closures(study: Study) -> list[Check]:
    """One check a sweep that came back; one for all indicators and bridges that did not."""
    checks, one_way = [], []
    for readings in study.readings.sweeps:
        closure = closure_of(readings)
        if closure is not None:
            checks.append(_closure(study, closure))
        elif readings.sweep.kind in ("indicator", "bridge"):
            one_way.append(printable(readings.sweep.name))
    if one_way:
        says = f"one way only, so a drift would not show: {few(one_way)}"
        checks.append(Check("out and back", "not measured", says))
    return checks


def _closure(study: Study, closure: Closure) -> Check:
    readings, worst, count = closure.readings, closure.worst, closure.station_mm.size

    def shown(value: float, signed: bool = False) -> str:
        if readings.sweep.is_angle:
            return f"{value:{'+' if signed else ''}.3f} mrad"
        return _change(study.frame, value) if signed else small(study.frame, value)

    size = abs(float(closure.difference[worst]))
    at = length(study.frame, float(closure.station_mm[worst]))
    says = (
        f"{printable(readings.sweep.name)}: {count} station{'s' if count > 1 else ''} read again, mean difference "
        f"{shown(closure.mean, True)}, largest {shown(size)} at {at}"
    )
    if closure.drift is not None:
        says += f", drift {shown(closure.drift, True)} back at the first station"
    if size > closure.bad:
        return Check("out and back", "failed", f"{says}: more than {shown(closure.bad)}, a bad run: take it again")
    if size > closure.good:
        says += f": between {shown(closure.good)} and {shown(closure.bad)}, as much as a run may show"
    return Check("out and back", "passed", says)


def temperatures(study: Study) -> list[Check]:
    """One check a beam with rails of which temperatures are noted; one for all others together."""
    checks, unknown = [], []
    for beam in study.frame.beams:
        rails = tuple(rail for rail in study.frame.rails if rail.beam.name == beam.name)
        seen = [readings for readings in study.readings.sweeps if _looks_at(readings, beam)]
        noted = [readings.temperature_c for readings in seen if readings.temperature_c is not None]
        if not rails:
            continue
        if all(abs(length_um_per_k(rail)) < 1e6 * ALIKE_PER_K * beam.length_mm / 1000.0 for rail in rails):
            says = f"beam {printable(beam.name)} and its rails grow alike"
            checks.append(Check("temperature", "passed", says))
        elif not noted or (len(noted) == 1 and len(seen) > 1):
            unknown.append(printable(beam.name))
        else:
            checks.append(_temperature(study, beam, rails, noted, len(seen)))
    if unknown:
        says = f"noted in fewer than two sweeps (column temperature_c) on beam {', '.join(unknown)}"
        checks.append(Check("temperature", "not measured", says))
    return checks


def _looks_at(readings: SweepReadings, beam: Beam) -> bool:
    sweep = readings.sweep
    edges = [edge.rail for edge in (*sweep.touches, sweep.feeler_at) if edge is not None]
    on = {rail.beam.name for rail in (*sweep.rails, *edges)}
    return beam.name in on or (sweep.beam is not None and sweep.beam.name == beam.name)


def _temperature(study: Study, beam: Beam, rails: tuple[Rail, ...], noted: list[float], sweeps: int) -> Check:
    """What the spread of the sweeps' temperatures brings between two of them: the beam outgrows its rails."""
    frame, low, high = study.frame, min(noted), max(noted)
    rail = max(rails, key=lambda each: abs(length_um_per_k(each)))
    per_k = length_um_per_k(rail)
    between, whole = abs(per_k) * (high - low), per_k * (float(np.mean(noted)) - REFERENCE_C)
    bow = warmth_of(beam, rails).bow_um * (high - low)
    way = "longer" if whole > 0.0 else "shorter"
    says = (
        f"beam {printable(beam.name)}: {low:.1f} to {high:.1f} °C over {len(noted)} of {sweeps} sweeps; between these "
        f"it and rail {printable(rail.name)} differ by {small(frame, between)} in length, which bows the beam by up to "
        f"{small(frame, bow)} where no screw slips. Against {REFERENCE_C:.0f} °C the beam is "
        f"{small(frame, abs(whole))} {way} than the rail, half of it at each end{_clearance(study, rail, whole)}"
    )
    if between > BAD_UM:
        todo = f"more than {small(frame, BAD_UM)}: the sweeps saw different shapes, take them again at one temperature"
        return Check("temperature", "failed", f"{says}: {todo}")
    if between > GOOD_UM:
        says += f": between {small(frame, GOOD_UM)} and {small(frame, BAD_UM)}, as much as it may be"
    return Check("temperature", "passed", says)


def _clearance(study: Study, rail: Rail, whole_um: float) -> str:
    """What the play of the screws in their holes takes of it, if that is known."""
    play = rail.guide.screw_clearance_um
    if play <= 0.0:
        return ""
    verb = "takes it" if abs(whole_um) / 2.0 <= play else "doesn't take it"
    return f"; the screws' clearance of {small(study.frame, play)} {verb}"


def _change(frame: Frame, um: float) -> str:
    """A signed difference, without a sign where nothing is left of it."""
    text = small(frame, um, signed=True).replace("-", "−")
    return text[1:] if not text[1:].split(" ")[0].strip("0.") else text
