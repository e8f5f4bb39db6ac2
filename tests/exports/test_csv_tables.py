"""The CSV tables, read back, hold the curves of every rail and what every block meets."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from framekit import SAMPLE_TOML, write_frame
from framevis.curves import beam_curves, rail_curves
from framevis.exports.csv_tables import BLOCK_COLUMNS, DEVIATION_COLUMNS
from framevis.exports.export import export
from framevis.reading.frame_file import read_frame
from framevis.reading.readings import read_stage
from framevis.study import work_through

DEMO = Path(__file__).parents[2] / "demo_frames" / "glazing_table"


@pytest.fixture(scope="module")
def study():
    frame = read_frame(DEMO)
    return work_through(frame, read_stage(frame, "as_found"), 20)


@pytest.fixture(scope="module")
def tables(study, tmp_path_factory):
    path = tmp_path_factory.mktemp("csv") / "out.csv"
    assert export(study, path) == path
    assert sorted(file.name for file in path.parent.iterdir()) == ["out.csv", "out_blocks.csv"]
    return rows_of(path), rows_of(path.with_name("out_blocks.csv"))


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def column(rows, name):
    return np.array([float(row[name]) for row in rows])


def test_columns_say_their_units(tables):
    assert tuple(tables[0][0]) == DEVIATION_COLUMNS
    assert tuple(tables[1][0]) == BLOCK_COLUMNS
    bare = {"stage", "beam", "rail", "carriage", "block", "verdict", "p_tight", "p_binding", "static_safety"}
    bare |= {"lateral_measured", "height_measured", "roll_measured", "drag_ratio", "drag_ratio_p95"}
    with_unit = [name for name in (*DEVIATION_COLUMNS, *BLOCK_COLUMNS) if name not in bare]
    assert all(name.endswith(("_mm", "_um", "_mrad", "_n", "_mpa")) for name in with_unit)


def test_the_curves_of_every_rail_come_back(study, tables):
    for rail in study.frame.rails:
        rows = [row for row in tables[0] if row["rail"] == rail.name]
        curves, beam = rail_curves(study, rail), beam_curves(study, rail.beam)
        assert {(row["stage"], row["beam"]) for row in rows} == {("as_found", rail.beam.name)}
        np.testing.assert_allclose(column(rows, "station_mm"), curves.stations_mm, atol=1e-6)
        for name, unit in (("lateral", "um"), ("height", "um"), ("roll", "mrad")):
            curve = getattr(curves, name)
            np.testing.assert_allclose(column(rows, f"{name}_{unit}"), curve.mean, atol=1e-6)
            np.testing.assert_allclose(column(rows, f"{name}_u_{unit}"), curve.u, atol=1e-6)
            assert {row[f"{name}_measured"] for row in rows} == {"yes" if curve.is_measured else "no"}
        np.testing.assert_allclose(column(rows, "beam_opening_mrad"), beam["opening"], atol=1e-6)
        np.testing.assert_allclose(column(rows, "beam_bow_height_um"), beam["bow_height"], atol=1e-6)


def test_what_every_block_meets_comes_back(study, tables):
    assert len(tables[1]) == sum(c.stations_mm.size * len(c.blocks) for c in study.carriages)
    for carriage in study.carriages:
        for block in carriage.blocks:
            rows = [row for row in tables[1] if (row["carriage"], row["block"]) == (carriage.name, block.name)]
            assert {(row["rail"], row["verdict"]) for row in rows} == {(block.block.rail.name, block.verdict)}
            np.testing.assert_allclose(column(rows, "carriage_position_mm"), carriage.stations_mm, atol=1e-6)
            np.testing.assert_allclose(column(rows, "drag_ratio"), block.drag_ratio, atol=1e-6)
            np.testing.assert_allclose(column(rows, "misfit_roll_mrad"), block.misfit[2], atol=1e-6)
            np.testing.assert_allclose(column(rows, "static_safety"), block.static_safety, rtol=1e-6)
            np.testing.assert_allclose(column(rows, "p_binding"), block.p_binding)
    first = next(row for row in tables[1] if (row["carriage"], row["block"]) == ("left", "far_outer"))
    assert float(first["rail_station_mm"]) - float(first["carriage_position_mm"]) == pytest.approx(55.0)


def test_names_of_every_kind_stay_whole_and_none_becomes_a_formula(tmp_path):
    new = "=1+1,ß; 'x'"
    text = SAMPLE_TOML.replace("[rail.left_outer]", f'[rail."{new}"]').replace('"left_outer"', f'"{new}"')
    folder = write_frame(tmp_path / "frame", text)
    frame = read_frame(folder)
    export(work_through(frame, read_stage(frame, "as_found"), 5), tmp_path / "out.csv")
    assert f"'{new}" in {row["rail"] for row in rows_of(tmp_path / "out.csv")}
    assert f"'{new}" in {row["rail"] for row in rows_of(tmp_path / "out_blocks.csv")}
