"""The plug is pulled at any moment: what was acknowledged is in the file, and the file can be read."""

import json
import os
import random
import re
import signal
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from framekit import write_frame
from framevis.entering.sheet import sheet_from
from framevis.reading.frame_file import read_frame
from framevis.reading.readings import problems_of

KILLS, REAL_STARTS = 200, 6
SWEEP = "left_outer_lateral"
WRITTEN = re.compile(r"^written: (\d+) mm = (-?[\d.]+) µm(?:, typed .*)?$", re.MULTILINE)


@pytest.fixture(scope="module")
def warm():
    ours, its = socket.socketpair()
    command = [sys.executable, str(Path(__file__).with_name("warm_program.py")), str(its.fileno())]
    server = subprocess.Popen(command, pass_fds=[its.fileno()], stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL)
    its.close()
    yield ours
    ours.close()
    server.wait(10)


@pytest.fixture
def folder(tmp_path):
    frame = write_frame(tmp_path / "frame", readings={})
    (frame / "readings" / "as_found").mkdir(parents=True)
    blank(frame)
    return frame


def csv_of(folder):
    return folder / "readings" / "as_found" / f"{SWEEP}.csv"


def blank(folder):
    stations = [*range(20, 1480, 20)]
    rows = "".join(f"{station},\n" for station in (*stations, *reversed(stations[:-1])))
    csv_of(folder).write_text(f"station_mm,reading_um\n{rows}")


def feed(pipe, chance):
    """Types like a gauge gone wild until nobody reads any more; the first two lines are unit and sign check."""
    lines = ["", "s", *(chance.choice(["1.5", "2,5", "0.003 mm", "-1", "4"]) for _ in range(300))]
    try:
        with os.fdopen(pipe, "w") as file:
            for line in lines:
                file.write(f"{line}\n")
                file.flush()
    except BrokenPipeError:
        pass


def read_all(pipe):
    with os.fdopen(pipe, encoding="utf-8", errors="replace") as file:
        return file.read()


def rows_in(folder):
    """What stands in the file after the plug was pulled: it must be readable as it is."""
    sweep = next(each for each in read_frame(folder).sweeps if each.name == SWEEP)
    assert problems_of(csv_of(folder), sweep, "x") == ()
    sheet = sheet_from(csv_of(folder).read_bytes())
    return [(sheet.cell(row, "station_mm"), sheet.cell(row, "reading_um")) for row in range(len(sheet.rows))]


def acknowledged(output):
    """What the program said that it has written; read again while in doubt, the last one counts."""
    said = []
    for station, value in WRITTEN.findall(output[: output.rfind("\n") + 1]):
        if said and said[-1][0] == station:
            said.pop()
        said.append((station, value))
    return said


def killed_run(start, stop, delay, chance):
    """One run that is killed after a while; what it said."""
    to_read, to_type = os.pipe()
    to_show, to_say = os.pipe()
    start(to_read, to_say)
    os.close(to_read)
    os.close(to_say)
    typing = threading.Thread(target=feed, args=(to_type, chance))
    typing.start()
    shown = []
    listening = threading.Thread(target=lambda: shown.append(read_all(to_show)))
    listening.start()
    time.sleep(delay)
    ended = stop()
    typing.join()
    listening.join()
    return ended, shown[0]


def check(folder, before, output):
    """Everything that stood there before and everything acknowledged is there, in the order of the rows."""
    rows = rows_in(folder)
    held, said = [row for row in rows if row[1]], acknowledged(output)
    assert held[: len(before)] == before
    new = held[len(before) :]
    if new != said:  # the last one may have been written, or read again while in doubt, and not been shown yet
        assert new[:-1] in (said, said[:-1])
        assert len(new) >= len(said)
    visible = [path.name for path in csv_of(folder).parent.iterdir() if not path.name.startswith(".framevis.")]
    assert visible == [f"{SWEEP}.csv"]
    return held, len(said), len(rows) - len(held)


def test_two_hundred_kills_lose_nothing_that_was_acknowledged(warm, folder):
    chance = random.Random(5)
    argv = json.dumps(["enter", str(folder), "--stage", "as_found", "--sweep", SWEEP]).encode()

    def start(stdin, stdout):
        socket.send_fds(warm, [argv], [stdin, stdout])
        assert warm.recv(64) == b"started"

    def stop():
        warm.sendall(b"kill")
        return warm.recv(64)

    before, total, killed_while_writing, reach = [], 0, 0, 0.12
    for kills in range(KILLS):
        reach *= 1.1 if total < kills else 1.0  # where the machine is slow the program needs longer to get to work
        ended, output = killed_run(start, stop, chance.uniform(0.0, reach), chance)
        before, said, left = check(folder, before, output)
        total += said
        killed_while_writing += said > 0 and left > 0 and ended == b"killed"
        if not left:
            blank(folder)
            before = []
    assert total > KILLS  # the kills met a program at work
    assert killed_while_writing > KILLS // 4


def test_killed_as_a_user_starts_it(folder):
    chance = random.Random(6)
    command = [sys.executable, "-m", "framevis", "enter", str(folder), "--stage", "as_found", "--sweep", SWEEP]
    environment = os.environ | {"PYTHONIOENCODING": "utf-8"}
    before, total = [], 0
    for _ in range(REAL_STARTS):
        running = []

        def start(stdin, stdout, running=running):
            running.append(subprocess.Popen(command, stdin=stdin, stdout=stdout, env=environment))

        def stop(running=running):
            running[0].send_signal(signal.SIGKILL)
            return running[0].wait()

        _, output = killed_run(start, stop, chance.uniform(0.5, 1.0), chance)
        before, said, _ = check(folder, before, output)
        total += said
    assert total > 0
