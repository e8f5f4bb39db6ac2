"""framevis: shows gantry builders where measured frame deviations make carriages bind.

From Python: `framevis.load(folder).assess(stage).scene()`. Importing it loads nothing; `load` loads the numbers,
`scene` what draws.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from os import PathLike

    from framevis.notebook import Machine

__version__ = "0.1.0"
__all__ = ["__version__", "load"]


def load(folder: str | PathLike[str]) -> Machine:
    """Read a frame folder: its `frame.toml` and, when a stage is assessed, `readings/STAGE/*.csv`.

    Raises `framevis.errors.BadInput` with every problem found, a sentence each.
    """
    from pathlib import Path

    from framevis.notebook import Machine

    return Machine(Path(folder))
