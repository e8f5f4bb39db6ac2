"""The README's pictures of the demo are there, small, and drawn again by one script."""

from __future__ import annotations

from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path

import pytest
from PIL import Image

DEMO = Path(__file__).parents[2] / "demo_frames"
NAMES = ["along_left_beam.png", "as_found.png", "as_left.png", "plan.png"]


def test_the_pictures_are_small():
    files = sorted((DEMO / "pictures").iterdir())
    assert [file.name for file in files] == NAMES
    assert all(file.stat().st_size < 150_000 for file in files)


def test_the_script_draws_them_all(tmp_path, monkeypatch):
    spec = spec_from_file_location("draw_pictures", DEMO / "draw_pictures.py")
    assert spec is not None
    assert spec.loader is not None
    script = module_from_spec(spec)
    spec.loader.exec_module(script)
    for name, value in {"PICTURES": tmp_path, "DRAWS": 20, "SIZE": (360, 240), "CLOSE_SIZE": (480, 320)}.items():
        monkeypatch.setattr(script, name, value)
    script.draw_all()
    assert sorted(file.name for file in tmp_path.iterdir()) == NAMES
    for name, size in zip(NAMES, [(480, 320), (360, 240), (360, 240), (360, 240)], strict=True):
        with Image.open(tmp_path / name) as image:
            assert (image.mode, image.size) == ("P", size)
            assert len(image.convert("RGB").getcolors(10_000)) > 60


@pytest.mark.parametrize("name", NAMES)
def test_each_shows_something(name):
    with Image.open(DEMO / "pictures" / name) as image:
        assert image.size[0] == 1200
        assert len(image.convert("RGB").getcolors(10_000)) > 100
