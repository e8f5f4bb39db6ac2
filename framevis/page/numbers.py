"""Each block's numbers along the travel, for the page's program to show at a position. Takes a study, gives lists."""

from __future__ import annotations

from typing import Any

from framevis.page.model import rounded
from framevis.study import Study
from framevis.verdicts import BlockAssessment


def block_numbers(study: Study) -> list[dict[str, Any]]:
    return [
        {
            "stations": rounded(carriage.stations_mm, 3),
            "worst": round(carriage.worst_position_mm, 3),
            "blocks": [_block(block) for block in carriage.blocks],
        }
        for carriage in study.carriages
    ]


def _block(block: BlockAssessment) -> dict[str, Any]:
    return {
        "verdict": block.verdict,
        "ratio": rounded(block.drag_ratio, 3),
        "low": rounded(block.drag_ratio_p05, 3),
        "high": rounded(block.drag_ratio_p95, 3),
        "drag": rounded(block.drag_n, 3),
        "safety": rounded(block.static_safety, 2),
        "pressure": rounded(block.peak_pressure_mpa, 0),
        "misfit": [rounded(row, 1 if i < 2 else 3) for i, row in enumerate(block.misfit)],
    }
