"""Every export is read back by the program it is made for, and holds the names, numbers and colours of the scene."""

from __future__ import annotations

import json
import struct
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from framevis.deviations import CAUSES
from framevis.errors import BadInput
from framevis.exports.export import export
from framevis.exports.glb import axes_of
from framevis.pictures.look import PART_COLOUR, VERDICT_COLOUR
from framevis.pictures.scene import build_scene, resolve_positions, worst_positions
from picture.fake_study import make_study

POSITIONS = {"left": 900.0, "tool": 400.0}


@pytest.fixture(scope="module")
def study():
    return make_study()


@pytest.fixture(scope="module")
def scene(study):
    return build_scene(study, resolve_positions(study.frame, POSITIONS, worst_positions(study)))


@pytest.fixture(scope="module")
def folder(study, tmp_path_factory):
    made = tmp_path_factory.mktemp("exports")
    for name in ("out.glb", "out.vtm"):
        assert export(study, made / name, magnification=250.0, positions=POSITIONS) == made / name
    return made


def linear(colour):
    """IEC 61966-2-1: the light of an sRGB value, 0 to 255."""
    return [255.0 * (v / 3294.6 if v <= 10 else ((v / 255.0 + 0.055) / 1.055) ** 2.4) for v in colour]


def gltf_json(path: Path):
    data = path.read_bytes()
    magic, version, length, size = struct.unpack("<4sIII", data[:16])
    assert (magic, version, length) == (b"glTF", 2, len(data))
    return json.loads(data[20 : 20 + size])


def test_glb_has_every_part_by_name_where_it_is_shown(folder, scene):
    import trimesh

    read = trimesh.load(folder / "out.glb", process=False)
    assert set(read.geometry) == {f"{part.role} {part.name}" for part in scene.parts}
    for part in scene.parts:
        x, y, z = scene.points(part, 250.0).T / 1000.0  # mm → m
        mesh = read.geometry[f"{part.role} {part.name}"]
        np.testing.assert_allclose(mesh.vertices, np.column_stack([x, z, -y]), atol=3e-7)  # float32 in the file
        assert len(mesh.faces) == 2 * len(part.faces)
        if part.role != "plate":
            assert mesh.volume > 0.0  # closed, faces outward


def test_glb_keeps_the_hierarchy(folder, scene):
    import trimesh

    parent = trimesh.load(folder / "out.glb").graph.transforms.parents
    for part in scene.parts:
        holder = {"rail": "beam", "block": "carriage", "plate": "carriage"}.get(part.role)
        assert parent[f"{part.role} {part.name}"] == (f"{holder} {part.owner}" if holder else "world")
    assert all(parent[f"carriage {carriage.name}"] == "world" for carriage in scene.frame.carriages)


def test_glb_has_the_pictures_colours_at_its_vertices(folder, scene):
    import trimesh

    read = trimesh.load(folder / "out.glb", process=False, skip_materials=True)
    for part in scene.parts:
        colours = read.geometry[f"{part.role} {part.name}"].visual.vertex_colors
        wanted = VERDICT_COLOUR[part.verdict] if part.verdict else PART_COLOUR[part.role]
        assert np.abs(colours[:, :3] - linear(wanted)).max() <= 0.5
        assert set(colours[:, 3]) == {153 if part.role == "plate" else 255}
    assert len({part.verdict for part in scene.parts}) == 5


def test_glb_says_what_it_shows_and_is_not_metal(folder, scene):
    tree = gltf_json(folder / "out.glb")
    assert tree["asset"]["extras"] == {
        "frame": scene.frame.name, "stage": "as_found", "magnification": 250.0, "positions_mm": dict(scene.positions),
    }  # fmt: skip
    assert all(m["pbrMetallicRoughness"]["metallicFactor"] == 0.0 for m in tree["materials"])
    blended = {m["name"] for m in tree["meshes"] if tree["materials"][m["primitives"][0]["material"]].get("alphaMode")}
    assert blended == {f"plate {carriage.name}" for carriage in scene.frame.carriages}


@pytest.mark.parametrize("up", [(0, 0, 1), (0, 1, 0), (1, 0, 0), (0, 0, -1), (0.6, 0, 0.8)])
def test_gltf_axes_are_right_handed_with_the_machines_up_as_y(up):
    axes = axes_of(np.array(up, dtype=float))
    np.testing.assert_allclose(axes @ axes.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(axes) == pytest.approx(1.0)
    np.testing.assert_allclose(axes @ up, (0, 1, 0), atol=1e-12)


def test_warping_the_vtm_gives_the_picture(folder, scene):
    import pyvista as pv

    read = pv.read(folder / "out.vtm")
    assert read.keys() == [f"{part.role} {part.name}" for part in scene.parts]
    for part in scene.parts:
        surface = read[f"{part.role} {part.name}"]
        np.testing.assert_array_equal(surface.points, part.vertices)
        np.testing.assert_array_equal(surface.regular_faces, part.faces)
        warped = surface.warp_by_vector("all_mm", factor=250.0)
        np.testing.assert_allclose(warped.points, scene.points(part, 250.0), atol=1e-9)
        for cause in CAUSES:
            warped = surface.warp_by_vector(f"{cause}_mm", factor=80.0)
            np.testing.assert_allclose(warped.points, scene.points(part, 80.0, [cause]), atol=1e-9)


def test_the_vtm_says_what_its_parts_are(folder, scene):
    import pyvista as pv

    read = pv.read(folder / "out.vtm")
    assert [read.field_data[name][0] for name in ("frame", "stage")] == [scene.frame.name, "as_found"]
    assert read.field_data["picture_magnification"][0] == 250.0
    for part in scene.parts:
        surface = read[f"{part.role} {part.name}"]
        said = {name: str(surface.field_data[name][0]) for name in surface.field_data}
        assert said == {"role": part.role, "owner": part.owner} | ({"verdict": part.verdict} if part.verdict else {})
        wanted = VERDICT_COLOUR[part.verdict] if part.verdict else PART_COLOUR[part.role]
        assert (surface.point_data["colour"] == np.array(wanted)).all()


def test_a_second_vtm_replaces_the_first_whole(study, tmp_path):
    import pyvista as pv

    path = tmp_path / "a name.v2.vtm"
    export(study, path)
    small = replace(study, carriages=(), frame=replace(study.frame, carriages=(), beams=study.frame.beams[:1],
                                                       rails=study.frame.rails[:2]))  # fmt: skip
    export(small, path)
    assert sorted(file.name for file in tmp_path.iterdir()) == ["a name.v2", "a name.v2.vtm"]
    assert len(list((tmp_path / "a name.v2").iterdir())) == len(pv.read(path)) == 3


def test_a_vtm_that_fails_leaves_the_old_one(study, tmp_path, monkeypatch):
    path = tmp_path / "out.vtm"
    export(study, path)
    before = {file: file.read_bytes() for file in tmp_path.rglob("*.vt?")}

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(BadInput, match=r"out\.vtm: can't be written: No space left on device"):
        export(study, path, positions={"left": 300.0})
    assert {file: file.read_bytes() for file in tmp_path.rglob("*.vt?")} == before
    assert {file.name for file in tmp_path.iterdir()} == {"out", "out.vtm"}


def test_a_folder_in_use_is_left_alone(study, tmp_path):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "thesis.txt").write_text("years of work")
    with pytest.raises(BadInput, match=r"its parts would go to .*out, which is in use: give another name"):
        export(study, tmp_path / "out.vtm")
    assert [file.name for file in tmp_path.rglob("*")] == ["out", "thesis.txt"]


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("out.stl", r"out\.stl: an export can't have this name: give a name that ends in \.glb, \.vtm or \.csv"),
        ("nowhere/out.glb", r"there is no folder .*nowhere: make it first"),
        ("folder.csv", r"folder\.csv: is a folder: give the name of a file"),
        ("used.csv", r"used_blocks\.csv: is a folder: give the name of a file"),
    ],
)
def test_a_wrong_path_is_one_sentence(study, tmp_path, name, said):
    (tmp_path / "folder.csv").mkdir()
    (tmp_path / "used_blocks.csv").mkdir()
    with pytest.raises(BadInput, match=said) as caught:
        export(study, tmp_path / name)
    assert len(caught.value.problems) == 1
    assert len(list(tmp_path.iterdir())) == 2


@pytest.mark.parametrize("name", ["out.glb", "out.vtm", "out.csv"])
def test_a_folder_that_takes_no_files_and_a_wrong_position_are_said(study, tmp_path, monkeypatch, name):
    with pytest.raises(BadInput, match="no carriage is called"):
        export(study, tmp_path / name, positions={"nobody": 3.0})
    monkeypatch.setattr("framevis.outfile.os.access", lambda *_: False)
    with pytest.raises(BadInput, match="nothing may be written in"):
        export(study, tmp_path / name)
    assert list(tmp_path.iterdir()) == []


def test_a_vtm_keeps_names_in_any_language(study, tmp_path):
    import pyvista as pv

    named = replace(study.frame, name="Tisch Ä 🙂")
    export(replace(study, frame=named), tmp_path / "named.vtm")
    assert list(pv.read(tmp_path / "named.vtm").field_data["frame"]) == ["Tisch Ä 🙂"]


@pytest.mark.parametrize("name", ["x" * 300 + ".glb", "y" * 300 + ".csv"])
def test_a_name_too_long_for_the_disk_is_one_sentence(study, tmp_path, name):
    with pytest.raises(BadInput, match="can't be written: File name too long"):
        export(study, tmp_path / name)
    assert list(tmp_path.iterdir()) == []
