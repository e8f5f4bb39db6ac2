"""Whether a frame is fit for final torque: a list of checks in the order of work, each passed, failed or not measured.

Takes a study, gives records. Fit means that nothing failed; what was not measured is listed and left to judgement.
"""

from __future__ import annotations

from collections import defaultdict

from framevis.curves import never_measured
from framevis.frame import Frame, ShimStock
from framevis.reading.readings import stages_present
from framevis.say import next_step, printable, thickness, unsolved
from framevis.study import Study
from framevis.torque.check import Check, few
from framevis.torque.pieces import lay
from framevis.torque.sweep_checks import closures, suspicion, temperatures
from framevis.verdicts import CarriageAssessment


def readiness(study: Study) -> list[Check]:
    """All checks, in the order of work."""
    return [
        _taken(study),
        _newest(study),
        suspicion(study),
        *closures(study),
        *temperatures(study),
        _stock(study),
        *(_blocks(study, carriage) for carriage in study.carriages),
        *(Check("whole frame measured", "not measured", printable(what)) for what in never_measured(study)),
    ]


def _taken(study: Study) -> Check:
    """That there are readings, and which sweeps were left out."""
    taken = {readings.sweep.name for readings in study.readings.sweeps}
    left = [printable(sweep.name) for sweep in study.frame.sweeps if sweep.name not in taken]
    count = sum(readings.values.size for readings in study.readings.sweeps)
    says = f"{count} readings in {len(taken)} of {len(study.frame.sweeps)} sweeps"
    if left:
        return Check("readings taken", "not measured", f"{says}; not taken in this stage: {few(left)}")
    return Check("readings taken", "passed", says)


def _newest(study: Study) -> Check:
    """Readings newer than the last shim, by the order of the stages: a copied file keeps no time to go by."""
    title, frame, stage = "readings newer than the last shim", study.frame, study.stage
    later = frame.stages[frame.stages.index(stage) + 1 :]
    done: dict[str, list[str]] = defaultdict(list)
    for shim in frame.shims:
        done[shim.stage].append(f"shim {shim.spot}")
        if shim.out_at is not None:
            done[shim.out_at].append(f"shim {shim.spot} taken out")
    for push in frame.pushes:
        done[push.stage].append(f"{push.rail}@{push.screw} pushed")
    after = [
        f"{len(done[name])} in stage {printable(name)} ({few([printable(text) for text in done[name]])})"
        for name in later
        if done[name]
    ]
    if after:
        says = f"fitted or moved after these readings: {'; '.join(after)}: measure again, then check the newest stage"
        return Check(title, "failed", says)
    newer = [printable(name) for name in stages_present(frame) if name in later]
    if newer:
        return Check(title, "failed", f"there are newer readings, of stage {newer[-1]}: check those")
    last = next((name for name in reversed(frame.stages) if done[name]), None)
    what = "nothing has been fitted yet" if last is None else f"what was fitted last belongs to stage {printable(last)}"
    return Check(title, "passed", f"{what}, the readings are of stage {printable(stage)} (by the order of the stages)")


def _stock(study: Study) -> Check:
    """Whether what is fitted can be laid out of the stock, and what should be left in the box."""
    title, frame, stock = "pieces accounted for", study.frame, study.frame.stock
    fitted: dict[str, float] = defaultdict(float)
    for shim in frame.shims_at(study.stage):
        fitted[str(shim.spot)] += shim.thickness_um
    if stock is None:
        return Check(title, "not measured", "no [shim_stock] in frame.toml: count the shims on the bench yourself")
    laid = lay(fitted.values(), stock)
    if laid.unreachable:
        out = [(spot, um) for spot, um in fitted.items() if round(um, 1) in laid.unreachable]
        bad = [printable(f"{spot} ({thickness(frame, um)})") for spot, um in out]
        says = f"can't be laid from the stock in {stock.max_layers} layers: {few(bad)}"
        return Check(title, "failed", says)
    if laid.used is None:
        return Check(
            title, "failed", f"{_spots(len(fitted))} can only be laid with more pieces than the stock has: count again"
        )
    return Check(title, "passed", _counted(frame, len(fitted), laid.used, stock))


def _counted(frame: Frame, spots: int, used: tuple[int, ...], stock: ShimStock) -> str:
    pieces = ", ".join(f"{n} of {thickness(frame, um)}" for um, n in zip(stock.thickness_um, used, strict=True) if n)
    whole = f"{sum(used)} piece{'s' if sum(used) != 1 else ''}"
    says = f"{_spots(spots)}, {whole} if laid from the fewest ({pieces})" if spots else "no shims are fitted"
    if stock.count is None:
        return f"{says}; the stock has no counts: count what is left on the bench yourself"
    left = (total - n for total, n in zip(stock.count, used, strict=True))
    box = ", ".join(f"{n} of {thickness(frame, um)}" for um, n in zip(stock.thickness_um, left, strict=True))
    return f"{says}; left on the bench must be {box}"


def _spots(number: int) -> str:
    return "1 shimmed spot" if number == 1 else f"{number} shimmed spots"


def _blocks(study: Study, carriage: CarriageAssessment) -> Check:
    """Every block free with the guard band: tight in at most 5 % of the cases that the readings allow."""
    title, name = "every block free", printable(carriage.name)
    wrong = [text for text in unsolved(study) if text.startswith(f"carriage {name}:")]
    not_free = [
        f"{printable(block.name)} {block.verdict} (tight in {100 * block.p_tight:.0f} %)"
        for block in carriage.blocks
        if block.verdict != "free"
    ]
    step = next((next_step(study, carriage, block) for block in carriage.blocks if block.verdict == "unsure"), None)
    if wrong or not_free:
        parts = [*wrong, *([few(not_free)] if not_free else []), *([step] if step else [])]
        return Check(title, "failed", f"carriage {name}: {'; '.join(parts)}")
    most = max(block.p_tight for block in carriage.blocks)
    says = f"carriage {name}: all {len(carriage.blocks)} blocks, tight in at most {100 * most:.1f} % of the cases"
    return Check(title, "passed", f"{says} (guard band 5 %)")
