"""framevis from Python: a machine's folder, what is said of it in one stage, and its body to draw.

`Machine` reads a folder once; `assess` works one stage through; `scene` gives a pyvista `MultiBlock`. Nothing here
loads VTK before `scene` is asked for. Arrays are numpy, float64; units stand in the names.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from framevis.curves import RailCurves, beam_curves, rail_curves, stations_of
from framevis.deviations import CAUSES, Cause
from framevis.frame import Floats, Frame
from framevis.job import study_of
from framevis.reading.frame_file import read_frame
from framevis.reading.readings import stages_present
from framevis.report_html import verdict_table
from framevis.say import warnings
from framevis.study import DRAWS, SEED, Study
from framevis.verdicts import BlockAssessment

if TYPE_CHECKING:
    from pyvista import MultiBlock

NOTHING: Mapping[str, float] = {}


class Machine:
    """A frame folder, read and checked. Raises `BadInput` with every problem of its frame.toml."""

    def __init__(self, folder: Path) -> None:
        self.frame: Frame = read_frame(folder)

    def __repr__(self) -> str:
        return f"<Machine {self.frame.name!r}, stages with readings: {', '.join(self.stages) or 'none'}>"

    @property
    def stages(self) -> tuple[str, ...]:
        """The stages that have readings, in the order in which they happened."""
        return stages_present(self.frame)

    def assess(self, stage: str | None = None, draws: int = DRAWS, seed: int = SEED) -> Assessed:
        """Work one stage through, by default the latest that has readings; `draws` posterior draws from `seed`.

        Raises `BadInput` with every problem of the stage's readings.
        """
        if draws < 1:
            raise ValueError(f"draws is {draws}: at least one is needed")
        return Assessed(study_of(self.frame, stage, draws, seed))


class Assessed:
    """What is said of a machine in one stage. A notebook shows it as the table of verdicts."""

    def __init__(self, study: Study) -> None:
        self.study = study

    def __repr__(self) -> str:
        return f"<Assessed {self.study.frame.name!r}, stage {self.study.stage!r}: {self.verdicts}>"

    def _repr_html_(self) -> str:
        return verdict_table(self.study)

    @property
    def stage(self) -> str:
        return self.study.stage

    @cached_property
    def blocks(self) -> dict[str, BlockAssessment]:
        """By CARRIAGE/BLOCK: verdict, chances, and arrays (S,) along the carriage's travel, see `stations_mm`."""
        return {
            f"{carriage.name}/{block.name}": block for carriage in self.study.carriages for block in carriage.blocks
        }

    @property
    def verdicts(self) -> dict[str, str]:
        """By CARRIAGE/BLOCK: binding, tight, unsure or free."""
        return {name: block.verdict for name, block in self.blocks.items()}

    def stations_mm(self, carriage: str) -> Floats:
        """Positions (S,) mm of a carriage's origin at which its blocks are assessed."""
        return self.study.assessment(carriage).stations_mm

    @cached_property
    def rails(self) -> dict[str, RailCurves]:
        """By rail: lateral, height (µm) and roll (mrad) at `stations_mm`, each with mean and standard uncertainty."""
        return {rail.name: rail_curves(self.study, rail) for rail in self.study.frame.rails}

    @cached_property
    def beams(self) -> dict[str, dict[str, Floats]]:
        """By beam: arrays station_mm, bow_lateral_um, bow_height_um, twist_mrad, opening_mrad."""
        return {beam.name: self._beam(beam.name) for beam in self.study.frame.beams}

    @property
    def warnings(self) -> list[str]:
        """All that should be known beside the numbers, a sentence each."""
        return warnings(self.study)

    def scene(
        self,
        magnification: float | None = None,
        positions: Mapping[str, float] = NOTHING,
        causes: Iterable[Cause] = CAUSES,
    ) -> MultiBlock:
        """The machine as a pyvista `MultiBlock` (mm), its deviations by the causes named magnified.

        `magnification` None: so that they show, as in the picture; 0: as drawn. `positions`: mm by carriage, the
        others stand where they suffer most. Parts are `beam B`, `rail R`, `block C/B`, `plate C`, with point arrays
        (N, 3) mm `bow_mm`, `twist_mm`, `opening_mm`, `own_mm`, `shims_mm`, `all_mm` and `colour` (0 to 255).
        """
        from framevis.exports.multiblock import multiblock
        from framevis.pictures.draw import default_magnification
        from framevis.pictures.scene import build_scene, resolve_positions, worst_positions

        places = resolve_positions(self.study.frame, positions, worst_positions(self.study))
        scene = build_scene(self.study, places)
        shown = default_magnification(scene) if magnification is None else magnification
        return multiblock(scene, shown, _checked(causes))

    def _beam(self, name: str) -> dict[str, Floats]:
        beam = self.study.frame.beam(name)
        functions = beam_curves(self.study, beam)
        named = {f"{kind}_{'um' if kind.startswith('bow') else 'mrad'}": each for kind, each in functions.items()}
        return {"station_mm": stations_of(beam), **named}


def _checked(causes: Iterable[Cause]) -> tuple[Cause, ...]:
    """The causes named; one alone may come as a plain string. Raises `ValueError` for any other word."""
    named = (causes,) if isinstance(causes, str) else tuple(causes)
    wrong = [cause for cause in named if cause not in CAUSES]
    if wrong:
        raise ValueError(f"{wrong[0]!r} is no cause: the causes are {', '.join(CAUSES)}")
    return named  # type: ignore[return-value]
