"""Files that somebody asked for: checked before the work begins, there whole or not at all.

Takes a path, raises `BadInput` with one sentence where nothing can be written to it.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from itertools import count
from pathlib import Path

from framevis.errors import BadInput, problem

_NUMBER = count()  # several files may be written at once


def check_target(path: Path, suffixes: Sequence[str], what: str) -> None:
    """The name must end in one of the suffixes, in a folder where one may write. `what`: what is written."""
    if path.suffix.lower() not in suffixes:
        *most, last = suffixes
        ends = f"{', '.join(most)} or {last}" if most else last
        raise BadInput(problem(str(path), f"{what} can't have this name", f"give a name that ends in {ends}"))
    folder = path.parent
    try:
        path.exists()
    except OSError as error:  # a name too long for the disk, say
        raise BadInput(problem(str(path), "can't be written", error.strerror or str(error))) from error
    if not folder.is_dir():
        raise BadInput(problem(str(path), f"there is no folder {folder}", "make it first, or write elsewhere"))
    if path.is_dir():
        raise BadInput(problem(str(path), "is a folder", "give the name of a file"))
    if not os.access(folder, os.W_OK):
        raise BadInput(problem(str(path), f"nothing may be written in {folder}", "write elsewhere"))


@contextmanager
def beside(path: Path) -> Iterator[Path]:
    """A hidden name in the same folder to write to; it becomes `path` at the end, or goes where something fails."""
    hidden = path.with_name(f".framevis.{os.getpid()}.{next(_NUMBER)}{path.suffix.lower()}")
    try:
        yield hidden
        hidden.replace(path)
    except OSError as error:
        raise BadInput(problem(str(path), "can't be written", error.strerror or str(error))) from error
    finally:
        with suppress(OSError):
            hidden.unlink()
