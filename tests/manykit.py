"""Work for many processes: small functions that can be sent to another process and tell of the one they run in."""

from __future__ import annotations

import os
import signal
import sys
import time
from pathlib import Path

DRAWING = {"vtk", "vtkmodules", "pyvista", "matplotlib", "trimesh"}


def assess_and_tell(task) -> dict[str, object]:
    """Work on a frame, then say of the process: its number, threads, cores it uses, what it loaded to draw, whether
    Ctrl-C goes past it."""
    from framevis import equilibrium
    from framevis.archive import work_on

    answer = work_on(task)
    threads = len(list(Path("/proc/self/task").iterdir()))
    loaded = sorted({name.split(".")[0] for name in sys.modules} & DRAWING)
    deaf = signal.SIGINT in signal.pthread_sigmask(signal.SIG_BLOCK, ())
    told = {"answer": answer, "process": os.getpid(), "deaf": deaf}
    return told | {"threads": threads, "cores": equilibrium.cores, "drawing": loaded}


def killed_at_three(number: int) -> str:
    """As if the system had taken this process's memory away, at item 3; item 1 is the last to be done before it."""
    if number == 1:
        time.sleep(0.3)
    if number == 3:
        time.sleep(0.6)
        os.kill(os.getpid(), signal.SIGKILL)
    return f"{number} done"


def lost(item: object) -> str:
    return f"{item} lost"
