"""A shim plan for a study: which shims under which edges, out of the box at hand, and what they bring.

The linear carriage chooses (`approach`, `shim_search`), the nonlinear equilibrium with the same posterior draws
confirms. Nothing is offered that doesn't make things better, and nothing where every block runs free.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from framevis.frame import Floats, Frame, Indices, Push, RailSpot, Shim
from framevis.plan import Fitting, Plan, RailPush, Where
from framevis.planning.any_thickness import any_thickness
from framevis.planning.approach import Group, Site, groups
from framevis.planning.layers import NOTHING, Box, Laid, layered
from framevis.planning.rail_pushes import best_pushes
from framevis.planning.shim_programme import Choice, Task, heights
from framevis.planning.shim_search import Found, search
from framevis.study import Study, refitted
from framevis.verdicts import RANK, CarriageAssessment

PILOT_DRAWS = 200  # to choose among plans
LEAST_GAIN = 0.05  # of the sum of all chances
Tell = Callable[[int, int], None]


def quietly(done: int, total: int) -> None:
    """Tells nobody how far it is."""


def make_plan(study: Study, only: Where | None = None, *, anyway: bool = False, tell: Tell = quietly) -> Plan:
    """The plan for all carriages of which a block isn't free (`anyway`: for all), on blocks or rails `only` if asked.

    A plan without fittings and pushes says why: nothing to do, or nothing that would make it better.
    """
    found, parts = groups(study), []
    wanted = [group for group in found if anyway or not _all_free(study, group)]
    box = box_of(study.frame, study.stage)
    current = study
    for done, group in enumerate(sorted(wanted, key=lambda group: _badness(study, group), reverse=True)):
        tell(done, len(wanted) + 1)
        part, after = _for_group(current, group, box, only)
        if _is_better(current, after, group):
            current = after
            parts.append(part)
    tell(len(wanted), len(wanted) + 1)
    return _put_together(study, current, box, parts)


def with_any_thickness(study: Study, only: Where | None = None) -> Study:
    """The study with the best shims of any thickness for every group of which a block isn't free: what a plan can at
    most come to."""
    box = box_of(study.frame, study.stage)
    for group in groups(study):
        if _all_free(study, group):
            continue
        now = fitted_now(group, box, study.frame.shims_at(study.stage))
        ideal = any_thickness(task_of(group, box, np.full(len(box.sizes_um), np.inf), now, only))
        high = ideal.heights_um[int(np.argmin(ideal.worst_um))]
        laid = [Laid((), *((float(edge),) if edge > 0.0 else () for edge in edges)) for edges in high]
        study = _refitted(study, group, laid, ())
    return study


def box_of(frame: Frame, stage: str) -> Box:
    """The box of shims of a frame, fitted ones included; empty where none is listed."""
    if frame.stock is None:
        return Box((), (), 0, 0.0)
    total: dict[object, float] = {}
    for shim in frame.shims_at(stage):
        total[shim.spot] = total.get(shim.spot, 0.0) + shim.thickness_um
    return Box.of(frame.stock, total.values())


@dataclass(frozen=True, eq=False)
class Part:
    """What is planned for one group: pushes, and what lies at its sites `now` and afterwards; `before_um` the worst
    misfit now."""

    group: Group
    now: Choice
    found: Found
    pushes: tuple[RailPush, ...]
    before_um: float


def _for_group(study: Study, group: Group, box: Box, only: Where | None) -> tuple[Part, Study]:
    """The plan for a group and the study after it: the most sparing that brings the verdicts that can be had."""
    now = fitted_now(group, box, study.frame.shims_at(study.stage))
    task = task_of(group, box, _free_for(study, group, box), now, only)
    before = task.worst(now)
    pushes = best_pushes(group, task, study.frame, study.frame.pushes_at(study.stage)) if only != "blocks" else ()
    pushed = np.zeros(group.push_per_um.shape[2])
    for push in pushes:
        pushed[group.push_place[push.rail, push.screw]] = push.push_um
    task = replace(task, bare_um=task.bare_um + group.push_per_um @ pushed)
    parts = [Part(group, now, found, pushes, before) for found in search(task, now)]
    pilot, tried = replace(study, draws=min(study.draws, PILOT_DRAWS)), list[tuple[Part, Study]]()
    for part in parts:
        tried.append((part, _carried_out(pilot, part)))
        if _all_free(tried[-1][1], group):
            break
    best, _ = min(tried, key=lambda each: (*_badness(each[1], group), round(_chances(each[1], group), 1)))
    return best, _carried_out(study, best)


def _free_for(study: Study, group: Group, box: Box) -> Floats:
    """Pieces of each size that aren't at other sites (sizes,); inf where there is no limit."""
    all_now = [*_laid_by_site(study.frame.shims_at(study.stage), box).items()]
    elsewhere = [laid for site, laid in all_now if site not in group.site_index]
    used = [sum(laid.pieces.count(size) for laid in elsewhere) for size in box.sizes_um]
    here = [sum(laid.pieces.count(size) for site, laid in all_now if site in group.site_index) for size in box.sizes_um]
    limits = [np.inf if count is None else float(count) for count in box.count]
    return np.array([max(limit - u, h) for limit, u, h in zip(limits, used, here, strict=True)], dtype=np.float64)


def task_of(group: Group, box: Box, free: Floats, now: Choice, only: Where | None) -> Task:
    """What is to be solved for a group whose sites hold `now`; what lies at sites that aren't allowed stays."""
    allowed = np.array([only is None or site.on_rail == (only == "rails") for site in group.sites])
    per = group.per_um * allowed[:, None]
    bare = group.now_um - per.reshape(*group.now_um.shape, -1) @ heights(now).ravel()
    return Task(bare, per, box, free, _neighbours(group), allowed)


def _neighbours(group: Group) -> Indices:
    pairs = [
        (index, group.site_index[Site(site.owner, site.place + 1)])
        for site, index in group.site_index.items()
        if isinstance(site.place, int) and Site(site.owner, site.place + 1) in group.site_index
    ]
    return np.array(pairs, dtype=np.intp).reshape(-1, 2)


def fitted_now(group: Group, box: Box, shims: Sequence[Shim]) -> Choice:
    """What lies at a group's sites."""
    laid = _laid_by_site(shims, box)
    return tuple(laid.get(site, NOTHING) for site in group.sites)


def _laid_by_site(shims: Sequence[Shim], box: Box) -> dict[Site, Laid]:
    total: dict[Site, dict[str, float]] = {}
    for shim in shims:
        spot = shim.spot
        site = Site(spot.rail, spot.screw) if isinstance(spot, RailSpot) else Site(spot.carriage, spot.block)
        parts = total.setdefault(site, dict.fromkeys(("full", "left", "right"), 0.0))
        parts[spot.part] += shim.thickness_um
    return {
        site: Laid(*(layered(thickness, box.sizes_um) for thickness in parts.values())) for site, parts in total.items()
    }


def _carried_out(study: Study, part: Part) -> Study:
    """The study with what is planned for a group fitted."""
    return _refitted(study, part.group, part.found.choice, part.pushes)


def _refitted(study: Study, group: Group, choice: Sequence[Laid], more: Sequence[RailPush]) -> Study:
    stage = study.stage
    kept = [shim for shim in study.frame.shims_at(stage) if _site_of(shim) not in group.site_index]
    new = [
        Shim(stage, site.spot(name), sum(layers))
        for site, laid in zip(group.sites, choice, strict=True)
        for name, layers in laid.parts
        if layers
    ]
    pushes = [Push(stage, push.rail, push.screw, push.push_um) for push in more]
    return refitted(study, (*kept, *new), (*study.frame.pushes_at(stage), *pushes))


def _site_of(shim: Shim) -> Site:
    spot = shim.spot
    return Site(spot.rail, spot.screw) if isinstance(spot, RailSpot) else Site(spot.carriage, spot.block)


def _of(study: Study, group: Group) -> list[CarriageAssessment]:
    return [study.assessment(name) for name in group.carriages]


def _all_free(study: Study, group: Group) -> bool:
    return all(block.verdict == "free" for carriage in _of(study, group) for block in carriage.blocks)


def _badness(study: Study, group: Group) -> tuple[float, ...]:
    """How many blocks bind, run tight, are unsure; less is better, the first that differs counts."""
    blocks = [block for carriage in _of(study, group) for block in carriage.blocks]
    return tuple(float(sum(block.verdict == verdict for block in blocks)) for verdict in ("binding", "tight", "unsure"))


def _chances(study: Study, group: Group) -> float:
    return sum(block.p_tight + block.p_binding for carriage in _of(study, group) for block in carriage.blocks)


def _is_better(before: Study, after: Study, group: Group) -> bool:
    """Whether a verdict or the chances got better, by more than the draws can tell, and no block got worse."""
    pairs = [
        (one, other)
        for was, now in zip(_of(before, group), _of(after, group), strict=True)
        for one, other in zip(was.blocks, now.blocks, strict=True)
    ]
    no_worse = all(RANK[other.verdict] <= RANK[one.verdict] for one, other in pairs)
    was, now = _badness(before, group), _badness(after, group)
    return no_worse and (now < was or (now == was and _chances(after, group) < _chances(before, group) - LEAST_GAIN))


def _put_together(study: Study, after: Study, box: Box, parts: Sequence[Part]) -> Plan:
    fittings = [fitting for part in parts for fitting in _fittings(part)]
    at_sites = _laid_by_site(after.frame.shims_at(after.stage), box).values()
    used = [(size, sum(laid.pieces.count(size) for laid in at_sites)) for size in sorted(box.sizes_um)]
    limits = dict(zip(box.sizes_um, box.count, strict=True))
    left = [(size, None if (limit := limits[size]) is None else limit - count) for size, count in used]
    return Plan(
        before=study,
        after=after if parts else study,
        fittings=tuple(sorted(fittings, key=lambda fitting: not fitting.on_rail)),
        pushes=tuple(push for part in parts for push in part.pushes),
        used=tuple(used),
        left=tuple(left),
        worst_um=(max((p.before_um for p in parts), default=0.0), max((p.found.worst_um for p in parts), default=0.0)),
        bound_um=max((part.found.bound_um for part in parts), default=0.0),
        optimal=bool(parts) and all(part.found.proven for part in parts),
    )


def _fittings(part: Part) -> list[Fitting]:
    """Every spot of a group at which something changes, site by site."""
    return [
        Fitting(site.spot(name), after, before)
        for site, old, new in zip(part.group.sites, part.now, part.found.choice, strict=True)
        for (name, before), (_, after) in zip(old.parts, new.parts, strict=True)
        if before != after
    ]
