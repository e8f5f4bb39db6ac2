"""Asking for OpenGL never ends the process, and says what to install."""

from __future__ import annotations

import os
import subprocess
import sys

from framevis.pictures import opengl

ASK = "from framevis.pictures.opengl import has_screen, probe; print(has_screen()); print(probe())"


def asked_with(**environment: str) -> list[str]:
    known = {key: value for key, value in os.environ.items() if key not in ("DISPLAY", opengl.SWITCH)}
    done = subprocess.run(
        [sys.executable, "-c", ASK], env=known | environment, capture_output=True, text=True, check=True, timeout=120
    )
    return done.stdout.splitlines()


def test_this_machine_draws_off_screen():
    assert opengl.probe() is None


def test_without_a_display_there_is_no_screen():
    assert asked_with() == ["False", "None"]


def test_a_display_that_does_not_answer_is_no_screen():
    assert asked_with(DISPLAY=":987")[0] == "False"


def test_without_a_driver_the_packages_are_named():
    screen, said = asked_with(__EGL_VENDOR_LIBRARY_DIRS="/nowhere")
    assert screen == "False"
    assert said.endswith("apt-get install libegl1 libgl1-mesa-dri")


def test_a_choice_of_window_already_made_is_left_alone():
    chosen = {opengl.SWITCH: "vtkOSOpenGLRenderWindow"}
    opengl.prepare_off_screen(chosen)
    assert chosen == {opengl.SWITCH: "vtkOSOpenGLRenderWindow"}


def test_with_a_display_nothing_is_chosen():
    chosen = {"DISPLAY": ":0"}
    opengl.prepare_off_screen(chosen)
    assert chosen == {"DISPLAY": ":0"}
