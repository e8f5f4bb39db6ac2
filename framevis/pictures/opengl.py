"""Whether this machine can draw, asked in a process of its own: without OpenGL libraries VTK ends the process.

Gives None or a sentence that says what to install; has to be asked before anything is drawn off-screen.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import MutableMapping
from functools import lru_cache

SWITCH, EGL_WINDOW = "VTK_DEFAULT_OPENGL_WINDOW", "vtkEGLRenderWindow"
PACKAGES = "libegl1 libgl1-mesa-dri"
PATIENCE_S = 60.0
DRAW_ONE = """
import vtkmodules.vtkRenderingOpenGL2
from vtkmodules.vtkRenderingCore import vtkRenderer, vtkRenderWindow
window = vtkRenderWindow()
window.SetOffScreenRendering({off_screen})
window.SetSize(16, 16)
window.AddRenderer(vtkRenderer())
window.Render()
print("drawn by" if window.SupportsOpenGL() else "refused by", window.GetClassName())
"""


def has_screen() -> bool:
    """Whether a window can be opened: on Linux there must be a display that answers."""
    if not sys.platform.startswith("linux"):
        return True
    return bool(os.environ.get("DISPLAY")) and _drawn_by(off_screen=False) not in ("", EGL_WINDOW)


def prepare_off_screen(environment: MutableMapping[str, str] = os.environ) -> None:
    """Tell VTK to draw without a display where there is none; leaves a choice already made alone."""
    if sys.platform.startswith("linux") and not environment.get("DISPLAY"):
        environment.setdefault(SWITCH, EGL_WINDOW)


def probe() -> str | None:
    """None where an off-screen picture can be drawn, else what is missing and what to do, in one sentence."""
    prepare_off_screen()
    if _drawn_by(off_screen=True):
        return None
    if sys.platform.startswith("linux"):
        return f"OpenGL can't draw on this machine: install its libraries, on Debian: apt-get install {PACKAGES}"
    return "OpenGL can't draw on this machine: install a graphics driver with OpenGL 3.2"


@lru_cache(maxsize=2)
def _drawn_by(*, off_screen: bool) -> str:
    """The kind of window that drew a few pixels, tried once in a subprocess; empty where none could."""
    program = DRAW_ONE.format(off_screen=off_screen)
    try:
        done = subprocess.run([sys.executable, "-c", program], capture_output=True, timeout=PATIENCE_S, text=True)
    except (OSError, subprocess.TimeoutExpired):
        return ""
    drawn = done.returncode == 0 and done.stdout.startswith("drawn by ")
    return done.stdout.removeprefix("drawn by ").strip() if drawn else ""
