"""Sliders and switches of the window: made once, laid out anew whenever the window changes its size.

Takes a plotter; every control has words beside it, which `write` puts on the picture with its key.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil
from typing import Any

from framevis.pictures.ink import BOXES, Ink, text_width
from framevis.pictures.look import INK, PAPER, QUIET_INK, unit
from framevis.pictures.notes import Shown

IN_A_ROW, SWITCHES_IN_A_ROW = 4, 10
SLIDER_EM, SWITCH_ROW_EM, FOOT_EM, BOX_EM, EDGE_EM = 3.5, 2.1, 0.9, 1.15, 1.6  # of the type's height
BASE_PX = 14.0  # the type's height in the smallest windows


@dataclass(frozen=True)
class Slot:
    """Where a slider lies, as shares of the window: from (left, y) to (right, y)."""

    left: float
    right: float
    y: float


def low_px(sliders: int, switches: int, em: float = BASE_PX) -> float:
    """Height (pixels) at the bottom of the window that the controls take."""
    return _switches_px(switches, em) + ceil(sliders / IN_A_ROW) * SLIDER_EM * em


def _switches_px(switches: int, em: float) -> float:
    return (FOOT_EM + ceil(switches / SWITCHES_IN_A_ROW) * SWITCH_ROW_EM) * em


def slots(many: int, width: int, height: int, switches: int = 0, em: float = BASE_PX) -> list[Slot]:
    """Where sliders lie above the switches, from the top left, so that each has room for its words."""
    in_row = min(many, IN_A_ROW)
    rows, step, edge = ceil(many / IN_A_ROW), 1.0 / in_row, EDGE_EM * em / width
    made = []
    for i in range(many):
        row, column = divmod(i, in_row)
        y = _switches_px(switches, em) + ((rows - 1 - row) * SLIDER_EM + 0.8) * em
        made.append(Slot(column * step + edge, (column + 1) * step - edge, y / height))
    return made


def switch_place(i: int, many: int, width: int, em: float) -> tuple[float, float]:
    """Pixel of the lower left corner of a switch; the first ones in the upper row."""
    rows = ceil(many / SWITCHES_IN_A_ROW)
    row, column = divmod(i, SWITCHES_IN_A_ROW)
    step = (width - 2.0 * EDGE_EM * em) / min(many, SWITCHES_IN_A_ROW)
    return EDGE_EM * em + column * step, (FOOT_EM + (rows - 1 - row) * SWITCH_ROW_EM) * em


class Controls:
    """All sliders and switches by name, and what is written beside them."""

    def __init__(self, plotter: Any, watch: Callable[[Any], None]) -> None:
        self._plotter, self._watch = plotter, watch
        self.sliders: dict[str, Any] = {}
        self.switches: dict[str, Any] = {}
        self._beside_slider: dict[str, Callable[[], str]] = {}
        self._beside_switch: dict[str, Callable[[], str]] = {}
        self._laid: tuple[int, int, float] | None = None

    def slider(
        self, name: str, ends: tuple[float, float], value: float, callback: Any, says: Callable[[], str]
    ) -> None:
        slider = self._plotter.add_slider_widget(
            callback,
            rng=ends,
            value=value,
            pointa=(0.1, 0.1),
            pointb=(0.2, 0.1),
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
        slider.KeyPressActivationOff()
        self._watch(slider)
        self.sliders[name], self._beside_slider[name] = slider, says

    def switch(self, name: str, on: bool, callback: Any, says: Callable[[], str]) -> None:
        self.switches[name] = self._plotter.add_checkbox_button_widget(
            callback,
            value=on,
            position=(10.0, 10.0),
            size=18,
            border_size=2,
            color_on=unit(INK),
            color_off=unit(PAPER),
            background_color=unit(QUIET_INK),
        )
        self.switches[name].KeyPressActivationOff()
        self._beside_switch[name] = says

    def set_switch(self, name: str, on: bool) -> None:
        """Show a switch as on or off; calls nothing."""
        self.switches[name].GetRepresentation().SetState(int(on))

    def set_slider(self, name: str, value: float) -> None:
        """Show a slider at a value; calls nothing."""
        self.sliders[name].GetRepresentation().SetValue(value)

    def set_there(self, on: bool) -> None:
        """Show or hide all controls."""
        change = self._plotter.renderer.AddViewProp if on else self._plotter.renderer.RemoveViewProp
        for widget in (*self.sliders.values(), *self.switches.values()):
            change(widget.GetRepresentation())

    def low_px(self, em: float) -> float:
        return low_px(len(self.sliders), len(self.switches), em)

    def lay_out(self, size: tuple[int, int], em: float) -> bool:
        """Put everything in its place, if the window's size has changed; whether it had."""
        if self._laid == (*size, em):
            return False
        self._laid = (*size, em)
        width, height = size
        for slider, slot in zip(self.sliders.values(), self._slots(size, em), strict=True):
            look = slider.GetRepresentation()
            look.GetPoint1Coordinate().SetValue(slot.left, slot.y)
            look.GetPoint2Coordinate().SetValue(slot.right, slot.y)
            look.SetSliderWidth(1.5 * em / height)
            look.SetTubeWidth(0.25 * em / height)
            look.SetSliderLength(min(0.03, 0.9 * em / (width * (slot.right - slot.left))))
        box = BOX_EM * em
        for i, switch in enumerate(self.switches.values()):
            x, y = switch_place(i, len(self.switches), width, em)
            switch.GetRepresentation().PlaceWidget([x, x + box, y, y + box, 0.0, 0.0])
        return True

    def write(self, ink: Ink, shown: Shown) -> None:
        """The words beside all controls."""
        (width, height), em = shown.size, shown.type_px
        for name, slot in zip(self.sliders, self._slots(shown.size, em), strict=True):
            ink.text(self._beside_slider[name](), slot.left * width, slot.y * height + 1.5 * em, em, INK)
        px = self._fitting_px(width, em)
        for i, name in enumerate(self.switches):
            x, y = switch_place(i, len(self.switches), width, em)
            ink.text(self._beside_switch[name](), x + 1.5 * BOX_EM * em, y + BOX_EM * em / 2.0, px, INK)
        y = low_px(len(self.sliders), len(self.switches), em)
        ink.line([(0.0, y), (float(width), y)], QUIET_INK, BOXES, alpha=70)

    def _fitting_px(self, width: int, em: float) -> float:
        """Height of the words beside switches at which the longest ends before the next switch."""
        step = (width - 2.0 * EDGE_EM * em) / min(len(self.switches), SWITCHES_IN_A_ROW)
        longest = max(text_width(says(), em) for says in self._beside_switch.values())
        return min(0.92 * em, em * (step - (1.5 * BOX_EM + 0.5) * em) / longest)

    def _slots(self, size: tuple[int, int], em: float) -> list[Slot]:
        return slots(len(self.sliders), *size, len(self.switches), em)
