"""The check before final torque as a sheet of text to print and sign, and as a JSON object.

Takes a study and its checks, prints to a rich console; the words are shared with the HTML sheet.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.table import Table

from framevis.assumptions import unsafe
from framevis.frame import Frame
from framevis.report import shown
from framevis.say import CAUTION
from framevis.screws import Torque
from framevis.study import Study
from framevis.torque.check import Check, State, is_fit
from framevis.torque.tightening import AFTER, BEFORE, FOLLOWER, FROM_WORDS, MASTER, RailTightening, steps, tightenings

FORMAT = 1
WIDTH = 96  # columns that fit A4 in print
MARKS: dict[State, str] = {"passed": "✓ passed", "failed": "✗ FAILED", "not measured": "? not measured"}
LBF_IN_PER_NM = 8.850746  # 1 lbf = 4.4482216152605 N, 1 in = 25.4 mm
NOT_YET = "Don't tighten to final torque yet: what follows is for when it is fit."
WINS = "The maker's value wins: write it beside the computed one, tighten to it, and enter it as torque_nm."
SIGN = (
    "Maker's torque, from",
    "Torque applied, N·m",
    "Torque wrench, no.",
    "Temperature now, °C",
    "Date",
    "Name",
    "Signature",
)
MOST_LISTED = 6


@dataclass(frozen=True)
class Kind:
    """Screws that are tightened alike, of which rails. `sort`: size, class and friction as entered."""

    sort: str
    rails: tuple[str, ...]
    screws: int
    torque: Torque

    @property
    def says(self) -> str:
        many = "screw" if self.screws == 1 else "screws"
        return f"{self.screws} {many} of {', '.join(self.rails)}: {self.torque.rests_on}"


def verdict(checks: Sequence[Check]) -> str:
    """One sentence: fit or not, and what the count of checks says."""
    count = Counter(check.state for check in checks)
    open_ = count["not measured"]
    left = f"; {open_} not measured: judge {'that' if open_ == 1 else 'those'} yourself" if open_ else ""
    if is_fit(checks):
        return f"FIT for final torque: {count['passed']} of {len(checks)} checks passed{left}."
    return f"NOT FIT for final torque: {count['failed']} of {len(checks)} checks failed{left}."


def kinds(frame: Frame) -> list[Kind]:
    """The screws of all rails, those that are alike together, in the order of work."""
    found: dict[tuple[str, Torque], list[RailTightening]] = {}
    for each in tightenings(frame):
        found.setdefault((sort_of(each), each.torque), []).append(each)
    return [
        Kind(sort, tuple(each.rail.name for each in group), sum(each.rail.screws for each in group), torque)
        for (sort, torque), group in found.items()
    ]


def sort_of(tightening: RailTightening) -> str:
    guide = tightening.rail.guide
    return f"{guide.screw or 'screw not named'} · {guide.screw_class} · µ {guide.screw_friction:g}"


def torque_text(nm: float | None) -> str:
    """A torque to set, in N·m; a line to write on where there is none."""
    return "______" if nm is None else f"{nm:.{2 if nm < 3.0 else 1}f}"


def in_inches(frame: Frame) -> str | None:
    """The torques in lbf·in, for a machine in inches."""
    if frame.length_unit != "in":
        return None
    listed = (
        f"{number}) {' / '.join(f'{nm * LBF_IN_PER_NM:.1f}' for nm in kind.torque.stages_nm)}"
        for number, kind in enumerate(kinds(frame), start=1)
        if kind.torque.stages_nm
    )
    text = ", ".join(listed)
    return f"In lbf·in: {text}." if text else None


def screws_text(tightening: RailTightening) -> str:
    """The order of the screws in few words."""
    order = [str(number) for number in tightening.screws]
    if len(order) > MOST_LISTED:
        order = [*order[: MOST_LISTED - 2], "…", *order[-1:]]
    return ", ".join(order)


def order_text(tightening: RailTightening) -> str:
    many = "screw" if tightening.rail.screws == 1 else "screws"
    return f"{tightening.rail.screws} {many} {FROM_WORDS[tightening.begin]}: {screws_text(tightening)}"


def masters_note(frame: Frame) -> str:
    if frame.tightening.masters:
        return "Master rails and directions are those of [tightening] in frame.toml."
    return (
        "No master rail is named in frame.toml ([tightening], master): taken as such is the rail of each carriage's "
        "first block. Direction and masters are your own choice."
    )


def print_torque(study: Study, checks: Sequence[Check], console: Console) -> None:
    """The whole sheet."""
    frame = study.frame
    console.print(f"[bold]{shown(frame.name)} · stage {shown(study.stage)} · check before final torque[/bold]")
    console.print(f"[bold]{verdict(checks)}[/bold]\n")
    console.print(_checks(checks))
    console.print(f"\n{unsafe(study)}")
    if not is_fit(checks):
        console.print(f"\n[bold]{NOT_YET}[/bold]")
    _torques(frame, console)
    _sequence(frame, console)
    _signing(console)
    console.print(f"\n[bold]{CAUTION}[/bold]")


def _table(*columns: str) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for name in columns:
        table.add_column(name, overflow="fold")
    return table


def _checks(checks: Sequence[Check]) -> Table:
    table = _table("", "check, in the order of work")
    table.columns[0].no_wrap = True
    for check in checks:
        bold = "[bold]" if check.state == "failed" else ""
        table.add_row(f"{bold}{MARKS[check.state]}", f"[bold]{check.title}[/bold]: {shown(check.says)}")
    return table


def _torques(frame: Frame, console: Console) -> None:
    console.print("\n[bold]Torques in N·m, in three stages[/bold]")
    table = _table("", "screws", "1/3", "2/3", "full", "maker's", "applied")
    resting = []
    for number, kind in enumerate(kinds(frame), start=1):
        torques = kind.torque.stages_nm or (None, None, None)
        cells = [torque_text(nm) for nm in torques]
        table.add_row(f"{number})", shown(kind.sort), *cells, "______", "______")
        resting.append(f"{number}) {kind.says}")
    console.print(table)
    for text in filter(None, [in_inches(frame), *resting, WINS]):
        console.print(Padding(shown(text), (0, 0, 0, 2), expand=False))


def _sequence(frame: Frame, console: Console) -> None:
    console.print("\n[bold]Sequence[/bold]")
    for text in BEFORE:
        console.print(Padding(f"· {text}", (0, 0, 0, 2), expand=False))
    table = _table("", "rail", "order", "1/3", "2/3", "full")
    for number, each in enumerate(tightenings(frame), start=1):
        done = (f"\\[ ] {torque_text(nm)}" for nm in each.torque.stages_nm or (None,) * 3)
        table.add_row(f"{number}", f"{shown(each.rail.name)}, {each.role}", order_text(each), *done)
    console.print(table)
    for text in (f"Master: {MASTER}.", f"Follower: {FOLLOWER}.", masters_note(frame), *AFTER):
        console.print(Padding(f"· {shown(text)}", (0, 0, 0, 2), expand=False))


def _signing(console: Console) -> None:
    console.print()
    for text in SIGN:
        console.print(f"{text:<24}{'_' * 48}")


def torque_json(study: Study, checks: Sequence[Check]) -> dict[str, Any]:
    """The object that `torque --json` prints. Torques are those to set, rounded to what a wrench can be set to."""
    rails = tightenings(study.frame)
    return {
        "format": FORMAT,
        "frame": study.frame.name,
        "stage": study.stage,
        "fit": is_fit(checks),
        "checks": [{"check": check.title, "state": check.state, "says": check.says} for check in checks],
        "screws": [_screws(each) for each in rails],
        "order": [
            {
                "step": step.number,
                "rail": step.tightening.rail.name,
                "role": step.tightening.role,
                "stage": step.stage,
                "torque_nm": step.torque_nm,
                "from": step.tightening.begin,
                "screws": list(step.tightening.screws),
                "how": step.tightening.how,
            }
            for step in steps(study.frame)
        ],
    }


def _screws(tightening: RailTightening) -> dict[str, Any]:
    guide, stages = tightening.rail.guide, tightening.torque.stages_nm
    return {
        "rail": tightening.rail.name,
        "screw": guide.screw,
        "class": guide.screw_class,
        "friction": guide.screw_friction,
        "count": tightening.rail.screws,
        "torque_nm": stages[-1] if stages else None,
        "stages_nm": list(stages),
        "makers": tightening.torque.is_makers,
        "rests_on": tightening.torque.rests_on,
    }
