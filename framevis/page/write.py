"""Puts the page together and writes it: one HTML file, no server, no request of any kind.

Takes studies of one frame's stages in order, and the shim plan if there is one: what it brings is shown as one more
stage.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from framevis.errors import BadInput, problem
from framevis.outfile import beside, check_target
from framevis.page.drag_charts import drag_figures
from framevis.page.embed import asset, data, filled, policy, script, style, text
from framevis.page.figures import still_figures
from framevis.page.model import machine, motion, rounded
from framevis.page.numbers import block_numbers
from framevis.page.plan_data import after_as_stage, plan_data
from framevis.page.plan_section import ExpectedRow, plan_section
from framevis.page.rail_charts import rail_figures
from framevis.page.tables import block_tables
from framevis.page.words import CAUTIONS, bullets, made, missing, source, verdict_cards
from framevis.pictures.camera import view_axes
from framevis.pictures.draw import default_magnification
from framevis.pictures.look import CAUSE_WORDS, times
from framevis.pictures.plan_marks import Mark, marks_of
from framevis.pictures.scene import Scene, build_scene, resolve_positions, worst_positions
from framevis.plan import Plan
from framevis.study import Study

PLAN_SWITCH = '<label><input type="checkbox" id="marks" checked> shims to fit</label>'
PLAN_HOW = " Point at a mark of the plan, or tap it, for what is done there."
PLAN_LINK = '<li><a href="#plan">Shim plan</a></li>'


def write_page(
    studies: Sequence[Study], path: Path, *, plan: Plan | None = None, expected: Sequence[ExpectedRow] = ()
) -> Path:
    """Write one HTML file that shows all stages; whole or not at all.

    `studies`: stages of one frame, in order. `plan`: for one of them, which is added where it isn't among them.
    `expected`: what the sweeps should read after the plan, in the order of the table.
    Raises `BadInput` where the file can't be written.
    """
    path = Path(path)
    check_target(path, (".html",), "a page")
    if not studies:
        raise BadInput(problem(str(path), "there is no stage to show", "work at least one stage through"))
    content = page(studies, plan, expected)
    with beside(path) as hidden:
        hidden.write_text(content, encoding="utf-8", newline="\n")
    return path


def page(studies: Sequence[Study], plan: Plan | None = None, expected: Sequence[ExpectedRow] = ()) -> str:
    """The whole page as text. The stages `shown` are those measured, and then the one after the plan."""
    if plan is not None and plan.before.stage not in [study.stage for study in studies]:
        studies = [*studies, plan.before]
    shown = studies if plan is None else [*studies, after_as_stage(plan)]
    frame, program, look = studies[0].frame, script(), style()
    positions = resolve_positions(frame, {}, worst_positions(studies[0]))
    scenes = [build_scene(study, positions) for study in shown]
    magnification = min(default_magnification(scene) for scene in scenes)
    stages = ", ".join(study.stage for study in studies)
    parts = {
        "policy": policy(program, look),
        "style": look,
        "script": program,
        "data": data(page_data(shown, scenes[0], magnification, plan)),
        "title": text(f"{frame.name}: {stages}"),
        "name": text(frame.name),
        "stages": text(stages),
        "source": source(studies),
        "verdicts": verdict_cards(studies),
        "stills": still_figures(scenes[: len(studies)], magnification, _marks(plan, scenes)),
        "times": text(times(magnification)),
        "blocks": block_tables(studies),
        "drag": drag_figures(shown),
        "rails": "".join(_rails(i, study, i < len(studies)) for i, study in enumerate(shown)),
        "plan": "" if plan is None else plan_section(plan, expected),
        "plan_switch": "" if plan is None else PLAN_SWITCH,
        "plan_how": "" if plan is None else PLAN_HOW,
        "plan_link": "" if plan is None else PLAN_LINK,
        "missing": missing(studies),
        "made": made(studies),
        "cautions": bullets(text(line) for line in CAUTIONS),
    }
    return filled(asset("page.html"), parts)


def _rails(index: int, study: Study, is_measured: bool) -> str:
    figures = rail_figures(study, is_measured)
    return f'<div class="stage-part" data-stage="{index}"><h3>{text(study.stage)}</h3>{figures}</div>'


def _marks(plan: Plan | None, scenes: Sequence[Scene]) -> dict[str, tuple[Mark, ...]]:
    """The plan's marks by the name of the stage from which it starts."""
    if plan is None:
        return {}
    scene = next(scene for scene in scenes if scene.stage == plan.before.stage)
    return {scene.stage: marks_of(scene.memory, plan, scene.positions)}


def page_data(studies: Sequence[Study], scene: Scene, magnification: float, plan: Plan | None = None) -> dict[str, Any]:
    """Everything that the page's program needs: the machine once, its motion and numbers stage by stage."""
    frame = studies[0].frame
    shape = machine(frame)
    shape |= view_home(scene)
    return {
        "machine": shape,
        "stages": [
            {"name": study.stage, "motion": motion(study), "carriages": block_numbers(study)} for study in studies
        ],
        "plan": None if plan is None else plan_data(plan, [s.stage for s in studies].index(plan.before.stage)),
        "causeWords": {cause: CAUSE_WORDS[cause] for cause in CAUSE_WORDS},
        "limits": {
            "tight": frame.limits.tight_drag_ratio,
            "binding": frame.limits.binding_drag_ratio,
            "safety": frame.limits.static_safety,
        },
        "magnification": magnification,
        "positions": [round(scene.positions[carriage.name], 3) for carriage in frame.carriages],
    }


def view_home(scene: Scene) -> dict[str, Any]:
    """The first view as angles about the upright direction, and the size of the machine."""
    up = np.asarray(scene.frame.up, dtype=np.float64)
    _, _, eye = view_axes(scene)
    level = _level(up, [beam.axes[0] for beam in scene.frame.beams])
    across = np.cross(up, level)
    low, high = scene.bounds_mm
    return {
        "level": rounded(level, 9),
        "home": rounded(np.array([np.arctan2(eye @ across, eye @ level), np.arcsin(eye @ up)]), 4),
        "centre": rounded((low + high) / 2.0, 3),
        "radius": round(scene.diagonal_mm / 2.0, 3),
    }


def _level(up: Any, axes: Sequence[Any]) -> Any:
    """A level direction (3,) along the first beam that isn't upright."""
    flat = [axis - up * (axis @ up) for axis in (*axes, *np.eye(3))]
    first = next(direction for direction in flat if np.linalg.norm(direction) > 0.5)
    return first / np.linalg.norm(first)
