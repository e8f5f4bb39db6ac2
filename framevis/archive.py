"""Many frames at once, as a shop keeps them: which folders hold one, and each worked through in its own process.

Takes folders, gives for each a line of JSON, what its row of the table needs, or why it can't be used. The numbers
are loaded only where a frame is worked through: the process that waits for the others needs none of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from framevis.errors import BadInput
from framevis.reading.door import one_line

if TYPE_CHECKING:
    from framevis.pulls.calibrate import Calibration
    from framevis.study import Study
    from framevis.verdicts import Verdict

FILE = "frame.toml"


@dataclass(frozen=True)
class Task:
    """One frame to assess, and how: the options of `framevis assess`."""

    folder: Path
    stage: str | None
    as_json: bool
    calibrated: bool
    draws: int
    seed: int


@dataclass(frozen=True)
class Worst:
    """The block of a frame that is likeliest to bind: CARRIAGE/BLOCK, its chances, highest drag ratio, and where, in
    the frame's own unit."""

    block: str
    p_tight: float
    p_binding: float
    drag_ratio: float
    where: str


@dataclass(frozen=True, eq=False)
class Summary:
    """A frame in one row: how many blocks have each verdict, the worst one, how many readings are suspect, and what
    else casts doubt on it, a sentence each."""

    folder: str
    frame: str
    stage: str
    counts: Mapping[Verdict, int]
    worst: Worst
    suspects: int
    doubts: tuple[str, ...]


@dataclass(frozen=True)
class Refused:
    """A frame that can't be used: every problem, a sentence each."""

    folder: str
    problems: tuple[str, ...]


def frames_in(folders: Iterable[Path]) -> list[Path]:
    """The folders with every archive, a folder that is no frame but holds some, replaced by its frames, by name.

    A folder that is neither stays: reading it says what is wrong with it.
    """
    return [frame for folder in folders for frame in ([folder] if _is_frame(folder) else _inside(folder) or [folder])]


def _is_frame(folder: Path) -> bool:
    try:
        return (folder / FILE).exists()
    except OSError:
        return False


def _inside(folder: Path) -> list[Path]:
    """The frames directly in a folder; hidden ones are somebody else's."""
    try:
        return sorted(each for each in folder.iterdir() if not each.name.startswith(".") and _is_frame(each))
    except OSError:
        return []


def work_on(task: Task) -> Summary | str | Refused:
    """One frame: its line of JSON or its summary, as asked, or what is wrong with it."""
    folder = str(task.folder)
    try:
        study, calibration = studied(task.folder, task.stage, task.draws, task.seed, task.calibrated)
    except BadInput as bad:
        return Refused(folder, tuple(map(str, bad.problems)))
    except OSError as error:
        return Refused(folder, (f"can't be read: {error.strerror or error}: mend it or leave it out",))
    if not task.as_json:
        return summary(folder, study)
    import json

    return json.dumps(line_of(folder, study, calibration), ensure_ascii=False, allow_nan=False)


def lost(task: Task) -> Refused:
    """What is said of a frame when a process was killed before it was done."""
    what = "not done: one of the processes was ended from outside, perhaps for want of memory"
    return Refused(str(task.folder), (f"{what}: assess it again, alone or with fewer --draws",))


def studied(
    folder: Path, stage: str | None, draws: int, seed: int, calibrated: bool = False
) -> tuple[Study, Calibration | None]:
    """Read a frame and work one stage through, fitted to its pull readings where that is asked for."""
    from framevis.reading.frame_file import read_frame

    if calibrated:
        from framevis.pulls.calibrate import calibrated_study

        return calibrated_study(read_frame(folder), stage, draws, seed)
    from framevis.job import study_of

    return study_of(read_frame(folder), stage, draws, seed), None


def line_of(folder: str, study: Study, calibration: Calibration | None) -> dict[str, Any]:
    """What `assess --json` prints of the frame alone, and its folder."""
    from framevis.report_json import assessment

    return {"folder": folder, **assessment(study, calibration)}


def summary(folder: str, study: Study) -> Summary:
    from framevis.say import length, mistaken, unsolved
    from framevis.verdicts import RANK

    blocks = [(carriage, block) for carriage in study.carriages for block in carriage.blocks]
    carriage, worst = max(
        blocks, key=lambda both: (both[1].p_binding, both[1].p_tight, float(both[1].drag_ratio.max()))
    )
    ratio, where = float(worst.drag_ratio.max()), length(study.frame, worst.worst_station_mm)
    return Summary(
        folder=folder,
        frame=study.frame.name,
        stage=study.stage,
        counts={verdict: sum(block.verdict == verdict for _, block in blocks) for verdict in RANK},
        worst=Worst(f"{carriage.name}/{worst.name}", worst.p_tight, worst.p_binding, ratio, where),
        suspects=sum(int(checked.suspect.sum()) for checked in study.posterior.checked),
        doubts=tuple(map(one_line, (*unsolved(study), *mistaken(study)))),
    )
