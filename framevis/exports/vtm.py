"""Writes a multiblock as OUT.vtm with its parts in the folder OUT beside it: both whole, or neither.

Everything is written to a hidden folder first, then moved into place; what was there is put back if that fails.
"""

from __future__ import annotations

import os
import re
from pathlib import Path
from shutil import rmtree
from typing import TYPE_CHECKING

from framevis.errors import BadInput, problem

if TYPE_CHECKING:
    from pyvista import MultiBlock

PIECE = re.compile(r".+_\d+\.vt[a-z]")


def check_folder(path: Path) -> None:
    """The folder of the parts gets replaced: it must hold nothing but parts of an earlier export."""
    folder = path.with_suffix("")
    if not os.path.lexists(folder):
        return
    others = not folder.is_dir() or any(not PIECE.fullmatch(file.name) for file in folder.iterdir())
    if others:
        raise BadInput(problem(str(path), f"its parts would go to {folder}, which is in use", "give another name"))


def write_vtm(blocks: MultiBlock, path: Path) -> None:
    """Write the multiblock. Raises `BadInput` where it can't be written."""
    hidden = path.with_name(f".{path.stem}.{os.getpid()}")
    try:
        hidden.mkdir()
        fresh = hidden / f"{path.stem}.vtm"
        blocks.save(fresh)
        if len(list(fresh.with_suffix("").iterdir())) != len(blocks):  # VTK only prints what went wrong
            raise OSError(0, "the disk took only a part of it")
        _move(fresh, path, hidden / "old")
    except OSError as error:
        raise BadInput(problem(str(path), "can't be written", error.strerror or str(error))) from error
    finally:
        rmtree(hidden, ignore_errors=True)


def _move(fresh: Path, path: Path, old: Path) -> None:
    """Put the new folder and file in the place of the old ones, or leave the old ones."""
    folder, was_there = path.with_suffix(""), path.with_suffix("").exists()
    if was_there:
        folder.rename(old)
    try:
        fresh.with_suffix("").rename(folder)
        fresh.replace(path)
    except OSError:
        rmtree(folder, ignore_errors=True)
        if was_there:
            old.rename(folder)
        raise
