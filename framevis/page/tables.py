"""The page's tables: blocks of every stage. Takes studies, gives HTML."""

from __future__ import annotations

from collections.abc import Sequence

from framevis.page.embed import text
from framevis.page.marks import badge
from framevis.say import length
from framevis.study import Study
from framevis.verdicts import BlockAssessment, CarriageAssessment

HEADS = (
    ("block", ""),
    ("rail", ""),
    ("verdict", ""),
    ("chance tight", "number"),
    ("chance binding", "number"),
    ("drag × perfect", "number"),
    ("5–95 %", "number"),
    ("worst at", "number"),
    ("static safety", "number"),
)


def table(caption: str, heads: Sequence[tuple[str, str]], rows: str) -> str:
    cells = "".join(f'<th scope="col" class="{kind}">{text(name)}</th>' for name, kind in heads)
    return (
        f'<div class="wide" tabindex="0" role="region" aria-label="{text(caption)}"><table><caption>{text(caption)}'
        f"</caption><thead><tr>{cells}</tr></thead>{rows}</table></div>"
    )


def block_tables(studies: Sequence[Study]) -> str:
    return "".join(
        table(f"Blocks, stage {study.stage}", HEADS, "".join(_body(study, c) for c in study.carriages))
        for study in studies
    )


def _body(study: Study, carriage: CarriageAssessment) -> str:
    head = f'<tr><th scope="rowgroup" colspan="{len(HEADS)}">Carriage {text(carriage.name)}</th></tr>'
    return f"<tbody>{head}{''.join(_row(study, block) for block in carriage.blocks)}</tbody>"


def _row(study: Study, block: BlockAssessment) -> str:
    worst = int(block.drag_ratio.argmax())
    values = (
        f"{100 * block.p_tight:.0f} %",
        f"{100 * block.p_binding:.0f} %",
        f"{block.drag_ratio[worst]:.1f}",
        f"{block.drag_ratio_p05[worst]:.1f}–{block.drag_ratio_p95[worst]:.1f}",
        length(study.frame, block.worst_station_mm),
        f"{block.static_safety.min():.1f}",
    )
    cells = "".join(f'<td class="number">{text(value)}</td>' for value in values)
    names = f'<th scope="row">{text(block.name)}</th><td>{text(block.block.rail.name)}</td>'
    return f"<tr>{names}<td>{badge(block.verdict)}</td>{cells}</tr>"
