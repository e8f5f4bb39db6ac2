"""The page's shim plan: what goes where in the order of work, pieces, pushes, verdicts before and after, and what the
sweeps should read afterwards. Takes a plan and expected readings, gives HTML.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from framevis.comparing.report_compare import reading_said
from framevis.comparing.say_compare import amount
from framevis.frame import Frame, RailSpot
from framevis.page.embed import text
from framevis.page.marks import badge
from framevis.page.plan_strips import strip_figures
from framevis.page.tables import table
from framevis.page.words import bullets
from framevis.plan import Plan, RailPush
from framevis.planning.plan_runs import Run, layers_said, legend_lines, proof, push_said, runs, where
from framevis.planning.report_plan import readings_after
from framevis.say import length, printable, thickness
from framevis.verdicts import BlockAssessment

SIDES = (
    "Left and right are those of a rail seen along its own beam from its start, its face up; screws count from the "
    "start. A row's layers lie at each of its screws. Measure every stack with a micrometer; clean, no burrs."
)
EXPECTED = (
    "What the same sweeps should read once the shims lie there and everything is snug again. u: standard uncertainty; "
    "a reading more than 2 u away says that something was not done as planned."
)


@dataclass(frozen=True)
class ExpectedRow:
    """One reading after the plan: where, what it should be, and its standard uncertainty, with their units."""

    sweep: str
    station_mm: float
    expected: str
    u: str


def expected_after(plan: Plan) -> list[ExpectedRow]:
    """What every sweep of the plan's stage should read after it, in words."""
    frame, rows = plan.before.frame, []
    for each in readings_after(plan):
        for station, reading, u in zip(each.station_mm, each.reading, each.u, strict=True):
            said = reading_said(frame, each.sweep, float(reading)), amount(frame, each.sweep, float(u))
            rows.append(ExpectedRow(each.sweep.name, float(station), *said))
    return rows


def plan_section(plan: Plan, expected: Sequence[ExpectedRow] = ()) -> str:
    frame = plan.before.frame
    parts = [
        bullets(text(line) for line in [*legend_lines(frame, plan), proof(frame, plan), *plan.says]),
        _work(frame, plan),
        f"<p>{text(SIDES)}</p>",
        strip_figures(plan),
        _pushes(frame, plan.pushes),
        _pieces(frame, plan),
        _verdicts(plan),
        _expected(frame, expected),
    ]
    return f'<section aria-labelledby="plan"><h2 id="plan">Shim plan</h2>{"".join(parts)}</section>'


def _work(frame: Frame, plan: Plan) -> str:
    heads = (
        ("step", "number"),
        ("under", ""),
        ("screws", ""),
        ("edge", ""),
        ("layers at each", "number"),
        ("total at each", "number"),
        ("there now", "number"),
        ("spots", "number"),
    )
    rows = "".join(_work_row(frame, i + 1, run) for i, run in enumerate(runs(plan.fittings)))
    return table("Shims, in the order of work", heads, f"<tbody>{rows}</tbody>") if rows else ""


def _work_row(frame: Frame, step: int, run: Run) -> str:
    under, screws, edge = where(run)
    fitting = run.first
    layers = layers_said(frame, fitting.layers_um) if fitting.layers_um else "take out"
    numbers = (layers, thickness(frame, fitting.total_um), layers_said(frame, fitting.now_um), len(run.fittings))
    cells = "".join(f'<td class="number">{text(value)}</td>' for value in numbers)
    names = "".join(f"<td>{text(value)}</td>" for value in (screws + _stations(frame, run), edge))
    return f'<tr><td class="number">{step}</td><th scope="row">{text(under)}</th>{names}{cells}</tr>'


def _stations(frame: Frame, run: Run) -> str:
    """Where a run's first and last screw are, along the beam."""
    spot = run.first.spot
    if not isinstance(spot, RailSpot):
        return "on the block's top"
    at = frame.rail(spot.rail).screw_stations_mm
    low, high = (length(frame, float(at[screw - 1])) for screw in run.screws)
    return f" (at {low})" if low == high else f" ({low} to {high})"


def _pushes(frame: Frame, pushes: Sequence[RailPush]) -> str:
    if not pushes:
        return ""
    heads = (("screw", "number"), ("at", "number"), ("push, by the indicator", ""))
    bodies = []
    for name in dict.fromkeys(push.rail for push in pushes):
        at = frame.rail(name).screw_stations_mm
        title = f"Rail {printable(name)}: slacken, push screw by screw against an indicator, tighten"
        rows = "".join(
            f'<tr><th scope="row" class="number">{push.screw}</th>'
            f'<td class="number">{text(length(frame, float(at[push.screw - 1])))}</td>'
            f"<td>{text(push_said(frame, push.push_um))}</td></tr>"
            for push in pushes
            if push.rail == name
        )
        head = f'<tr><th scope="rowgroup" colspan="{len(heads)}">{text(title)}</th></tr>'
        bodies.append(f"<tbody>{head}{rows}</tbody>")
    return _folded("Rails to push, screw by screw", table("Rails to push", heads, "".join(bodies)))


def _folded(title: str, inside: str) -> str:
    return f"<details><summary>{text(title)}</summary>{inside}</details>"


def _pieces(frame: Frame, plan: Plan) -> str:
    left = dict(plan.left)
    heads = (("thickness", "number"), ("in the machine afterwards", "number"), ("left in the box", "number"))
    used = dict(plan.used)
    rows = "".join(
        f'<tr><th scope="row" class="number">{text(thickness(frame, um))}</th><td class="number">{used.get(um, 0)}</td>'
        f'<td class="number">{_left(left.get(um))}</td></tr>'
        for um in dict.fromkeys([*left, *used])
    )
    return table("Pieces", heads, f"<tbody>{rows}</tbody>") if rows else ""


def _left(many: int | None) -> str:
    return "not counted" if many is None else str(many)


def _verdicts(plan: Plan) -> str:
    each = (("tight", "number"), ("binding", "number"), ("drag × at most", "number"))
    heads = (("block", ""), ("before", ""), *each, ("after the plan", ""), *each)
    bodies = []
    for was, will in zip(plan.before.carriages, plan.after.carriages, strict=True):
        head = f'<tr><th scope="rowgroup" colspan="{len(heads)}">Carriage {text(was.name)}</th></tr>'
        pairs = zip(was.blocks, will.blocks, strict=True)
        bodies.append(f"<tbody>{head}{''.join(_verdict_row(a, b) for a, b in pairs)}</tbody>")
    return table("Verdicts before and after the plan, from the same draws", heads, "".join(bodies))


def _verdict_row(before: BlockAssessment, after: BlockAssessment) -> str:
    return f'<tr><th scope="row">{text(before.name)}</th>{_state(before)}{_state(after)}</tr>'


def _state(block: BlockAssessment) -> str:
    values = (f"{100 * block.p_tight:.0f} %", f"{100 * block.p_binding:.0f} %", f"{block.drag_ratio.max():.1f}")
    return f"<td>{badge(block.verdict)}</td>" + "".join(f'<td class="number">{value}</td>' for value in values)


def _expected(frame: Frame, expected: Iterable[ExpectedRow]) -> str:
    """A table for each sweep, folded up on the screen."""
    sweeps: dict[str, list[ExpectedRow]] = {}
    for row in expected:
        sweeps.setdefault(row.sweep, []).append(row)
    if not sweeps:
        return ""
    heads = (("station", ""), ("should read", ""), ("u", ""))
    folded = []
    for name, rows in sweeps.items():
        cells = "".join(_expected_row(frame, row) for row in rows)
        inside = table(f"{printable(name)} after the plan", heads, f"<tbody>{cells}</tbody>")
        folded.append(_folded(f"{printable(name)}: {len(rows)} readings", inside))
    return f'<h3>Readings to expect</h3><p>{text(EXPECTED)}</p><div class="readings">{"".join(folded)}</div>'


def _expected_row(frame: Frame, row: ExpectedRow) -> str:
    at = text(length(frame, row.station_mm))
    return f'<tr><th scope="row">{at}</th><td>{text(row.expected)}</td><td>{text(row.u)}</td></tr>'
