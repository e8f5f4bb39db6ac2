"""How far to push rails sideways at their screws, where the screws have clearance: by least squares.

Takes a group and its task, gives whole pushes against an indicator. Shims of any thickness are free to help meanwhile,
so that no push tries to do what a shim does better.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from framevis.frame import Floats, Frame, Push
from framevis.plan import RailPush
from framevis.planning.any_thickness import any_thickness
from framevis.planning.approach import Group
from framevis.planning.shim_programme import Task

STEP_UM = 5.0  # pushes are whole multiples: finer than this nobody pushes a rail; our own choice


def best_pushes(group: Group, task: Task, frame: Frame, so_far: Sequence[Push]) -> tuple[RailPush, ...]:
    """The least pushes, within what clearance is left, that bring the least worst misfit. Master rails stay."""
    low, high = _room(group, frame, so_far)
    if not np.any(high - low):
        return ()
    ideal = any_thickness(task, group.push_per_um, (low, high))
    return _whole(group, ideal.pushes_um[ideal.thrifty], low, high)


def _room(group: Group, frame: Frame, so_far: Sequence[Push]) -> tuple[Floats, Floats]:
    """How far each screw can still be pushed right (negative) and left, (screws,) each."""
    stays = dict.fromkeys(frame.masters, 0.0)
    clearance = np.concatenate(
        [np.full(rail.screws, stays.get(rail.name, rail.guide.screw_clearance_um)) for rail in group.rails]
    )
    done = np.zeros(clearance.size)
    for push in so_far:
        if (push.rail, push.screw) in group.push_place:
            done[group.push_place[push.rail, push.screw]] += push.push_um
    return np.minimum(-clearance - done, 0.0) * (clearance > 0), np.maximum(clearance - done, 0.0) * (clearance > 0)


def _whole(group: Group, pushes: Floats, low: Floats, high: Floats) -> tuple[RailPush, ...]:
    whole = np.clip(np.round(pushes / STEP_UM) * STEP_UM, low, high)
    places = {place: screw for screw, place in group.push_place.items()}
    return tuple(RailPush(*places[i], float(whole[i])) for i in np.flatnonzero(np.abs(whole) >= STEP_UM / 2.0).tolist())
