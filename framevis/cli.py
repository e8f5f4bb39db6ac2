"""The command line: the only place that prints, exits or writes. What draws is imported where it is needed."""

from __future__ import annotations

import io
import json
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

# The matrices are small and the batches of states already take all cores: BLAS threads only get in their way.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from cyclopts import App, CycloptsError, Parameter
from cyclopts.validators import Number

from framevis import __version__
from framevis.errors import BadInput, problem

if TYPE_CHECKING:
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
PICTURE_DRAWS = 400  # a picture shows verdicts, not the third digit of their chances


def load(folder: Path, stage: str | None, draws: int, seed: int = 0) -> Study:
    """Read a frame folder and work one stage through."""
    from framevis.job import study_of
    from framevis.reading.frame_file import read_frame

    return study_of(read_frame(folder), stage, draws, seed)


@app.command
def assess(
    folder: Path,
    /,
    *,
    stage: Stage = None,
    as_json: Annotated[bool, Parameter(name="--json", negative="", help="Print one JSON object.")] = False,
    draws: Draws = 1000,
    seed: Seed = 0,
) -> None:
    """Say of every bearing block whether it binds, where, and what it suffers from."""
    study = load(folder, stage, draws, seed)
    if as_json:
        from framevis.report_json import assessment

        print(json.dumps(assessment(study), ensure_ascii=False, allow_nan=False))
        return
    from rich.console import Console

    from framevis.report import print_assessment

    width = None if sys.stdout.isatty() else 120
    print_assessment(study, Console(highlight=False, width=width))


@app.command
def picture(
    folder: Path,
    out: Path,
    /,
    *,
    stage: Stage = None,
    magnify: Magnify = None,
    at: At = (),
    cause: Causes = (),
    travel: Travel = (),
    size: Size = None,
) -> None:
    """Write a PNG of the gantry, warped by its deviations and magnified, or a GIF of a travel; needs no screen."""
    pixels = pixels_of(size)
    if travel and out.suffix.lower() != ".gif":
        raise BadInput(problem("--travel", "only a GIF shows a travel", "give a name that ends in .gif"))
    study = load(folder, stage, PICTURE_DRAWS)
    from framevis.pictures.picture import write_picture

    where = positions_of(study, at)
    with progress(f"drawing {out.name}") as tell:
        path = write_picture(
            study,
            out,
            magnification=magnify,
            positions=where,
            causes=cause or None,
            size=pixels,
            travel=travel,
            progress=tell,
        )
    print(path)


@app.command
def view(
    folder: Path,
    /,
    *,
    stage: Stage = None,
    magnify: Magnify = None,
    at: At = (),
    cause: Causes = (),
    size: Size = None,
) -> None:
    """Open a window with the magnified gantry (? lists its keys); where there is no screen, write a picture."""
    pixels = pixels_of(size) or (1280, 800)
    study = load(folder, stage, PICTURE_DRAWS)
    where = positions_of(study, at)
    from framevis.pictures.opengl import has_screen

    if has_screen():
        from framevis.pictures.window import open_window
        from framevis.reading.readings import stages_present

        open_window(
            study,
            magnification=magnify,
            positions=where,
            causes=cause or None,
            size=pixels,
            stages=stages_present(study.frame),
            load_stage=lambda other: load(folder, other, PICTURE_DRAWS),
        )
        return
    from framevis.pictures.picture import write_picture

    out = Path.cwd() / f"{folder.resolve().name}_{study.stage}.png"
    path = write_picture(study, out, magnification=magnify, positions=where, causes=cause or None, size=pixels)
    print(f"There is no screen here, so a picture was written instead: {path}")


@app.command
def page(
    folder: Path,
    out: Path,
    /,
    *,
    stage: Annotated[
        tuple[str, ...], Parameter(help="Stage to show; may be given several times. Default: all that have readings.")
    ] = (),
    draws: Draws = 1000,
    seed: Seed = 0,
) -> None:
    """Write one HTML file to send to somebody: live 3D picture, verdicts, curves, cautions; needs no network."""
    from framevis.job import study_of
    from framevis.reading.frame_file import read_frame
    from framevis.reading.readings import stages_present

    frame = read_frame(folder)
    present = stages_present(frame)
    wanted = [name for name in present if name in stage] + [name for name in stage if name not in present]
    with progress(f"writing {out.name}") as tell:
        names: list[str | None] = [*wanted] or [*present] or [None]
        studies = []
        for done, name in enumerate(names):
            tell(done, len(names) + 1)
            studies.append(study_of(frame, name, draws, seed))
        tell(len(names), len(names) + 1)
        from framevis.page import write_page

        path = write_page(studies, out)
    print(path)


@app.command
def export(
    folder: Path, out: Path, /, *, stage: Stage = None, magnify: Magnify = None, at: At = (), draws: Draws = 1000
) -> None:
    """Write the warped gantry as OUT.glb or OUT.vtm (and folder OUT), or its numbers as OUT.csv and OUT_blocks.csv."""
    study = load(folder, stage, draws)
    from framevis.exports.export import export as write

    print(write(study, out, magnification=magnify, positions=positions_of(study, at)))


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


def main() -> None:
    """Run a command; bad input ends with exit code 2 and one sentence a problem on standard error."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # a console that has no ■ still gets the words
    try:
        app(sys.argv[1:], exit_on_error=False, print_error=False)
        sys.stdout.flush()
    except BadInput as bad:
        refuse(*map(str, bad.problems))
    except CycloptsError as wrong:
        refuse(f"{' '.join(str(wrong).split())} See framevis --help.")
    except BrokenPipeError:  # whoever read the output has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except OSError as error:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        refuse(f"can't go on: {error.strerror or error}: free the disk or the device, then try again")


def refuse(*sentences: str) -> None:
    """Say what is wrong on standard error and end with exit code 2."""
    for sentence in sentences:
        print(f"framevis: {sentence}", file=sys.stderr)
    sys.exit(2)
