"""One program at a time, and every version on the disk before anything is said."""

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest

from framevis.entering import disk
from framevis.errors import BadInput, problem

HOLD = (
    "import sys, pathlib; from framevis.entering import disk\n"
    "with disk.held(pathlib.Path(sys.argv[1])):\n    print('held', flush=True)\n    sys.stdin.read()\n"
)


@pytest.fixture
def path(tmp_path) -> Path:
    folder = tmp_path / "readings" / "as_found"
    folder.mkdir(parents=True)
    return folder / "left ü.csv"


def names(path):
    return sorted(each.name for each in path.parent.iterdir())


def test_bytes_then_name_then_folder_are_forced_onto_the_disk_in_this_order(path, monkeypatch):
    done = []
    fsync, replace = os.fsync, Path.replace
    monkeypatch.setattr(os, "fsync", lambda fd: (done.append(Path(f"/proc/self/fd/{fd}").readlink()), fsync(fd)))
    monkeypatch.setattr(Path, "replace", lambda old, new: (done.append("renamed"), replace(old, new))[1])
    assert disk.keep(path, b"one") == ()
    beside, renamed, folder = done
    assert beside.name.startswith(".framevis.")
    assert beside.parent == folder == path.parent.resolve()
    assert renamed == "renamed"
    assert path.read_bytes() == b"one"
    assert names(path) == [path.name]


def test_a_version_that_its_reader_refuses_is_not_put_in_place(path):
    disk.keep(path, b"one")
    wrong = problem("x", "is wrong", "mend it")
    seen = []
    assert disk.keep(path, b"two", lambda beside: (seen.append(beside.read_bytes()), (wrong,))[1]) == (wrong,)
    assert (seen, path.read_bytes(), names(path)) == ([b"two"], b"one", [path.name])


@pytest.mark.parametrize(
    ("number", "words"),
    [(errno.EROFS, "medium that can only be read"), (errno.EACCES, "may not be written"),
     (errno.ENOSPC, "disk is full"), (errno.EIO, "can't be written")],
)  # fmt: skip
def test_a_disk_that_refuses_is_said_and_the_last_version_stands(path, monkeypatch, number, words):
    disk.keep(path, b"one")

    def refuse(fd):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, "fsync", refuse)
    with pytest.raises(BadInput, match=words):
        disk.keep(path, b"two")
    assert (path.read_bytes(), names(path)) == (b"one", [path.name])


def test_the_second_program_is_told_and_a_dead_one_does_not_block(path):
    other = subprocess.Popen([sys.executable, "-c", HOLD, path], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    assert other.stdout.readline() == b"held\n"
    with (
        pytest.raises(BadInput, match=rf"another program is entering this sweep \(process {other.pid}\)"),
        disk.held(path),
    ):
        pass
    with disk.held(path.with_name("another.csv")):
        pass
    other.kill()
    other.communicate()
    assert len(names(path)) == 1  # its lock file is still there
    with disk.held(path):
        assert len(names(path)) == 1
    assert names(path) == []


def test_a_folder_where_nothing_can_be_written(tmp_path):
    (tmp_path / "readings").write_text("a file in the way")
    with pytest.raises(BadInput, match="can't be written"):
        disk.stage_folder(tmp_path, "as_found")


def test_another_file_of_a_name_gets_a_number_and_the_same_none(tmp_path):
    folder = tmp_path / "originals"
    assert [disk.keep_another(folder, "a.csv", raw) for raw in (b"1", b"2", b"1", b"3", b"2")] == [
        "a.csv", "a (2).csv", "a.csv", "a (3).csv", "a (2).csv",
    ]  # fmt: skip
    assert {each.name: each.read_bytes() for each in folder.iterdir()} == {
        "a.csv": b"1", "a (2).csv": b"2", "a (3).csv": b"3",
    }  # fmt: skip
