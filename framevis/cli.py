"""The command line: runs a command and says in one sentence a problem what went wrong."""

from __future__ import annotations

import io
import os
import sys

# The matrices are small and the batches of states already take all cores: BLAS threads only get in their way.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from cyclopts import CycloptsError

from framevis.commands import advise, begin, correct, enter, judge, show
from framevis.commands.common import app, load
from framevis.errors import BadInput

__all__ = ["advise", "app", "begin", "correct", "enter", "judge", "load", "main", "show"]


def main() -> None:
    """Run a command; bad input ends with exit code 2 and one sentence a problem on standard error."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # a console that has no ■ still gets the words
    try:
        app(sys.argv[1:], exit_on_error=False, print_error=False)
        sys.stdout.flush()
    except BadInput as bad:
        refuse(*map(str, bad.problems))
    except CycloptsError as wrong:
        refuse(f"{' '.join(str(wrong).split())} See framevis --help.")
    except KeyboardInterrupt:
        sys.exit(130)
    except BrokenPipeError:  # whoever read the output has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except OSError as error:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        refuse(f"can't go on: {error.strerror or error}: free the disk or the device, then try again")


def refuse(*sentences: str) -> None:
    """Say what is wrong on standard error and end with exit code 2."""
    for sentence in sentences:
        print(f"framevis: {sentence}", file=sys.stderr)
    sys.exit(2)
