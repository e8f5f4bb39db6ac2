"""The verdicts of a study as a piece of HTML, for a notebook. Every name is escaped; shapes stand beside words."""

from __future__ import annotations

from html import escape

from framevis.report import MARKS
from framevis.say import CAUTION, headline, length, printable
from framevis.study import Study
from framevis.verdicts import BlockAssessment, CarriageAssessment

COLUMNS = ("block", "rail", "verdict", "chance tight", "chance binding", "drag × perfect", "at", "safety")
WORDS = 3  # the first columns hold words, the others numbers


def verdict_table(study: Study) -> str:
    """A table with a group of rows for each carriage, its headline above them."""
    title = f"{_safe(study.frame.name)} · stage {_safe(study.stage)}"
    head = "".join(f'<th scope="col" style="text-align:{_side(i)}">{name}</th>' for i, name in enumerate(COLUMNS))
    bodies = "".join(_carriage(study, carriage) for carriage in study.carriages)
    foot = f"<p><small>{study.draws} draws, seed {study.seed}. {escape(CAUTION)}</small></p>"
    return f"<table><caption><b>{title}</b></caption><thead><tr>{head}</tr></thead>{bodies}</table>{foot}"


def _carriage(study: Study, carriage: CarriageAssessment) -> str:
    said = f"Carriage {_safe(carriage.name)}: {escape(headline(study, carriage))}"
    head = f'<tr><th scope="rowgroup" colspan="{len(COLUMNS)}" style="text-align:left">{said}</th></tr>'
    return f"<tbody>{head}{''.join(_block(study, block) for block in carriage.blocks)}</tbody>"


def _block(study: Study, block: BlockAssessment) -> str:
    cells = (
        _safe(block.name),
        _safe(block.block.rail.name),
        f"<b>{MARKS[block.verdict]}</b>" if block.verdict == "binding" else MARKS[block.verdict],
        f"{100 * block.p_tight:.0f} %",
        f"{100 * block.p_binding:.0f} %",
        f"{block.drag_ratio.max():.1f}",
        length(study.frame, block.worst_station_mm),
        f"{block.static_safety.min():.1f}",
    )
    row = "".join(f'<td style="text-align:{_side(i)}">{cell}</td>' for i, cell in enumerate(cells))
    return f"<tr>{row}</tr>"


def _side(column: int) -> str:
    return "left" if column < WORDS else "right"


def _safe(name: str) -> str:
    return escape(printable(name))
