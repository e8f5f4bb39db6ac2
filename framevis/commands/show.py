"""Commands that show: picture, window, page, export."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from framevis.commands.common import (
    PICTURE_DRAWS,
    At,
    Causes,
    Draws,
    Magnify,
    Seed,
    Size,
    Stage,
    Travel,
    app,
    load,
    pixels_of,
    positions_of,
    progress,
)
from framevis.errors import BadInput, problem

WithPlan = Annotated[
    bool, Parameter(negative="", help="Mark where the shims of the plan go, and where rails are pushed.")
]

if TYPE_CHECKING:
    from framevis.plan import Plan
    from framevis.study import Study


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
    plan: WithPlan = False,
    ghost: Annotated[str | None, Parameter(help="A stage whose warped frame is drawn behind, in lines.")] = None,
) -> None:
    """Write a PNG of the gantry, warped by its deviations and magnified, or a GIF of a travel; needs no screen."""
    pixels = pixels_of(size)
    if travel and out.suffix.lower() != ".gif":
        raise BadInput(problem("--travel", "only a GIF shows a travel", "give a name that ends in .gif"))
    study = load(folder, stage, PICTURE_DRAWS)
    where = positions_of(study, at)
    behind = load(folder, ghost, PICTURE_DRAWS) if ghost is not None else True
    planned = planned_for(study) if plan else None
    from framevis.pictures.picture import write_picture

    with progress(f"drawing {out.name}") as tell:
        path = write_picture(
            study,
            out,
            magnification=magnify,
            positions=where,
            causes=cause or None,
            size=pixels,
            travel=travel,
            ghost=behind,
            plan=planned,
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
    plan: Annotated[
        str | None, Parameter(help="Also show the shim plan for this stage, and the machine after it.")
    ] = None,
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
        planned = None
        if plan is not None:
            mine = next((study for study in studies if study.stage == plan), None) or study_of(frame, plan, draws, seed)
            planned = planned_for(mine)
        from framevis.page import expected_after, write_page

        rows = expected_after(planned) if planned is not None else []

        path = write_page(studies, out, plan=planned, expected=rows)
    print(path)


@app.command
def export(
    folder: Path, out: Path, /, *, stage: Stage = None, magnify: Magnify = None, at: At = (), draws: Draws = 1000
) -> None:
    """Write the warped gantry as OUT.glb or OUT.vtm (and folder OUT), or its numbers as OUT.csv and OUT_blocks.csv."""
    study = load(folder, stage, draws)
    from framevis.exports.export import export as write

    print(write(study, out, magnification=magnify, positions=positions_of(study, at)))


def planned_for(study: Study) -> Plan:
    """The shim plan for a study, with progress."""
    from framevis.planning.plan_limits import plan_for

    with progress("choosing shims") as tell:
        return plan_for(study, tell=tell)
