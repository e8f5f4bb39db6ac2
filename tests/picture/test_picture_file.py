"""A picture is written whole, shows something, and says in one sentence why it can't be written."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from framevis import outfile
from framevis.errors import BadInput
from framevis.pictures import picture
from framevis.pictures.look import VERDICT_COLOUR
from framevis.pictures.picture import write_picture
from picture.fake_study import make_study


def pixels(path: Path) -> np.ndarray:
    from matplotlib.image import imread

    return np.rint(imread(path)[:, :, :3] * 255.0).astype(int)


def how_many(image: np.ndarray, colour) -> int:
    return int((np.abs(image - np.array(colour)).max(axis=2) <= 2).sum())


@pytest.mark.parametrize("size", [(1600, 1000), (1280, 720), (480, 320)])
def test_a_picture_has_the_size_asked_for_and_shows_the_machine(tmp_path, size):
    path = write_picture(make_study(), tmp_path / "frame.png", size=size)
    image = pixels(path)
    assert image.shape[:2] == size[::-1]
    assert len(np.unique(image.reshape(-1, 3), axis=0)) > 200
    middle = image[size[1] // 4 : 3 * size[1] // 4, size[0] // 4 : 3 * size[0] // 4]
    assert middle.std() > 15.0
    assert how_many(image, VERDICT_COLOUR["binding"]) > 50  # two blocks bind: markers in the picture and the table
    assert [file.name for file in tmp_path.iterdir()] == ["frame.png"]


def test_magnification_causes_and_positions_change_the_picture(tmp_path):
    study, changes = make_study(), [{}, {"magnification": 50.0}, {"causes": ["bow"]}, {"positions": {"tool": 800.0}}]
    images = [pixels(write_picture(study, tmp_path / "x.png", size=(480, 320), **change)) for change in changes]
    for image in images[1:]:
        assert (np.abs(image - images[0]).max(axis=2) > 40).sum() > 300


def test_the_same_study_gives_the_same_picture(tmp_path):
    one = write_picture(make_study(), tmp_path / "one.png", size=(480, 320)).read_bytes()
    assert write_picture(make_study(), tmp_path / "two.png", size=(480, 320)).read_bytes() == one


@pytest.mark.parametrize(
    ("path", "said"),
    [
        ("frame.jpg", r"frame.jpg: a picture can't have this name: give a name that ends in .png or .gif"),
        ("frame", r"a picture can't have this name"),
        ("nowhere/frame.png", r"there is no folder .*nowhere: make it first"),
        ("folder.png", r"folder.png: is a folder: give the name of a file"),
    ],
)
def test_a_wrong_path_is_said_before_anything_is_drawn(tmp_path, monkeypatch, path, said):
    (tmp_path / "folder.png").mkdir()
    monkeypatch.setattr(picture, "probe", lambda: pytest.fail("too late"))
    with pytest.raises(BadInput, match=said):
        write_picture(make_study(), tmp_path / path)


def test_a_folder_that_takes_no_files_is_said(tmp_path, monkeypatch):
    monkeypatch.setattr(outfile.os, "access", lambda *_: False)
    with pytest.raises(BadInput, match="nothing may be written in"):
        write_picture(make_study(), tmp_path / "frame.png")


def test_a_failure_while_writing_leaves_the_old_picture(tmp_path, monkeypatch):
    old = tmp_path / "frame.png"
    old.write_text("old")
    monkeypatch.setattr(Path, "replace", _full)
    with pytest.raises(BadInput, match="can't be written: No space left on device"):
        write_picture(make_study(), old, size=(200, 200))
    assert old.read_text() == "old"
    assert list(tmp_path.iterdir()) == [old]


def _full(*_):
    raise OSError(28, "No space left on device")


def test_missing_opengl_is_bad_input(tmp_path, monkeypatch):
    monkeypatch.setattr(picture, "probe", lambda: "OpenGL can't draw: install libegl1 libgl1-mesa-dri")
    with pytest.raises(BadInput, match=r"frame\.png: OpenGL can't draw: install libegl1 libgl1-mesa-dri"):
        write_picture(make_study(), tmp_path / "frame.png")


def test_scene_and_picture_modules_load_no_vtk():
    modules = [
        "geometry",
        "travel",
        "warp",
        "scene",
        "look",
        "camera",
        "ink",
        "notes",
        "labels",
        "draw",
        "film",
        "picture",
        "window",
        "opengl",
    ]
    program = f"import sys; [__import__('framevis.pictures.' + m) for m in {modules}]; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    loaded = {name.split(".")[0] for name in done.stdout.split()}
    assert loaded.isdisjoint({"pyvista", "vtk", "vtkmodules", "matplotlib", "trimesh"})
