"""A sweep's file on the disk: one program at a time, each version there whole, and safe before anything is said.

Takes a stage's folder and a sweep's name. A version is written beside the file, read back by its reader, forced onto
the disk, and only then given the file's name; a machine that loses its power finds the last version or this one.
"""

from __future__ import annotations

import errno
import fcntl
import os
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from itertools import count
from pathlib import Path

from framevis.errors import BadInput, Problem, problem
from framevis.reading.door import one_line, quoted
from framevis.reading.readings import FOLDER

Check = Callable[[Path], tuple[Problem, ...]]


def stage_folder(folder: Path, stage: str) -> Path:
    """The folder of a stage's readings, made where there is none yet."""
    inside = folder / FOLDER / stage
    try:
        inside.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise BadInput(cannot_write(one_line(f"{FOLDER}/{stage}"), error)) from error
    return inside


def file_of(folder: Path, sweep: str) -> Path:
    """Where a sweep's readings stand or will stand; .CSV in capitals is the same file to the reader."""
    with suppress(OSError):
        for path in sorted(folder.iterdir()):
            if path.suffix.lower() == ".csv" and path.name[:-4] == sweep:
                return path
    return folder / f"{sweep}.csv"


def shown(path: Path) -> str:
    """A readings file as its reader names it."""
    return one_line(f"{FOLDER}/{path.parent.name}/{path.name}")


def cannot_write(place: str, error: OSError) -> Problem:
    """What to say where the disk refuses."""
    if error.errno == errno.EROFS:
        what, todo = "stands on a medium that can only be read", "copy the frame's folder to a disk and go on there"
    elif error.errno in (errno.EACCES, errno.EPERM):
        what, todo = "may not be written", "ask for the right to write there, or copy the frame's folder"
    elif error.errno in (errno.ENOSPC, errno.EDQUOT):
        what, todo = "can't be written, the disk is full", "make room, then go on"
    else:
        what, todo = f"can't be written ({error.strerror or error})", "check the disk, then go on"
    return problem(place, what, todo)


@contextmanager
def held(path: Path) -> Iterator[None]:
    """Hold a sweep's file as long as the block runs. Raises `BadInput` where another program holds it.

    The operating system lets go of the lock when a program ends in whatever way, so a dead one never blocks.
    """
    lock = _hidden(path, "lock")
    try:
        handle = _locked(lock)
    except BlockingIOError as error:
        what = f"another program is entering this sweep ({_holder(lock)})"
        raise BadInput(problem(shown(path), what, "finish there first, or take another sweep")) from error
    except OSError as error:
        raise BadInput(cannot_write(shown(path), error)) from error
    try:
        yield
    finally:
        with suppress(OSError):
            lock.unlink()
        os.close(handle)


def _locked(lock: Path) -> int:
    """An open, locked file that still has its name: the one before may have just taken it away."""
    while True:
        handle = os.open(lock, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            if _is_named(handle, lock):
                os.ftruncate(handle, 0)
                os.write(handle, str(os.getpid()).encode())
                return handle
        except BaseException:
            os.close(handle)
            raise
        os.close(handle)


def _is_named(handle: int, lock: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(handle), lock.stat())
    except FileNotFoundError:
        return False


def _holder(lock: Path) -> str:
    try:
        number = lock.read_text(encoding="ascii", errors="replace").strip()[:20]
    except OSError:
        number = ""
    return f"process {number}" if number.isdigit() else "its process number isn't known yet"


def _hidden(path: Path, ending: str) -> Path:
    """A hidden name beside a file, short whatever the sweep's name is."""
    return path.with_name(f".framevis.{zlib.crc32(os.fsencode(path.name)):08x}.{ending}")


def keep(path: Path, raw: bytes, check: Check | None = None) -> tuple[Problem, ...]:
    """Put a whole version of a file in its place, or say why its reader would refuse it. The caller holds the file.

    Raises `BadInput` where the disk refuses; the version before then still stands.
    """
    with _beside(path, raw) as beside:
        wrong = check(beside) if check else ()
        if not wrong:
            beside.replace(path)
            _sync_folder(path.parent)
        return wrong


def refused(path: Path, raw: bytes, check: Check) -> tuple[Problem, ...]:
    """Why the reader of a file would refuse this version; nothing is put in its place."""
    with _beside(path, raw) as beside:
        return check(beside)


@contextmanager
def _beside(path: Path, raw: bytes) -> Iterator[Path]:
    """A version on the disk under a hidden name, gone afterwards unless it was renamed."""
    beside = _hidden(path, "new")
    try:
        write_through(beside, raw)
        yield beside
    except OSError as error:
        raise BadInput(cannot_write(shown(path), error)) from error
    finally:
        with suppress(OSError):
            beside.unlink()


def keep_another(folder: Path, name: str, raw: bytes) -> str:
    """Keep some bytes in a folder under this name, or with a number behind it, never over another file; its name."""
    try:
        folder.mkdir(exist_ok=True)
        for number in count(1):
            target = folder / (name if number == 1 else f"{Path(name).stem} ({number}){Path(name).suffix}")
            if target.is_file() and target.read_bytes() == raw:
                return target.name
            with suppress(FileExistsError):
                os.close(os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o644))  # the name is ours now
                keep(target, raw)
                return target.name
    except OSError as error:
        raise BadInput(cannot_write(one_line(f"{FOLDER}/{folder.parent.name}/{folder.name}"), error)) from error
    raise AssertionError("there are more numbers than files")


def write_through(path: Path, raw: bytes) -> None:
    with path.open("wb") as file:
        file.write(raw)
        file.flush()
        os.fsync(file.fileno())


def _sync_folder(folder: Path) -> None:
    """Force a new name onto the disk too (POSIX: fsync of the folder)."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno != errno.EINVAL:  # some file systems have nothing to force for a folder
            raise
    finally:
        os.close(handle)


def read_bytes(path: Path) -> bytes | None:
    """What stands in a file; None where there is none."""
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return None
    except OSError as error:
        why = f"can't be read ({error.strerror or error})"
        raise BadInput(problem(quoted(shown(path), 200), why, "check its permissions")) from error
