"""A plan as the page's program needs it: marks on rails and blocks, and the study after it as a stage of its own.

Takes a plan, gives plain lists for JSON. Places are in the axes (s, t, n) of the mark's rail; a mark on a block is
told from the block's seat. `grows`: µm along axis 1 (t, a push) or 2 (n, a shim) that is added to each place.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from framevis.frame import BlockSpot, Frame, RailSpot
from framevis.page.model import rounded
from framevis.pictures.plan_marks import Shape, arrow, nearer_mm, shape_of, stacked
from framevis.plan import Fitting, Plan, RailPush
from framevis.planning.plan_runs import EDGES, Run, push_said, todo
from framevis.say import length, printable
from framevis.study import Study


def after_as_stage(plan: Plan) -> Study:
    """The study after the plan under a stage name of its own, so that nobody takes it for what was measured."""
    study = plan.after
    old, new = study.stage, f"{study.stage}, after the plan"

    def named(stage: str | None) -> str | None:
        return new if stage == old else stage

    frame = study.frame
    renamed = replace(
        frame,
        stages=tuple(new if stage == old else stage for stage in frame.stages),
        shims=tuple(replace(shim, stage=named(shim.stage) or "", out_at=named(shim.out_at)) for shim in frame.shims),
        pushes=tuple(replace(push, stage=named(push.stage) or "") for push in frame.pushes),
    )
    return replace(study, frame=renamed, readings=replace(study.readings, name=new))


def plan_data(plan: Plan, stage: int) -> dict[str, Any]:
    """Every mark, for the stage (its place among those shown) from which the plan starts."""
    frame, shapes = plan.before.frame, _Shapes()
    marks = [_fitting(frame, fitting, below_um, shapes) for fitting, below_um in stacked(plan)]
    marks += [_push(frame, push, shapes) for push in plan.pushes]
    return {"stage": stage, "nearer": nearer_mm(frame), "shapes": shapes.known, "marks": marks}


class _Shapes:
    """Faces and edges that many marks share."""

    def __init__(self) -> None:
        self.known: list[dict[str, Any]] = []

    def index(self, shape: Shape) -> int:
        wanted = {"faces": shape.faces.tolist(), "edges": shape.edges.tolist()}
        if wanted not in self.known:
            self.known.append(wanted)
        return self.known.index(wanted)


def _mark(shape: Shape, shapes: _Shapes, axis: int) -> dict[str, Any]:
    return {
        "kind": shape.kind,
        "places": rounded(shape.local_mm, 2),
        "axis": axis,
        "grows": rounded(shape.grows_um[:, axis], 2),
        "shape": shapes.index(shape),
    }


def _fitting(frame: Frame, fitting: Fitting, below_um: float, shapes: _Shapes) -> dict[str, Any]:
    spot, mark = fitting.spot, _mark(shape_of(frame, fitting, below_um), shapes, 2)
    done = todo(frame, Run((fitting,)))
    words = [_title(frame, fitting), done if done.startswith("take out") else f"fit {done}"]
    if isinstance(spot, RailSpot):
        return mark | {"rail": _rail(frame, spot.rail), "words": words}
    names = [carriage.name for carriage in frame.carriages]
    blocks = [block.name for block in frame.carriage(spot.carriage).blocks]
    return mark | {"carriage": names.index(spot.carriage), "block": blocks.index(spot.block), "words": words}


def _title(frame: Frame, fitting: Fitting) -> str:
    spot = fitting.spot
    if isinstance(spot, BlockSpot):
        return f"{printable(spot.carriage)} / {printable(spot.block)}, {EDGES[spot.part]}"
    rail = frame.rail(spot.rail)
    at = length(frame, float(rail.screw_stations_mm[spot.screw - 1]))
    return f"{printable(spot.rail)}, screw {spot.screw} at {at}, {EDGES[spot.part]}"


def _push(frame: Frame, push: RailPush, shapes: _Shapes) -> dict[str, Any]:
    rail = frame.rail(push.rail)
    at = length(frame, float(rail.screw_stations_mm[push.screw - 1]))
    words = [f"{printable(push.rail)}, screw {push.screw} at {at}", f"push {push_said(frame, push.push_um)}"]
    return _mark(arrow(rail, push), shapes, 1) | {"rail": _rail(frame, push.rail), "words": words}


def _rail(frame: Frame, name: str) -> int:
    return [rail.name for rail in frame.rails].index(name)
