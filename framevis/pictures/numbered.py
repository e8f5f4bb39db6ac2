"""Names for pictures that are taken from the window: numbered, so that none replaces another."""

from __future__ import annotations

import os
import re
from pathlib import Path

from framevis.errors import BadInput, problem


def free_name(folder: Path, frame_name: str, stage: str) -> Path:
    """The first NAME_STAGE_001.png, _002, … that isn't there yet; it is made, empty, so that it stays ours.

    Raises `BadInput` where nothing may be written in the folder.
    """
    stem = re.sub(r"[^\w.-]+", "_", f"{frame_name}_{stage}").strip("._") or "frame"
    number = 1
    while True:
        path = folder / f"{stem[:80]}_{number:03d}.png"
        try:
            os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o644))
        except FileExistsError:
            number += 1
        except OSError as error:
            raise BadInput(problem(str(path), "can't be written", error.strerror or str(error))) from error
        else:
            return path
