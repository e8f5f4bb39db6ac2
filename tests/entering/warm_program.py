"""The program, loaded once and forked for each run: for tests that start it hundreds of times.

Over a socket: a run's stdin and stdout come as file descriptors with its arguments; "kill" ends that run by SIGKILL.
Each run is a process of its own that goes through the command line's own `main`.
"""

import json
import os
import signal
import socket
import sys

import framevis.cli
import framevis.commands.enter
import framevis.entering.choosing
import framevis.entering.conversation
import framevis.entering.screen
import framevis.reading.frame_file
import framevis.reading.readings


def run(argv: list[str], files: list[int]) -> int:
    child = os.fork()
    if child:
        for file in files:
            os.close(file)
        return child
    for file, number in zip(files, (0, 1), strict=True):
        os.dup2(file, number)
    sys.argv = ["framevis", *argv]
    sys.stdin, sys.stdout = open(0, encoding="utf-8"), open(1, "w", encoding="utf-8")  # noqa: SIM115
    try:
        framevis.cli.main()
    finally:
        os._exit(0)


def serve(line: socket.socket) -> None:
    while True:
        message, files, _, _ = socket.recv_fds(line, 65536, 2)
        if not message:
            return
        child = run(json.loads(message), files)
        line.sendall(b"started")
        line.recv(64)
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        line.sendall(b"killed" if os.WIFSIGNALED(status) else b"ended")


if __name__ == "__main__":
    serve(socket.socket(fileno=int(sys.argv[1])))
