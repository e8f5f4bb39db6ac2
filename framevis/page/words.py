"""What the page says in plain sentences: verdicts, what was not measured, how the numbers were made, cautions.

Takes studies of one frame's stages, gives HTML; every name from a file is escaped.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from pathlib import Path

from framevis.assumptions import SIDES, assumptions
from framevis.explain import reason
from framevis.page.embed import text
from framevis.page.marks import badge
from framevis.say import CAUSE_WORDS, headline, next_step, suffers, suspects, unmeasured, unsolved
from framevis.study import Study
from framevis.verdicts import CarriageAssessment, Verdict

ORDER: tuple[Verdict, ...] = ("binding", "tight", "unsure", "free")

CAUTIONS = (
    "Power off and locked out, and gravity is still there: block or pin a vertical axis and a heavy gantry.",
    "Never free all of a carriage's blocks at once; one end held alone droops and abuses the blocks.",
    "Pinch points at stops and racks; a motor pushed by hand generates.",
    "Thin shim cuts.",
    "Don't pull a block off its rail without its keeper.",
    "Loads overhead, lifting and guarding belong to qualified people and local rules.",
    "Limits and torques belong to the maker's data.",
)

METHODS = (
    "Each bow, twist, opening and each rail's own shape is a cubic B-spline with a bending-energy prior, whose mean is "
    "a smoothing spline (Wahba 1978); the prior widths are scaled by maximum marginal likelihood.",
    "Readings more than 3.5 standard deviations from what the others say are set aside and named.",
    "Contact of every ball: Hertz with exact elliptic integrals (Johnson, Contact Mechanics, ch. 4; Harris, Rolling "
    "Bearing Analysis, ch. 6), steel 206 GPa, ν = 0.3; static limit 4200 MPa (ISO 76, ISO 14728-2).",
    "Carriage: a rigid plate in equilibrium on all its balls, seats in series where their stiffness is given.",
    "Straightness by three reference lines (ISO 230-1, ISO 12780-1). A block is called free when no more than 5 % of "
    "the cases are tight: the guard band in the sense of ISO 14253-1.",
)


def bullets(items: Iterable[str]) -> str:
    return f"<ul>{''.join(f'<li>{item}</li>' for item in items)}</ul>"


def worst_of(carriage: CarriageAssessment) -> Verdict:
    return next(verdict for verdict in ORDER if any(b.verdict == verdict for b in carriage.blocks))


def verdict_cards(studies: Sequence[Study]) -> str:
    """For each stage: one sentence a carriage, and what the blocks that aren't free suffer from."""
    return "".join(
        f'<article class="card"><h3>{text(study.stage)}</h3>'
        f"{''.join(_verdict(study, carriage) for carriage in study.carriages)}</article>"
        for study in studies
    )


def _verdict(study: Study, carriage: CarriageAssessment) -> str:
    worst = worst_of(carriage)
    sentence = headline(study, carriage) + cause(study, carriage)
    said = f"<b>Carriage {text(carriage.name)}</b> {badge(worst)}: {text(sentence)}"
    reasons = [
        f"<b>{text(block.name)}</b> {text(suffers(study, reason(study, carriage, block)))}"
        + (f"; {text(next_step(study, carriage, block))}" if block.verdict == "unsure" else "")
        for block in carriage.blocks
        if block.verdict != "free"
    ]
    why = f"<details><summary>Why, block by block</summary>{bullets(reasons)}</details>" if reasons else ""
    return f'<div class="sentence"><p>{said}</p>{why}</div>'


def cause(study: Study, carriage: CarriageAssessment) -> str:
    """What brings most of the misfit of the carriage's worst block; nothing where all of its blocks run free."""
    hard = [block for block in carriage.blocks if block.verdict != "free"]
    if not hard:
        return ""
    worst = max(hard, key=lambda block: float(block.drag_ratio.max()))
    shares = reason(study, carriage, worst).shares
    return f" Mostly from: {CAUSE_WORDS[max(shares, key=lambda c: abs(shares[c]))]}."


def missing(studies: Sequence[Study]) -> str:
    """Not measured, set aside, and anything to mind, for each stage."""
    parts = []
    for study in studies:
        told = [text(line.removeprefix("not measured: ")) for line in unmeasured(study)]
        aside = [text(line) for line in suspects(study)]
        mind = [text(line) for line in (*unsolved(study), *study.frame.warnings, *study.readings.warnings)]
        parts.append(f"<h3>{text(study.stage)}</h3>")
        parts.append("<h4>Not measured</h4>" + (bullets(told) if told else "<p>Nothing: every rail was looked at.</p>"))
        parts.append("<h4>Suspect readings</h4>" + (bullets(aside) if aside else "<p>None.</p>"))
        if mind:
            parts.append("<h4>Mind</h4>" + bullets(mind))
    return "".join(parts)


def made(studies: Sequence[Study]) -> str:
    """Limits, draws, seeds, sources, and the readings behind it all."""
    limits = studies[0].frame.limits
    lines = [
        f"Limits: tight from {limits.tight_drag_ratio:g}, binding from {limits.binding_drag_ratio:g} times the drag on "
        f"a perfect frame; static safety at least {limits.static_safety:g}.",
        *(_draws(study) for study in studies),
        *METHODS,
        *_assumed(studies),
    ]
    return bullets(text(line) for line in lines)


def _assumed(studies: Sequence[Study]) -> list[str]:
    """What the numbers of any stage take for granted, which way it errs, why."""
    found = dict.fromkeys(each for study in studies for each in assumptions(study))
    return [f"Assumed, {SIDES[each.errs]}: {each.assumed}. {each.why}" for each in found]


def _draws(study: Study) -> str:
    count = sum(readings.values.size for readings in study.readings.sweeps)
    error = 50.0 / study.draws**0.5
    return (
        f"Stage {study.stage}: {count} readings in {len(study.readings.sweeps)} sweeps; chances from {study.draws} "
        f"draws, seed {study.seed} (± {error:.1f} points at 50 %)."
    )


def source(studies: Sequence[Study]) -> str:
    """Which folder and when each stage's readings were last written."""
    folder = studies[0].frame.folder
    name = f"Frame folder {folder.resolve().name}. " if folder is not None else ""
    return text(name + " ".join(f"{study.stage}: {_written(study, folder)}." for study in studies))


def _written(study: Study, folder: Path | None) -> str:
    files = list((folder / "readings" / study.stage).glob("*.csv")) if folder is not None else []
    if not files:
        return "date of the readings not known"
    newest = max(file.stat().st_mtime for file in files)
    return f"readings of {datetime.fromtimestamp(newest, UTC).date().isoformat()}"
