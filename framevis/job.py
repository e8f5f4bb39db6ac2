"""From a frame that was read to a study of one of its stages: the one way in, for the command line and for Python."""

from __future__ import annotations

from framevis.errors import BadInput, problem
from framevis.frame import Frame
from framevis.reading.readings import read_stage, stages_present
from framevis.study import DRAWS, SEED, Study, work_through


def study_of(frame: Frame, stage: str | None = None, draws: int = DRAWS, seed: int = SEED) -> Study:
    """Read a stage, by default the latest that has readings, and work it through."""
    present = stages_present(frame)
    if stage is None and not present:
        raise BadInput(problem("readings", "no stage has readings yet", "put CSV files into readings/STAGE/"))
    return work_through(frame, read_stage(frame, present[-1] if stage is None else stage), draws, seed)
