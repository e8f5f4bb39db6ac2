"""How a plan is carried out, in whole sentences: what to slacken, what to leave tight, what the screws must pull.

Takes a plan, gives sentences in the order of work.
"""

from __future__ import annotations

import numpy as np

from framevis.frame import BlockSpot, Frame, Rail, RailSpot
from framevis.plan import Plan
from framevis.planning.rail_bending import screw_forces_n
from framevis.rail_shims import lift_and_roll_at_screws
from framevis.say import printable
from framevis.screws import diameter_of, preload_n

PULL_TOLD_N = 20.0  # less than this any screw does
SHARE_OF_PRELOAD = 0.2  # of a screw's preload that may go into bending the rail; our own choice
STACK = "Measure every stack with a micrometer; clean, no burrs; snug (a quarter turn from contact), read, then torque."


def handling(plan: Plan) -> list[str]:
    """What to slacken and what to leave, rails first (master rails before the others), then pushes, then blocks."""
    frame = plan.before.frame
    said = [*_rails(frame, plan), *_pushed(frame, plan), *_blocks(plan), *_pulls(frame, plan)]
    return [*said, STACK] if said else []


def _rails(frame: Frame, plan: Plan) -> list[str]:
    screws: dict[str, set[int]] = {}
    for fitting in plan.fittings:
        if isinstance(fitting.spot, RailSpot):
            screws.setdefault(fitting.spot.rail, set()).add(fitting.spot.screw)
    return [
        f"Rail {printable(name)}: slacken screws {_stretches(frame.rail(name), places)}, leave the others tight; "
        "shims on both sides of each hole."
        for name, places in screws.items()
    ]


def _stretches(rail: Rail, places: set[int]) -> str:
    """Stretches of screws that must give, one screw more at either end: 19–37."""
    wanted = sorted({near for place in places for near in (place - 1, place, place + 1) if 1 <= near <= rail.screws})
    stretches: list[list[int]] = []
    for screw in wanted:
        if stretches and screw == stretches[-1][-1] + 1:
            stretches[-1].append(screw)
        else:
            stretches.append([screw])
    return " and ".join(f"{part[0]}–{part[-1]}" if len(part) > 1 else f"{part[0]}" for part in stretches)


def _pushed(frame: Frame, plan: Plan) -> list[str]:
    return [
        f"Rail {printable(name)}: push it screw by screw against an indicator on its side; slacken a few screws at a "
        "time, snug each before the next; the other rail stays tight."
        for name in dict.fromkeys(push.rail for push in plan.pushes)
    ]


def _blocks(plan: Plan) -> list[str]:
    spots = [fitting.spot for fitting in plan.fittings if isinstance(fitting.spot, BlockSpot)]
    blocks = list(dict.fromkeys((spot.carriage, spot.block) for spot in spots))
    if not blocks:
        return []
    names = ", ".join(f"{printable(carriage)}/{printable(block)}" for carriage, block in blocks)
    return [
        f"Blocks {names}: one at a time, the carriage held; the screws of all its other blocks stay tight."
        if len(blocks) > 1
        else f"Block {names}: with the carriage held; the screws of all its other blocks stay tight."
    ]


def _pulls(frame: Frame, plan: Plan) -> list[str]:
    """Where screws must bend a rail noticeably to bring it down onto its shims."""
    said = []
    for rail in frame.rails:
        lift, _ = lift_and_roll_at_screws(rail, plan.after.frame.shims_at(plan.after.stage))
        force = screw_forces_n(rail, lift)
        at = int(np.argmin(force))
        pull = -float(force[at])
        if not plan.fittings or pull < PULL_TOLD_N:
            continue
        said.append(
            f"Rail {printable(rail.name)}: screw {at + 1} must pull it down with {pull:.0f} N{_too_much(rail, pull)}."
        )
    return said


def _too_much(rail: Rail, pull_n: float) -> str:
    stiff = "" if rail.guide.rail_ei_nm2 is not None else " (stiffness of its outline)"
    size = diameter_of(rail.guide.screw) if rail.guide.screw else None
    if size is None or pull_n <= SHARE_OF_PRELOAD * preload_n(size, rail.guide.screw_class):
        return stiff
    return f"{stiff}, more than a fifth of its preload: let the step run over more screws"
