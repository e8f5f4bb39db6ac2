"""Writes a study to a file that another program reads; the name's ending says which: .glb, .vtm or .csv."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from framevis.exports.csv_tables import blocks_path, write_tables
from framevis.exports.glb import glb
from framevis.exports.multiblock import multiblock
from framevis.exports.vtm import check_folder, write_vtm
from framevis.outfile import beside, check_target
from framevis.pictures.draw import default_magnification
from framevis.pictures.scene import Scene, build_scene, resolve_positions, worst_positions
from framevis.study import Study

NOTHING: Mapping[str, float] = {}
SUFFIXES = (".glb", ".vtm", ".csv")


def export(
    study: Study, path: Path, *, magnification: float | None = None, positions: Mapping[str, float] = NOTHING
) -> Path:
    """Write the study and return the path.

    GLB: the machine at a magnification, by default the picture's. VTM: the machine as drawn, every cause as an array
    to warp by; the magnification is noted in it. CSV: deviations, and block results in OUT_blocks.csv; neither
    magnification nor positions (mm, by default where each carriage suffers most) play a part in them.
    Raises `BadInput` where the file can't be written or a position is wrong.
    """
    path = Path(path)
    check_target(path, SUFFIXES, "an export")
    places = resolve_positions(study.frame, positions, worst_positions(study))
    suffix = path.suffix.lower()
    if suffix == ".csv":
        check_target(blocks_path(path), SUFFIXES, "an export")
        write_tables(study, path)
        return path
    if suffix == ".vtm":
        check_folder(path)
    scene = build_scene(study, places)
    chosen = default_magnification(scene) if magnification is None else magnification
    if suffix == ".vtm":
        _write_vtm(scene, path, chosen)
    else:
        with beside(path) as hidden:
            hidden.write_bytes(glb(scene, chosen))
    return path


def _write_vtm(scene: Scene, path: Path, magnification: float) -> None:
    blocks = multiblock(scene)
    blocks.add_field_data([magnification], "picture_magnification")
    write_vtm(blocks, path)
