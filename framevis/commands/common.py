"""What all commands share: the app, the options with their help, progress, the way to a study.

Commands are the only place that prints, exits or names output files. What draws is imported where it is needed.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import App, Parameter
from cyclopts.validators import Number

from framevis import __version__
from framevis.errors import BadInput, problem

if TYPE_CHECKING:
    from rich.console import Console

    from framevis.study import Study

app = App(
    name="framevis",
    version=__version__,
    help="Shows where measured deviations of a gantry's frame make its carriages bind.",
    help_format="plaintext",
)
app["--help"].group = app["--version"].group = "Other"

CauseName = Literal["bow", "twist", "opening", "own", "shims"]
Stage = Annotated[str | None, Parameter(help="Stage to look at; default: the latest that has readings.")]
Draws = Annotated[int, Parameter(help="Posterior draws behind every chance.", validator=Number(gte=1, lte=100_000))]
Seed = Annotated[int, Parameter(help="Seed of the draws.", validator=Number(gte=0))]
Magnify = Annotated[
    float | None,
    Parameter(
        help="How many times deviations are magnified, up to 3000; default: so that they show.",
        validator=Number(gt=0, lte=3000),
    ),
]
At = Annotated[
    tuple[str, ...],
    Parameter(help="CARRIAGE=MM, where a carriage stands (mm or in, as the frame); default: where it suffers most."),
]
Causes = Annotated[
    tuple[CauseName, ...], Parameter(help="Show only this cause; may be given several times. Default: all.")
]
Size = Annotated[str | None, Parameter(help="Width and height in pixels, as 1600x1000.")]
Travel = Annotated[
    tuple[str, ...],
    Parameter(help="For a GIF: this carriage goes over its travel and back. Default: all that --at doesn't place."),
]
AsJson = Annotated[bool, Parameter(name="--json", negative="", help="Print one JSON object.")]
PICTURE_DRAWS = 400  # a picture shows verdicts, not the third digit of their chances


def load(folder: Path, stage: str | None, draws: int, seed: int = 0) -> Study:
    """Read a frame folder and work one stage through."""
    from framevis.archive import studied

    return studied(folder, stage, draws, seed)[0]


@contextmanager
def progress(title: str) -> Iterator[Callable[[int, int], None]]:
    """A bar on standard error where somebody looks at it; gives a function that takes how much of how much is done."""
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True, disable=not sys.stderr.isatty()) as bar:
        task = bar.add_task(title, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)


def pixels_of(size: str | None) -> tuple[int, int] | None:
    """1600x1000 → (1600, 1000); None where no size was asked for."""
    if size is None:
        return None
    width, _, height = size.lower().partition("x")
    if not (width.isascii() and width.isdigit() and height.isascii() and height.isdigit()):
        raise BadInput(problem("--size", f"{size!r} is not a size", "give width and height in pixels, as 1600x1000"))
    pixels = int(width[:9]), int(height[:9])
    if not all(200 <= side <= 8000 for side in pixels):
        raise BadInput(problem("--size", f"{size!r} is out of range", "give 200 to 8000 pixels each way"))
    return pixels


def positions_of(study: Study, at: tuple[str, ...]) -> dict[str, float]:
    """CARRIAGE=MM … → positions in mm; the number is in the frame's own length unit."""
    from framevis.units import MM_PER_LENGTH_UNIT

    unit = study.frame.length_unit
    positions: dict[str, float] = {}
    for text in at:
        name, equals, number = text.rpartition("=")
        try:
            value = float(number)
        except ValueError:
            value = float("nan")
        if not equals or value != value or abs(value) == float("inf"):
            what = f"{text!r} is not CARRIAGE=POSITION"
            raise BadInput(problem("--at", what, f"give a carriage's name, =, and where it stands in {unit}"))
        if name in positions:
            raise BadInput(problem("--at", f"{name!r} is placed twice", "place each carriage once"))
        positions[name] = value * MM_PER_LENGTH_UNIT[unit]
    return positions


def console(width: int = 120) -> Console:
    """Where a report goes: as wide as the terminal, or `width` where nobody looks on."""
    from rich.console import Console

    return Console(highlight=False, width=None if sys.stdout.isatty() else width)


def print_json(found: object) -> None:
    import json

    print(json.dumps(found, ensure_ascii=False, allow_nan=False))
