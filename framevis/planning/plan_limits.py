"""What limits a plan, in whole sentences: the pieces in the box, what shims can't do, or the readings; what would help.

Takes a plan that leaves blocks not free; tries any thickness, then one purchase after the other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from framevis.errors import BadInput, problem
from framevis.explain import reason
from framevis.plan import Plan, Where
from framevis.planning.planner import LEAST_GAIN, Tell, make_plan, quietly, with_any_thickness
from framevis.say import next_step, printable, small
from framevis.study import Study
from framevis.verdicts import BlockAssessment, CarriageAssessment

FOILS_UM = (50.0, 20.0, 10.0)  # sold everywhere (common practice); from the coarsest, since fewer pieces then do
TRIAL_DRAWS = 200  # a purchase is looked at in less detail than the plan
FOILS_THOU_UM = (50.8, 25.4)
Stuck = tuple[CarriageAssessment, BlockAssessment]
STAYS = {"binding": "binding", "tight": "tight", "unsure": "open"}


def plan_for(study: Study, only: Where | None = None, *, anyway: bool = False, tell: Tell = quietly) -> Plan:
    """The plan with all that is to be said of it. Raises `BadInput` where there is nothing to plan with."""
    frame = study.frame
    if frame.stock is None and not any(rail.guide.screw_clearance_um for rail in frame.rails):
        what = "there is no [shim_stock], and no guide has a screw_clearance_um"
        raise BadInput(problem("frame.toml", what, "list the shims at hand: thickness_um = [20, 40], count = [20, 20]"))
    plan = make_plan(study, only, anyway=anyway, tell=tell)
    if not not_free(study) and not anyway:
        return replace(plan, says=("Every block runs free: leave it as it is (--anyway plans for the least misfit).",))
    nothing = () if plan.fittings or plan.pushes else ("No plan out of these shims makes it better.",)
    return replace(plan, says=(*nothing, *limits(plan, only)))


def limits(plan: Plan, only: Where | None) -> tuple[str, ...]:
    """Why blocks aren't free after a plan, and what would help most; nothing where all are free."""
    stuck = not_free(plan.after)
    if not stuck:
        return ()
    ideal = with_any_thickness(plan.after, only)
    helped = len(not_free(ideal)) < len(stuck) or _chances(ideal) < _chances(plan.after) - LEAST_GAIN
    said = [_purchase(plan, only)] if helped else []
    names = {(carriage.name, block.name) for carriage, block in not_free(ideal)}
    beyond = [(c, block) for c, block in stuck if (c.name, block.name) in names or block.verdict == "unsure"]
    return (*said, *dict.fromkeys(_beyond_shims(plan.after, carriage, block) for carriage, block in beyond))


def not_free(study: Study) -> list[Stuck]:
    return [(c, block) for c in study.carriages for block in c.blocks if block.verdict != "free"]


def _chances(study: Study) -> float:
    return sum(block.p_tight + block.p_binding for _, block in not_free(study))


def _purchase(plan: Plan, only: Where | None) -> str:
    """The one purchase that helps most."""
    best, what = plan.after, ""
    for name, bought in _purchases(plan):
        after = make_plan(bought, only).after
        if (len(not_free(after)), _chances(after)) < (len(not_free(best)), _chances(best) - LEAST_GAIN):
            best, what = after, name
        if not not_free(best):
            break
    now = _left_over(not_free(plan.after))
    if not what:
        return f"Finer steps than the shims at hand would help: with these, {now}."
    then = _left_over(not_free(best)) if not_free(best) else "every block would be free"
    return f"With {what} as well, {then}; with the shims at hand, {now}."


def _purchases(plan: Plan) -> list[tuple[str, Study]]:
    """Studies with one more kind of piece in the box, the coarsest first, or with no end of those that ran out."""
    study, stock = replace(plan.after, draws=min(plan.after.draws, TRIAL_DRAWS)), plan.after.frame.stock
    if stock is None:
        return []
    thinnest = min(stock.thickness_um)
    foils = FOILS_UM if study.frame.length_unit == "mm" else FOILS_THOU_UM
    finer = [foil for foil in foils if foil < thinnest]
    counts = stock.count
    found = []
    for foil in finer:
        count = None if counts is None else (*counts, 10_000)
        more = replace(stock, thickness_um=(*stock.thickness_um, foil), count=count)
        found.append((f"{small(study.frame, foil)} pieces", more))
    gone = [size for size, left in plan.left if left == 0 and dict(plan.used).get(size)]
    if gone and counts is not None:
        plenty = tuple(10_000 if size in gone else n for size, n in zip(stock.thickness_um, counts, strict=True))
        names = " and ".join(small(study.frame, size) for size in gone)
        found.insert(0, (f"more {names} pieces", replace(stock, count=plenty)))
    return [(name, replace(study, frame=replace(study.frame, stock=more))) for name, more in found]


def _left_over(stuck: Sequence[Stuck]) -> str:
    """ "2 blocks stay tight and 1 open" """
    counts = {word: sum(block.verdict == verdict for _, block in stuck) for verdict, word in STAYS.items()}
    told = [f"{count} {word}" for word, count in counts.items() if count]
    first, *rest = told
    number, word = first.split(" ")
    blocks = f"{number} block{'' if number == '1' else 's'} stay{'s' if number == '1' else ''} {word}"
    return " and ".join([blocks, *rest])


def _beyond_shims(study: Study, carriage: CarriageAssessment, block: BlockAssessment) -> str:
    """Why no shim frees a block."""
    name, why = f"{printable(carriage.name)}/{printable(block.name)}", reason(study, carriage, block)
    if why.overloaded is not None:
        return f"{name} is overloaded (static safety {why.overloaded:.1f}): shims don't carry load for it."
    if why.doubt is not None or block.verdict == "unsure":
        chance = f"{100 * block.p_tight:.0f} %"
        return f"{name} stays open (tight in {chance}): {next_step(study, carriage, block)}."
    if why.component in ("lateral", "yaw"):
        rail = block.block.rail
        room = rail.guide.screw_clearance_um
        todo = (
            f"screw_clearance_um = {room:g} leaves no more room to push rail {printable(rail.name)}"
            if room
            else "no shim can: push the follower rail sideways (give its guide's screw_clearance_um to have the pushes)"
        )
        return f"{name} suffers sideways: {todo}, or move the rail's seat."
    return f"{name} stays {STAYS[block.verdict]} whatever is shimmed: its rail deviates between the screws."
