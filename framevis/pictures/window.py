"""A window on the user's own screen: the scene with sliders for magnification and positions, and switches.

`Window.build` puts everything into a plotter, on screen or off; `show` waits until the window is closed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import partial
from math import ceil, log10
from typing import Any

import numpy as np

from framevis.deviations import CAUSES, Cause
from framevis.pictures.camera import Insets
from framevis.pictures.draw import LEAST, MOST, Drawing, default_magnification, draw_scene
from framevis.pictures.ink import Ink
from framevis.pictures.look import CAUSE_WORDS, INK, PAPER, QUIET_INK, place, times, unit
from framevis.pictures.notes import Shown
from framevis.pictures.scene import StudyLike, build_scene, moved, resolve_positions, worst_positions
from framevis.pictures.travel import Group, travel_groups

NOTHING: Mapping[str, float] = {}
IN_A_ROW = 4  # sliders
ROW_PX, SWITCH_PX, FOOT_PX = 54.0, 18, 14.0
GHOST_WORDS = "as drawn"


@dataclass(frozen=True)
class Slot:
    """Where a slider lies, as shares of the window: from (left, y) to (right, y)."""

    left: float
    right: float
    y: float


class Window:
    """The state of a window: what is shown, and the controls that change it.

    Raises `BadInput` where a position is wrong. `causes` None: all of them.
    """

    def __init__(
        self,
        study: StudyLike,
        *,
        magnification: float | None = None,
        positions: Mapping[str, float] = NOTHING,
        causes: Iterable[Cause] | None = None,
        ghost: bool = True,
    ) -> None:
        self.study = study
        self.scene = build_scene(study, resolve_positions(study.frame, positions, worst_positions(study)))
        self.magnification = default_magnification(self.scene) if magnification is None else magnification
        self.causes: tuple[Cause, ...] = CAUSES if causes is None else tuple(causes)
        self.ghost = ghost
        self.groups = travel_groups(study.frame)
        self.sliders: dict[str, Any] = {}
        self.switches: dict[str, Any] = {}
        self.smooth = False
        self._plotter: Any = None
        self._drawing: Drawing | None = None

    @property
    def drawing(self) -> Drawing:
        assert self._drawing is not None, "build the window first"
        return self._drawing

    def build(self, plotter: Any) -> None:
        """Draw the scene and the controls into a plotter."""
        self._plotter = plotter
        self._drawing = draw_scene(
            plotter, self.scene, magnification=self.magnification, causes=self.causes, ghost=self.ghost
        )
        width, height = plotter.window_size
        self._width = width  # VTK's switches stay on the pixels where they were put
        rows = ceil((1 + len(self.groups)) / IN_A_ROW)
        self.drawing.low_px = FOOT_PX + 2.0 * SWITCH_PX + rows * ROW_PX
        self.drawing.insets = Insets(bottom=(self.drawing.low_px + 0.03 * height) / height)
        self.drawing.also = self._write_controls
        self._slots = slots(1 + len(self.groups), width, height)
        self._add_sliders()
        self._add_switches()
        self._settle_when_still()
        self.drawing.aim()
        self._be_still()

    def show(self) -> None:
        """Open the window and wait until it is closed."""
        self._plotter.show(title=f"{self.study.frame.name}: {self.study.stage}", auto_close=True)

    def set_magnification(self, magnification: float) -> None:
        self.magnification = float(np.clip(magnification, LEAST, MOST))
        self.drawing.show(magnification=self.magnification)

    def set_position(self, group: Group, leader_mm: float) -> None:
        """Move a carriage, with those that carry the same beam."""
        low, high = group.range_mm
        places = dict(self.scene.positions) | group.positions(float(np.clip(leader_mm, low, high)))
        self.scene = moved(self.scene, self.study, places)
        self.drawing.show(self.scene)

    def set_cause(self, cause: Cause, on: bool) -> None:
        self.causes = tuple(c for c in CAUSES if (on if c == cause else c in self.causes))
        self.drawing.show(causes=self.causes)

    def set_ghost(self, on: bool) -> None:
        self.ghost = bool(on)
        self.drawing.show(ghost=self.ghost)

    def _add_sliders(self) -> None:
        power = log10(float(np.clip(self.magnification, LEAST, MOST)))
        self._add_slider("magnification", (log10(LEAST), log10(MOST)), power, lambda p: self.set_magnification(10.0**p))
        for group in self.groups:
            low, high = group.range_mm
            here = self.scene.positions[group.leader.name]
            self._add_slider(group.name, (low, max(high, low + 1e-3)), here, partial(self.set_position, group))

    def _add_slider(self, name: str, ends: tuple[float, float], value: float, callback: Any) -> None:
        slot = self._slots[len(self.sliders)]
        slider = self._plotter.add_slider_widget(
            callback,
            rng=ends,
            value=value,
            pointa=(slot.left, slot.y),
            pointb=(slot.right, slot.y),
            interaction_event="always",
            color=unit(INK),
            slider_width=0.022,
            tube_width=0.004,
        )
        look = slider.GetRepresentation()
        look.ShowSliderLabelOff()
        look.SetSliderLength(0.012)
        look.SetEndCapLength(0.0)
        look.GetTubeProperty().SetColor(*unit(QUIET_INK))
        look.GetSliderProperty().SetColor(*unit(INK))
        self._watch(slider)
        self.sliders[name] = slider

    def _add_switches(self) -> None:
        for cause in CAUSES:
            self._add_switch(CAUSE_WORDS[cause], cause in self.causes, partial(self.set_cause, cause))
        self._add_switch(GHOST_WORDS, self.ghost, self.set_ghost)

    def _add_switch(self, name: str, on: bool, callback: Any) -> None:
        x, y = self._switch_place(len(self.switches))
        self.switches[name] = self._plotter.add_checkbox_button_widget(
            callback,
            value=on,
            position=(x, y),
            size=SWITCH_PX,
            border_size=2,
            color_on=unit(INK),
            color_off=unit(PAPER),
            background_color=unit(QUIET_INK),
        )

    def _switch_place(self, i: int) -> tuple[float, float]:
        """Pixel of a switch's lower left corner."""
        return 24.0 + i * (self._width - 48.0) / (len(CAUSES) + 1), FOOT_PX

    def _write_controls(self, ink: Ink, shown: Shown) -> None:
        """The words beside the controls."""
        width, height = shown.size
        unit_name, px = self.study.frame.length_unit, min(shown.type_px, 16.0)
        said = [f"magnification {times(self.magnification)}"]
        for group in self.groups:
            at = place(self.scene.positions[group.leader.name], unit_name)
            said.append(f"{group.name} at {at}")
        for words, slot in zip(said, self._slots, strict=True):
            ink.text(words, slot.left * width, slot.y * height + 1.5 * px, px, INK)
        for i, name in enumerate(self.switches):
            x, y = self._switch_place(i)
            ink.text(name, x + 1.5 * SWITCH_PX, y + SWITCH_PX / 2.0, px, INK)

    def _watch(self, source: Any) -> None:
        source.AddObserver("StartInteractionEvent", lambda *_: self._move())
        source.AddObserver("EndInteractionEvent", lambda *_: self._be_still())

    def _settle_when_still(self) -> None:
        """Turning the view also counts as moving."""
        interactor = getattr(self._plotter, "iren", None)
        if interactor is not None and interactor.style is not None:
            self._watch(interactor.style)

    def _move(self) -> None:
        """While something moves, draw fast."""
        self.smooth = False
        self._plotter.disable_anti_aliasing()

    def _be_still(self) -> None:
        """Once nothing moves: smooth edges, labels in their best places."""
        self.smooth = True
        self._plotter.enable_anti_aliasing("ssaa")
        self.drawing.settle()
        self._plotter.render()


def slots(many: int, width: int, height: int) -> list[Slot]:
    """Where sliders lie above the switches, from the top left, so that each has room for its words."""
    in_row = min(many, IN_A_ROW)
    rows, step, edge = ceil(many / IN_A_ROW), 1.0 / in_row, 24.0 / width
    made = []
    for i in range(many):
        row, column = divmod(i, in_row)
        y = FOOT_PX + 2.0 * SWITCH_PX + (rows - 1 - row) * ROW_PX + 12.0
        made.append(Slot(column * step + edge, (column + 1) * step - edge, y / height))
    return made


def open_window(
    study: StudyLike,
    *,
    magnification: float | None = None,
    positions: Mapping[str, float] = NOTHING,
    causes: Iterable[Cause] | None = None,
    ghost: bool = True,
    size: tuple[int, int] = (1280, 800),
) -> Window:
    """Open a window and wait until it is closed; ask `opengl.has_screen` first."""
    window = Window(study, magnification=magnification, positions=positions, causes=causes, ghost=ghost)
    import pyvista as pv

    window.build(pv.Plotter(window_size=list(size)))
    window.show()
    return window
