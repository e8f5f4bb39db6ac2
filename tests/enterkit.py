"""A sample sweep to be typed in: its state, a conversation over a list of lines, its file read back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from framekit import SAMPLE_TOML, write_frame
from framevis.entering.conversation import advanced
from framevis.entering.dialogue import begin
from framevis.entering.sheet import Sheet, new_sheet, sheet_from
from framevis.entering.state import State
from framevis.frame import PullSweep, Sweep
from framevis.reading.frame_file import read_frame
from framevis.reading.readings import problems_of

PULL = '\n[sweep.left_pull]\nkind = "pull"\ncarriage = "left"\nu_n = 0.3\n'
UNITS = {
    "left_outer_lateral": ("reading_um",),
    "left_spacing": ("reading_um",),
    "left_tops": ("go_um", "no_go_um"),
    "left_mouth": ("reading_mm",),
    "left_across": ("reading_mm_per_m",),
    "left_pull": ("breakaway_n", "running_n", "breakaway_back_n", "running_back_n"),
}
STATIONS = ("100", "300", "500", "700", "900", "1100", "1300")
OUT_AND_BACK = (*STATIONS, *reversed(STATIONS[:-1]))


def sweep_named(folder: Path, name: str, toml: str = SAMPLE_TOML + PULL) -> Sweep | PullSweep:
    frame = read_frame(write_frame(folder, toml, {}))
    return next(each for each in (*frame.sweeps, *frame.pulls) if each.name == name)


@dataclass
class Desk:
    """Types lines and keeps every version that would be on the disk; a version must be readable to be kept."""

    folder: Path
    state: State
    kept: list[str] = field(default_factory=list)

    def keep(self, sheet: Sheet):
        path = self.folder / "version.csv"
        path.write_bytes(sheet.text.encode())
        wrong = problems_of(path, self.state.sweep, "version.csv")
        if not wrong:
            self.kept.append(sheet.text)
        return wrong

    def type(self, *lines: str) -> State:
        for line in lines:
            self.state = advanced(self.state, line, self.keep)
        return self.state

    @property
    def said(self) -> str:
        return " ".join(self.state.said)


def desk_for(
    folder: Path,
    name: str,
    stations: Sequence[str] = OUT_AND_BACK,
    text: str | None = None,
    toml: str = SAMPLE_TOML + PULL,
) -> Desk:
    sweep = sweep_named(folder, name, toml)
    sheet = new_sheet(stations, "mm", UNITS[name]) if text is None else sheet_from(text.encode())
    return Desk(folder, begin(sweep, "as_found", "mm", sheet))
