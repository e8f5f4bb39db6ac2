"""The check before final torque as one HTML sheet to print and sign: no script, no request of any kind.

Takes a study and its checks. It says what the text form says, in the same words; every name from a file is escaped.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from framevis.assumptions import unsafe
from framevis.frame import Frame
from framevis.outfile import beside, check_target
from framevis.page.embed import asset, digest, filled, text
from framevis.page.words import CAUTIONS, bullets
from framevis.study import Study
from framevis.torque.check import Check, is_fit
from framevis.torque.report_torque import (
    MARKS,
    NOT_YET,
    SIGN,
    WINS,
    Kind,
    in_inches,
    kinds,
    masters_note,
    order_text,
    torque_text,
    verdict,
)
from framevis.torque.tightening import AFTER, BEFORE, FOLLOWER, MASTER, RailTightening, tightenings

ENTRY = '<td class="entry"></td>'
SQUARE = '<span class="square"></span>'


def write_sheet(study: Study, checks: Sequence[Check], path: Path) -> Path:
    """Write the sheet, whole or not at all. Raises `BadInput` where the file can't be written."""
    path = Path(path)
    check_target(path, (".html",), "a sheet")
    content = sheet(study, checks)
    with beside(path) as hidden:
        hidden.write_text(content, encoding="utf-8", newline="\n")
    return path


def sheet(study: Study, checks: Sequence[Check]) -> str:
    """The whole sheet as text."""
    frame, style, fit = study.frame, asset("torque_sheet.css"), is_fit(checks)
    after = (f"Master: {MASTER}.", f"Follower: {FOLLOWER}.", masters_note(frame), *AFTER)
    parts = {
        "policy": policy(style),
        "style": style,
        "title": text(f"{frame.name}, {study.stage}: check before final torque"),
        "name": text(frame.name),
        "stage": text(study.stage),
        "made": datetime.now(UTC).astimezone().strftime("%Y-%m-%d %H:%M"),
        "fit": "fit" if fit else "not-fit",
        "verdict": text(verdict(checks)) + ("" if fit else f"<br>{text(NOT_YET)}"),
        "checks": "".join(_check(check) for check in checks),
        "torques": "".join(_kind(number, kind) for number, kind in enumerate(kinds(frame), start=1)),
        "resting": _resting(frame),
        "assumed": text(unsafe(study)),
        "before": bullets(map(text, BEFORE)),
        "sequence": "".join(_rail(number, each) for number, each in enumerate(tightenings(frame), start=1)),
        "after": bullets(map(text, after)),
        "signing": "".join(f"<dt>{text(label)}</dt><dd></dd>" for label in SIGN),
        "cautions": bullets(map(text, CAUTIONS)),
    }
    return filled(asset("torque_sheet.html"), parts)


def policy(style: str) -> str:
    """Nothing is allowed but this very style."""
    return f"default-src 'none'; style-src {digest(style)}; base-uri 'none'; form-action 'none'"


def _check(check: Check) -> str:
    state = ' class="failed"' if check.state == "failed" else ""
    cells = f"<td>{text(check.title)}</td><td>{text(check.says)}</td>"
    return f'<tr{state}><td class="state">{text(MARKS[check.state])}</td>{cells}</tr>'


def _kind(number: int, kind: Kind) -> str:
    torques = "".join(_number(nm) for nm in kind.torque.stages_nm or (None,) * 3)
    return f"<tr><td>{number}) {text(kind.sort)}</td>{torques}{ENTRY}{ENTRY}</tr>"


def _number(nm: float | None) -> str:
    return f'<td class="number">{text(torque_text(nm))}</td>'


def _resting(frame: Frame) -> str:
    says = [f"{number}) {kind.says}" for number, kind in enumerate(kinds(frame), start=1)]
    inches = in_inches(frame)
    lines = "".join(f'<p class="small">{text(line)}</p>' for line in says)
    return (f"<p>{text(inches)}</p>" if inches else "") + lines + f"<p>{text(WINS)}</p>"


def _rail(number: int, each: RailTightening) -> str:
    boxes = "".join(
        f'<td class="box">{SQUARE}{text(torque_text(nm))}</td>' for nm in each.torque.stages_nm or (None,) * 3
    )
    name = f"{text(each.rail.name)}, {each.role}"
    return f"<tr><td>{number}</td><td>{name}</td><td>{text(order_text(each))}</td>{boxes}</tr>"
