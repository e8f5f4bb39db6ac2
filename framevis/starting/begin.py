"""Writes a new frame folder, whole or not at all, and never over an existing one.

Takes a folder and the text of its frame.toml; gives the path of the file, or raises `BadInput` with one sentence.
"""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from framevis.errors import BadInput, problem
from framevis.outfile import beside, check_target
from framevis.reading.door import one_line

FILE, READINGS = "frame.toml", "readings"


def check_new(folder: Path) -> None:
    """Refuse a folder in which no new frame can be begun, before anything is asked."""
    path, shown = folder / FILE, one_line(str(folder))
    try:
        if os.path.lexists(path):
            todo = "nothing is overwritten: name a new folder"
            raise BadInput(problem(one_line(str(path)), "is there already", todo))
        if folder.exists() and not folder.is_dir():
            raise BadInput(problem(shown, "is not a folder", "give the name of a new folder"))
        if not folder.exists() and not folder.parent.is_dir():
            what = f"there is no folder {one_line(str(folder.parent))}"
            raise BadInput(problem(shown, what, "make it first, or begin elsewhere"))
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) else None
        raise BadInput(problem(shown, "can't be a folder", why or "choose another name")) from error
    inside = folder if folder.is_dir() else folder.parent
    if not os.access(inside, os.W_OK | os.X_OK):
        raise BadInput(problem(shown, f"nothing may be written in {one_line(str(inside))}", "begin elsewhere"))


def write_new(folder: Path, text: str, stage: str) -> Path:
    """Write frame.toml and an empty readings/STAGE; what was made on the way goes again where something fails."""
    check_new(folder)
    path, made = folder / FILE, list[Path]()
    try:
        for each in (folder, folder / READINGS, folder / READINGS / stage):
            if not each.is_dir():
                each.mkdir()
                made.append(each)
        check_target(path, (".toml",), "a frame")
        with beside(path) as hidden:
            hidden.write_text(text, encoding="utf-8", newline="\n")
            check_new(folder)
    except BaseException as error:
        for each in reversed(made):
            with suppress(OSError):
                each.rmdir()
        if isinstance(error, OSError):
            what = error.strerror or str(error)
            raise BadInput(problem(one_line(str(folder)), "can't be written", what)) from error
        raise
    return path
