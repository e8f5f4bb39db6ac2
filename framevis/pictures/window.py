"""A window on the user's own screen: the scene with sliders, switches and keys for everything.

`Window.build` puts everything into a plotter, on screen or off; `show` waits until the window is closed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import partial
from math import log10
from pathlib import Path
from time import perf_counter
from typing import Any

import numpy as np

from framevis.deviations import Cause
from framevis.pictures.camera import Insets
from framevis.pictures.controls import Controls, slots
from framevis.pictures.desk import HELD, Desk, Options
from framevis.pictures.draw import LEAST, MOST
from framevis.pictures.ink import Ink
from framevis.pictures.keys import SHOWN, command_for
from framevis.pictures.lens import VIEW_WORDS
from framevis.pictures.look import CAUSE_WORDS, place, times
from framevis.pictures.notes import Box, Shown
from framevis.pictures.overlay import Over, Overlay, legend_box, sheet_box
from framevis.pictures.scene import StudyLike
from framevis.pictures.sight import NOTHING

__all__ = ["Window", "open_window", "slots"]

SWITCHES: Mapping[str, str] = {  # command → words beside its switch
    **{str(cause): words for cause, words in CAUSE_WORDS.items()},
    "ghost": "ghost",
    "labels": "labels",
    "readings": "readings",
    "risk": "risk",
    "section": "section",
    "play": "play",
    "perspective": "perspective",
    **{view: VIEW_WORDS[view] for view in ("home", "along", "across", "above", "worst")},
    "save": "save picture",
    "help": "keys",
    "stage": "next stage",
}
STATION, TICK_MS = "section", 30


class Window(Desk):
    """The state of a window: what is shown, and the controls that change it.

    `stages` are those that can be switched to, `load_stage` works one through; pictures go to `folder`.
    """

    def __init__(
        self,
        study: StudyLike,
        *,
        magnification: float | None = None,
        positions: Mapping[str, float] = NOTHING,
        causes: Iterable[Cause] | None = None,
        ghost: bool = True,
        stages: tuple[str, ...] = (),
        load_stage: Callable[[str], StudyLike] | None = None,
        folder: Path | None = None,
    ) -> None:
        super().__init__(study, magnification=magnification, positions=positions, causes=causes, ghost=ghost)
        can_switch = stages if load_stage is not None else ()
        self.take(Options(stages=can_switch, load_stage=load_stage, folder=Path.cwd() if folder is None else folder))
        self.smooth = self.bare = False
        self._ticked = 0.0

    @property
    def sliders(self) -> dict[str, Any]:
        return self.controls.sliders

    @property
    def switches(self) -> dict[str, Any]:
        return self.controls.switches

    def build(self, plotter: Any) -> None:
        """Draw the scene and the controls into a plotter."""
        self.draw(plotter)
        self.controls = Controls(plotter, self._watch)
        self.overlay = Overlay(plotter.render_window)
        self._add_sliders()
        for name in SWITCHES:
            if name != "stage" or len(self.options.stages) > 1:
                self._add_switch(name)
        self.drawing.also = self._write_over
        plotter.render_window.AddObserver("StartEvent", lambda *_: self._lay_out(), 1.0)  # before anything is written
        self._listen()
        self._lay_out()
        self.look("home", self.insets())
        self.be_still()

    def show(self) -> None:
        """Open the window and wait until it is closed."""
        self._plotter.iren.initialize()
        self._plotter.iren.interactor.CreateRepeatingTimer(TICK_MS)
        self._plotter.show(title=f"{self.study.frame.name}: {self.study.stage}", auto_close=True)

    def insets(self) -> Insets:
        """What is kept free: the controls below, the section's sheet at the right."""
        shown = self._shown
        low = (shown.low_px + 4.0 * shown.type_px) / shown.size[1]
        return Insets(bottom=low, right=0.52) if self.options.section else Insets(bottom=low)

    def move(self) -> None:
        """While something moves, draw fast."""
        if not self.moving or self.smooth:
            self._plotter.disable_anti_aliasing()
        self.moving, self.smooth = True, False

    def be_still(self) -> None:
        """Once nothing moves: exact positions, smooth edges, labels in their best places."""
        if self.options.playing:
            self.drawing.settle()
            return
        super().be_still()
        self.smooth = True
        self._plotter.enable_anti_aliasing("ssaa")
        self._agree()
        self.drawing.settle()
        self._plotter.render()

    def set_bare(self, on: bool) -> None:
        """Without controls, for a picture."""
        self.bare = on
        self.controls.set_there(not on)

    @property
    def _shown(self) -> Shown:
        width, height = self._plotter.render_window.GetSize()
        shown = Shown(self.magnification, self.causes, (int(width), int(height)))
        low_px = 0.0 if self.bare else self.controls.low_px(shown.type_px)
        return Shown(self.magnification, self.causes, shown.size, low_px)

    def _add_sliders(self) -> None:
        power = log10(float(np.clip(self.magnification, LEAST, MOST)))
        ends = (log10(LEAST), log10(MOST))
        says = self._say_magnification
        self.controls.slider("magnification", ends, power, lambda p: self.set_magnification(10.0**p), says)
        for group in self.groups:
            low, high = group.range_mm
            here = self.scene.positions[group.leader.name]
            act, says = partial(self.set_position, group), partial(self._say_place, group)
            self.controls.slider(group.name, (low, max(high, low + 1e-3)), here, act, says)
        share = self.station_mm / self.beam.length_mm
        self.controls.slider(STATION, (0.0, 1.0), share, self._slide_station, self._say_station)

    def _say_magnification(self) -> str:
        return f"magnification {times(self.magnification)}"

    def _say_place(self, group: Any) -> str:
        mark = " ◂▸" if group is self.chosen and len(self.groups) > 1 else ""
        at = place(self.scene.positions[group.leader.name], self.study.frame.length_unit)
        return f"{group.name} at {at}{mark}"

    def _say_station(self) -> str:
        return f"section of {self.beam.name} at {place(self.station_mm, self.study.frame.length_unit)}"

    def _slide_station(self, share: float) -> None:
        self.set_station(share * self.beam.length_mm)

    def _add_switch(self, name: str) -> None:
        words = SWITCHES[name]

        def says() -> str:
            return f"{words} · {SHOWN[name]}"

        self.controls.switch(words, self.states()[name], lambda on: self._switched(name, on), says)

    def _switched(self, name: str, on: bool) -> None:
        """A switch was clicked."""
        self.options.said = ""
        if self.states()[name] != on:
            self.act(name)

    def _agree(self) -> None:
        """Let every control show what is so."""
        states = self.states()
        for name, words in SWITCHES.items():
            if words in self.switches:
                self.controls.set_switch(words, states[name])
        self.controls.set_slider("magnification", log10(float(np.clip(self.magnification, LEAST, MOST))))
        for group in self.groups:
            self.controls.set_slider(group.name, self.scene.positions[group.leader.name])
        self.controls.set_slider(STATION, self.station_mm / self.beam.length_mm)

    def _lay_out(self) -> None:
        """Controls and free room for the window's present size."""
        shown = self._shown
        if self.controls.lay_out(shown.size, shown.type_px):
            self.drawing.settle()
        self.drawing.low_px = shown.low_px
        self.drawing.directions = not self.options.section
        kept: list[Box] = []
        if self.options.section:
            kept.append(sheet_box(shown))
        if self.drawing.risk:
            kept.append(legend_box(shown, self.options.section))
        self.drawing.kept_free = kept

    def _write_over(self, ink: Ink, shown: Shown) -> None:
        """Words beside the controls, and what lies over the picture."""
        if not self.bare:
            self.controls.write(ink, shown)
        section = self.section if self.options.section else None
        over = Over(section, self.options.help, self.drawing.risk, self.options.said)
        self.overlay.write(over, shown, self.study.frame.length_unit)

    def _watch(self, source: Any) -> None:
        source.AddObserver("StartInteractionEvent", lambda *_: self.move())
        source.AddObserver("EndInteractionEvent", lambda *_: self.be_still())

    def _listen(self) -> None:
        """Keys and the clock; turning the view also counts as moving."""
        iren = self._plotter.iren
        iren.clear_key_event_callbacks()
        iren.add_observer("KeyPressEvent", lambda source, _: self.press(source.GetKeySym() or ""))
        iren.add_observer("KeyReleaseEvent", lambda source, _: self._released(source.GetKeySym() or ""))
        iren.add_observer("TimerEvent", lambda *_: self._tick())
        if iren.style is not None:
            iren.style.AddObserver("CharEvent", lambda *_: None)  # in place of the keys that VTK would act on
            self._watch(iren.style)

    def _released(self, symbol: str) -> None:
        command = command_for(symbol)
        if command is not None and command.name in HELD and not self.options.playing:
            self.be_still()

    def tick(self, seconds: float) -> None:
        """What is done again and again: a step of play, else one more place of the travel worked out."""
        if self.options.playing:
            self.advance(seconds)
            self._agree()
            self._plotter.render()
        elif not self.moving:
            self.track.warm(self.scene, self.groups)

    def _tick(self) -> None:
        now = perf_counter()
        self.tick(now - self._ticked)
        self._ticked = now


def open_window(
    study: StudyLike,
    *,
    magnification: float | None = None,
    positions: Mapping[str, float] = NOTHING,
    causes: Iterable[Cause] | None = None,
    ghost: bool = True,
    size: tuple[int, int] = (1280, 800),
    stages: tuple[str, ...] = (),
    load_stage: Callable[[str], StudyLike] | None = None,
) -> Window:
    """Open a window and wait until it is closed; ask `opengl.has_screen` first.

    `stages`: what the stage switch goes through; `load_stage` works one of them through.
    """
    window = Window(
        study,
        magnification=magnification,
        positions=positions,
        causes=causes,
        ghost=ghost,
        stages=stages,
        load_stage=load_stage,
    )
    import pyvista as pv

    window.build(pv.Plotter(window_size=list(size)))
    window.act("risk")  # on from the start: the tight zone is seen without moving anything
    window.show()
    return window
