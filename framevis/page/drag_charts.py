"""Drag of each block along the travel, stages laid over each other, each with its 5–95 % band.

Takes studies of one frame's stages, gives SVG figures.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from framevis.frame import Carriage, Frame, Limits
from framevis.page.chart import Axes, band, chart, grid, level, line
from framevis.page.embed import text
from framevis.say import length
from framevis.study import Study
from framevis.units import MM_PER_LENGTH_UNIT
from framevis.verdicts import BlockAssessment

MOST_RATIO = 12.0  # a drag beyond this is drawn at the upper edge


def drag_figures(studies: Sequence[Study]) -> str:
    """A heading and a figure for each carriage."""
    frame = studies[0].frame
    key = "".join(
        f'<li><svg class="key" viewBox="0 0 40 14" aria-hidden="true">'
        f'<path class="stage band{i % 4}" d="M0 2H40V12H0Z"/>'
        f'<path class="stage line{i % 4}" d="M0 7H40"/></svg>{text(study.stage)}</li>'
        for i, study in enumerate(studies)
    )
    parts = [f'<ul class="keys">{key}</ul>']
    for carriage in frame.carriages:
        blocks = "".join(_figure(studies, carriage, i) for i in range(len(carriage.blocks)))
        parts.append(f'<h3>Carriage {text(carriage.name)}</h3><div class="charts">{blocks}</div>')
    return "".join(parts)


def _figure(studies: Sequence[Study], carriage: Carriage, index: int) -> str:
    frame, block = studies[0].frame, carriage.blocks[index]
    assessed = [study.assessment(carriage.name).blocks[index] for study in studies]
    ratios = [a.drag_ratio_p95 for a in assessed] + [a.drag_ratio for a in assessed]
    limits = frame.limits
    top = max(1.15 * limits.binding_drag_ratio, 1.05 * max(float(r.max()) for r in ratios))
    axes = Axes(carriage.travel_mm, (0.0, min(top, max(MOST_RATIO, 2.0 * limits.binding_drag_ratio))))
    factor = 1.0 / MM_PER_LENGTH_UNIT[frame.length_unit]
    parts = [grid(axes, f"position of the carriage, {frame.length_unit}", "drag × perfect", factor)]
    for i, (study, a) in enumerate(zip(studies, assessed, strict=True)):
        at = study.assessment(carriage.name).stations_mm
        parts.append(band(axes, at, a.drag_ratio_p05, a.drag_ratio_p95, f"stage band{i % 4}"))
        parts.append(line(axes, at, a.drag_ratio, f"stage line{i % 4}"))
    parts += _limits(axes, limits)
    said = "; ".join(_said(frame, study.stage, a) for study, a in zip(studies, assessed, strict=True))
    label = f"Drag of block {block.name} of carriage {carriage.name} along the travel. {said}."
    return f"<figure>{chart(label, parts)}<figcaption>{text(block.name)}: {text(said)}</figcaption></figure>"


def _limits(axes: Axes, limits: Limits) -> list[str]:
    return [
        level(axes, limits.tight_drag_ratio, "tight", "limit tight"),
        level(axes, limits.binding_drag_ratio, "binding", "limit binding"),
    ]


def _said(frame: Frame, stage: str, block: BlockAssessment) -> str:
    worst = int(np.argmax(block.drag_ratio))
    low, high = block.drag_ratio_p05[worst], block.drag_ratio_p95[worst]
    at = length(frame, block.worst_station_mm)
    return f"{stage} at most {block.drag_ratio[worst]:.1f} ({low:.1f} to {high:.1f}) at {at}"
