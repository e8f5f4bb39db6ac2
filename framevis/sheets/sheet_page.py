"""The page of sheets as one HTML file: what to heed, the order of the work, then a sheet for every sweep.

Takes a frame, a stage and each sweep's rows; gives text. No script; nothing is loaded; names from files are escaped.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from importlib.resources import files

from framevis.frame import Beam, Frame, PullSweep
from framevis.page.embed import digest, filled, text
from framevis.page.words import CAUTIONS, bullets
from framevis.sheets.blank_csv import reading_unit, shown_unit
from framevis.sheets.cross_section import cross_section
from framevis.sheets.order import STEPS, beam_of, rank
from framevis.sheets.overview import Overview, marked, overview, rails_of, same_look
from framevis.sheets.stations import AnySweep
from framevis.sheets.stations_table import stations_table
from framevis.sheets.words import plus, setup, title, touch, zero
from framevis.units import MRAD_PER_UNIT, N_PER_UNIT, UM_PER_UNIT

Look = tuple[str, Beam, Overview]  # its name in the page, a beam that it fits
Row = tuple[AnySweep, Sequence[float]]
FIRST = (
    "As found first: take every sweep before anything is touched, no foot, no screw, no shim.",
    "As left: the same sweeps with the same instruments held the same way round, so that the two can be compared.",
)
BEFORE = (
    "Packing under the feet takes twist out, or puts it in: settle the feet before any shim.",
    "Clean, stone burrs, wipe seats, tops and straightedge: dirt is a shim too.",
    "Let machine and instruments take the room's temperature; write it down at the start and the end of each sweep.",
    "A run back that differs from the run out by more than 10 to 20 µm is a bad run: take it again.",
    "A reading that surprises: take it again at once, before moving on.",
)
BLANKS = ("Date", "Who", "Instrument, no.", "°C at start", "°C at end")


def page(frame: Frame, stage: str, rows: Sequence[Row]) -> str:
    """The whole page."""
    style, looks = _asset("sheet.css"), _looks(frame, [sweep for sweep, _ in rows])
    sheets = (_sheet(frame, stage, number, len(rows), row, looks) for number, row in enumerate(rows, start=1))
    first = FIRST[0 if stage == frame.stages[0] else 1]
    parts = {
        "policy": f"default-src 'none'; style-src {digest(style)}; base-uri 'none'; form-action 'none'",
        "style": style,
        "title": text(f"{frame.name}, {stage}: what to measure"),
        "name": text(frame.name),
        "stage": text(stage),
        "made": datetime.now(UTC).astimezone().strftime("%Y-%m-%d %H:%M"),
        "before": bullets(map(text, (first, *BEFORE))),
        "order": "".join(_line(number, sweep) for number, (sweep, _) in enumerate(rows, start=1)),
        "cautions": bullets(map(text, CAUTIONS)),
        "symbols": "".join(f'<g id="{name}">{base.drawn}</g>' for name, _, base in looks),
        "sheets": "".join(sheets),
    }
    return filled(_asset("sheet.html"), parts)


def _asset(name: str) -> str:
    return files("framevis.sheets").joinpath("assets", name).read_text(encoding="utf-8")


def _looks(frame: Frame, sweeps: Sequence[AnySweep]) -> list[Look]:
    """The frame drawn once for each way in which beams run and face."""
    found: list[Look] = []
    for sweep in sweeps:
        beam = beam_of(sweep)
        if not any(same_look(beam, other) for _, other, _ in found):
            found.append((f"frame{len(found) + 1}", beam, overview(frame, beam)))
    return found


def _line(number: int, sweep: AnySweep) -> str:
    return (
        f'<tr><td class="square"></td><td>{number}</td><td>{text(STEPS[rank(sweep)])}</td>'
        f"<td>{text(title(sweep))}</td><td>{text(sweep.name)}</td></tr>"
    )


def uncertainty(sweep: AnySweep, unit: str) -> str:
    """The standard uncertainty of one reading in the unit of its column."""
    if isinstance(sweep, PullSweep):
        value = sweep.u_n / N_PER_UNIT[unit]
    else:
        value = sweep.u / (MRAD_PER_UNIT if sweep.is_angle else UM_PER_UNIT)[unit]
    return f"{value:.2g} {shown_unit(unit)}"


def _sheet(frame: Frame, stage: str, number: int, count: int, row: Row, looks: Sequence[Look]) -> str:
    sweep, rows = row
    beam, unit = beam_of(sweep), reading_unit(frame, sweep)
    name, base = next((name, base) for name, other, base in looks if same_look(beam, other))
    settle = touch(sweep)
    lines = [*map(text, setup(frame, sweep)), f"<strong>{text(plus(frame, sweep))}</strong>", text(zero(frame, sweep))]
    lines += [text(settle)] if settle else []
    parts = {
        "number": str(number),
        "count": str(count),
        "frame": text(frame.name),
        "stage": text(stage),
        "step": text(STEPS[rank(sweep)]),
        "title": text(title(sweep)),
        "file": text(sweep.name),
        "rows": "" if len(set(rows)) == len(rows) else ", its rows out, then back",
        "unit": text(shown_unit(unit)),
        "u": text(uncertainty(sweep, unit)),
        "instrument": _instrument(sweep),
        "blanks": "".join(f"<div><dt>{text(each)}</dt><dd></dd></div>" for each in BLANKS),
        "overview": marked(frame, sweep, base, name),
        "legend": _legend(sweep),
        "cut": cross_section(frame, sweep),
        "lines": "".join(f"<li>{line}</li>" for line in lines),
        "table": stations_table(frame, sweep, rows),
    }
    return filled(_asset("one_sheet.html"), parts)


def _instrument(sweep: AnySweep) -> str:
    named = None if isinstance(sweep, PullSweep) else sweep.instrument
    return "" if named is None else f" · instrument {text(named)}"


def _legend(sweep: AnySweep) -> str:
    named = [f"{letter} rail {text(rail.name)}" for letter, rail in zip("AB", rails_of(sweep), strict=False)]
    named = named or [f"heavy: face of beam {text(beam_of(sweep).name)}"]
    return " · ".join(("From behind the start, 0", *named))
