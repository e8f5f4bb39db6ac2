"""Everything that can be done in a window, by key or by switch: `act` does a command of `keys.COMMANDS` by name.

Takes what `Sight` shows and adds section, play, stages, views and pictures to file; a window gives it controls.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

from framevis.deviations import CAUSES
from framevis.errors import BadInput
from framevis.pictures.camera import Insets
from framevis.pictures.keys import command_for
from framevis.pictures.numbered import free_name
from framevis.pictures.playing import Play
from framevis.pictures.scene import StudyLike
from framevis.pictures.sight import Sight
from framevis.pictures.travel import Group

HELD = frozenset({"left", "right", "more", "less", "back", "forward"})  # repeated while the key is down
STEP_SHARE, STATION_STEP_MM, MAGNIFY_BY = 0.01, 10.0, 1.25


@dataclass
class Options:
    """What is on or off, and what was last said."""

    section: bool = False
    help: bool = False
    playing: bool = False
    said: str = ""
    stages: tuple[str, ...] = ()
    load_stage: Callable[[str], StudyLike] | None = None
    studies: dict[str, StudyLike] = field(default_factory=dict)
    folder: Path = field(default_factory=Path.cwd)


class Desk(Sight):
    """What is done. `move` and `be_still` frame what moves; a window draws fast in between."""

    options: Options
    chosen: Group | None

    def take(self, options: Options) -> None:
        """Begin with these options; the first carriage is the one that keys move."""
        self.options = options
        options.studies[self.study.stage] = self.study
        self.chosen = self.groups[0] if self.groups else None
        self.play = Play()
        self._acts = self._actions()

    def insets(self) -> Insets:
        return Insets()

    def move(self) -> None:
        self.moving = True

    def be_still(self) -> None:
        self.moving = False
        self.settle_scene()

    def set_bare(self, on: bool) -> None:
        """With no controls, for a picture."""

    def press(self, symbol: str) -> None:
        """Do what a key means; nothing for other keys."""
        command = command_for(symbol)
        if command is not None:
            self.options.said = ""
            self.act(command.name)

    def act(self, name: str) -> None:
        """Do a command and show it."""
        if name in HELD:
            self._step(name, 1.0 if name in ("right", "more", "forward") else -1.0)
            return
        states = self.states()
        self._acts[name](not states[name])
        if not self.options.playing:
            self.be_still()

    def states(self) -> dict[str, bool]:
        """Which commands are switched on; one that only starts something never is."""
        drawing, options = self.drawing, self.options
        states = dict.fromkeys(self._acts, False) | {cause: cause in self.causes for cause in CAUSES}
        states |= {"ghost": self.ghost, "labels": drawing.labels, "readings": drawing.readings, "risk": drawing.risk}
        states |= {"section": options.section, "play": options.playing, "help": options.help}
        return states | {"perspective": self.perspective}

    def set_section(self, on: bool) -> None:
        """Show or hide the section; the frame moves over to leave it room."""
        self.options.section = bool(on)
        self.fit(self.camera_axes, self.insets())

    def set_help(self, on: bool) -> None:
        self.options.help = bool(on)

    def set_play(self, on: bool) -> None:
        """Let the chosen carriage travel, or stop it; `advance` moves it."""
        self.options.playing = bool(on) and self.chosen is not None
        if self.options.playing:
            self.move()
        else:
            self.be_still()

    def advance(self, seconds: float) -> None:
        """One step of play."""
        if self.options.playing and self.chosen is not None:
            here = self.scene.positions[self.chosen.leader.name]
            self.set_position(self.chosen, self.play.next(self.chosen, here, seconds))

    def next_stage(self) -> None:
        stages = self.options.stages
        if not stages:
            self.options.said = f"only stage {self.study.stage} was given"
            return
        at = stages.index(self.study.stage) if self.study.stage in stages else -1
        self.set_stage(stages[(at + 1) % len(stages)])

    def set_stage(self, stage: str) -> None:
        """Show another stage, or say why it can't be shown; the ghost is then the frame as drawn again."""
        study = self._study_of(stage)
        if study is not None and study is not self.study:
            self.drawing.haunt(None)
            self.set_study(study)
            self.options.said = f"stage {stage}"

    def _study_of(self, stage: str) -> StudyLike | None:
        """A stage worked through, once; or why that can't be is said."""
        studies, load = self.options.studies, self.options.load_stage
        try:
            if stage not in studies and load is not None:
                studies[stage] = load(stage)
        except BadInput as bad:
            self.options.said = str(bad.problems[0])
        return studies.get(stage)

    def save(self) -> Path | None:
        """Write the picture without controls under a new name, and say where."""
        try:
            path = free_name(self.options.folder, self.study.frame.name, self.study.stage)
        except BadInput as bad:
            self.options.said = str(bad.problems[0])
            return None
        self.set_bare(True)
        try:
            self._plotter.render()
            self._plotter.screenshot(str(path), return_img=False)
        except (OSError, RuntimeError) as error:
            path.unlink(missing_ok=True)
            self.options.said = f"{path} can't be written: {error}"
            return None
        finally:
            self.set_bare(False)
        self.options.said = f"picture written: {path}"
        return path

    def _step(self, name: str, sign: float) -> None:
        """A command that is repeated while its key is held: drawn fast, exact when the key goes up."""
        self.move()
        if name in ("left", "right") and self.chosen is not None:
            low, high = self.chosen.range_mm
            here = self.scene.positions[self.chosen.leader.name]
            self.set_position(self.chosen, here + sign * STEP_SHARE * (high - low))
        elif name in ("more", "less"):
            self.set_magnification(self.magnification * MAGNIFY_BY**sign)
        else:
            self.set_station(self.station_mm + sign * STATION_STEP_MM)
        self._plotter.render()

    def _next_ghost(self, on: bool) -> None:
        """From the frame as drawn to the first stage, where that is an earlier one, then off."""
        first = self.options.stages[0] if self.options.stages else self.study.stage
        if on or self.drawing.earlier is not None or first == self.study.stage:
            self.drawing.haunt(None)
            self.set_ghost(on)
            return
        study = self._study_of(first)
        if study is not None:
            self.haunt(study)
            self.options.said = f"ghost: stage {first}"

    def _next_carriage(self) -> None:
        if self.chosen is not None:
            self.chosen = self.groups[(self.groups.index(self.chosen) + 1) % len(self.groups)]
            self.options.said = f"arrow keys and play move {self.chosen.name}"

    def _next_sweep(self) -> None:
        self.next_sweep()
        self.options.said = f"readings of {self.drawing.only or 'all sweeps'}"

    def _next_beam(self) -> None:
        self.next_beam()
        self.options.said = f"beam {self.beam.name}"

    def _close(self) -> None:
        """Close what lies on top: the keys, the section, the window."""
        if self.options.help:
            self.options.help = False
        elif self.options.section:
            self.set_section(False)
        else:
            self._plotter.iren.terminate_app()

    def _actions(self) -> dict[str, Callable[[bool], Any]]:
        """What each command does; it is given whether to switch on."""
        switched: dict[str, Callable[[bool], Any]] = {
            "ghost": self._next_ghost,
            "labels": self.set_labels,
            "readings": self.set_readings,
            "risk": self.set_risk,
            "section": self.set_section,
            "play": self.set_play,
            "perspective": self.set_perspective,
            "help": self.set_help,
        }
        switched |= {cause: partial(self.set_cause, cause) for cause in CAUSES}
        done: dict[str, Callable[[], Any]] = {
            "all": lambda: self.set_causes(CAUSES),
            "only": self._next_sweep,
            "beam": self._next_beam,
            "next": self._next_carriage,
            "stage": self.next_stage,
            "save": self.save,
            "close": self._close,
        }
        views = ("home", "along", "across", "above", "worst")
        done |= {view: partial(self._look, view) for view in views}
        return switched | {name: partial(_ignoring, action) for name, action in done.items()}

    def _look(self, view: Any) -> None:
        self.look(view, self.insets())


def _ignoring(action: Callable[[], Any], _on: bool) -> None:
    action()
