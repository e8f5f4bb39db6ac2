"""framevis from Python: what a notebook gets is arrays, a multiblock and a table, and importing it costs nothing."""

from __future__ import annotations

import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

import framevis
from framekit import SAMPLE_TOML, write_frame
from framevis.errors import BadInput
from framevis.report_json import assessment

DEMO = Path(__file__).parents[2] / "demo_frames" / "glazing_table"
HEAVY = {"vtk", "vtkmodules", "pyvista", "matplotlib", "trimesh"}


@pytest.fixture(scope="module")
def found():
    return framevis.load(DEMO).assess("as_found", draws=200)


class Text(HTMLParser):
    """The texts of a piece of HTML and its tags; every tag must close."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.tags: list[str] = []
        self.open: list[str] = []

    def handle_starttag(self, tag, attrs) -> None:
        self.tags.append(tag)
        self.open.append(tag)

    def handle_endtag(self, tag) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data) -> None:
        self.texts.append(data)


def parsed(html: str) -> Text:
    reader = Text()
    reader.feed(html)
    reader.close()
    assert reader.open == []
    return reader


def loaded_by(program: str) -> set[str]:
    done = subprocess.run(
        [sys.executable, "-c", f"import sys\n{program}\nprint(*sys.modules)", str(DEMO)],
        capture_output=True, text=True, check=True, timeout=120,
    )  # fmt: skip
    return {name.split(".")[0] for name in done.stdout.split()}


def test_importing_framevis_loads_nothing():
    loaded = loaded_by("import framevis; framevis.load")
    assert loaded.isdisjoint(HEAVY | {"numpy", "scipy", "pydantic", "rich"})


def test_assessing_loads_no_vtk_and_the_scene_does():
    program = "import framevis; a = framevis.load(sys.argv[1]).assess('as_found', draws=5); a._repr_html_()"
    assert loaded_by(program).isdisjoint(HEAVY)
    assert "pyvista" in loaded_by(f"{program}; a.scene()")


def test_a_machine_knows_its_stages(tmp_path):
    machine = framevis.load(str(DEMO))
    assert machine.stages == ("as_found", "as_left")
    assert [beam.name for beam in machine.frame.beams] == ["left", "right", "cross"]
    assert "as_found, as_left" in repr(machine)
    assert machine.assess(draws=2).stage == "as_left"
    with pytest.raises(BadInput, match="there is no folder"):
        framevis.load(tmp_path / "nowhere")
    with pytest.raises(BadInput, match='there is no stage "before"'):
        machine.assess("before")
    with pytest.raises(ValueError, match="draws is 0: at least one is needed"):
        machine.assess(draws=0)


def test_a_machine_without_readings_says_so(tmp_path):
    (tmp_path / "frame.toml").write_text(SAMPLE_TOML, encoding="utf-8")
    machine = framevis.load(tmp_path)
    assert machine.stages == ()
    assert "none" in repr(machine)
    with pytest.raises(BadInput, match="no stage has readings yet"):
        machine.assess()


def test_numbers_are_those_of_the_command(found):
    said = assessment(found.study)
    for carriage in said["carriages"]:
        np.testing.assert_allclose(found.stations_mm(carriage["name"]), carriage["stations_mm"], atol=1e-6)
        for block in carriage["blocks"]:
            mine = found.blocks[f"{carriage['name']}/{block['name']}"]
            assert found.verdicts[f"{carriage['name']}/{block['name']}"] == block["verdict"]
            assert mine.p_binding == block["p_binding"]
            np.testing.assert_allclose(mine.drag_ratio, block["drag_ratio"], atol=1e-6)
            assert mine.drag_ratio.dtype == np.float64
    for rail in said["deviations"]:
        np.testing.assert_allclose(found.rails[rail["rail"]].lateral.mean, rail["lateral_um"], atol=1e-6)
    for beam in said["beams"]:
        np.testing.assert_allclose(found.beams[beam["beam"]]["opening_mrad"], beam["opening_mrad"], atol=1e-6)
        np.testing.assert_allclose(found.beams[beam["beam"]]["station_mm"], beam["stations_mm"], atol=1e-6)
    assert any("left_outer_lateral at 650 mm" in text for text in found.warnings)


def test_seed_and_draws_decide(found):
    machine = framevis.load(DEMO)
    one, same, other = (machine.assess("as_found", draws=20, seed=seed) for seed in (3, 3, 4))
    p95 = [a.blocks["left/far_outer"].drag_ratio_p95 for a in (one, same, other)]
    np.testing.assert_array_equal(p95[0], p95[1])
    assert (p95[0] != p95[2]).any()


def test_the_scene_is_the_picture_as_a_multiblock(found):
    drawn, shown = found.scene(0.0, {"left": 700.0}), found.scene(300.0, {"left": 700.0})
    opened = found.scene(300.0, {"left": 700.0}, ["opening"])
    assert drawn.keys() == shown.keys()
    assert {"beam left", "rail left_outer", "block left/far_outer", "plate head"} <= set(drawn.keys())
    for name in drawn.keys():  # noqa: SIM118
        wanted = drawn[name].points + 300.0 * drawn[name]["all_mm"]
        np.testing.assert_allclose(shown[name].points, wanted, atol=1e-9)
        wanted = drawn[name].points + 300.0 * drawn[name]["opening_mm"]
        np.testing.assert_allclose(opened[name].points, wanted, atol=1e-9)
    centre = drawn["block left/far_outer"].points.mean(axis=0)
    assert centre[1] == pytest.approx(700.0 + 55.0)
    np.testing.assert_array_equal(found.scene(0.0, causes="bow")["beam left"].points, drawn["beam left"].points)
    assert {drawn[name].active_scalars_name for name in drawn.keys()} == {"colour"}  # noqa: SIM118
    assert found.scene().field_data["magnification"][0] > 100.0
    with pytest.raises(BadInput, match='did you mean "left"'):
        found.scene(positions={"lift": 700.0})
    with pytest.raises(ValueError, match="'gremlins' is no cause: the causes are bow, twist, opening, own, shims"):
        found.scene(causes=["gremlins"])


def test_a_notebook_shows_the_verdicts(found):
    table = parsed(found._repr_html_())
    text = " ".join(table.texts)
    assert "Tile glazing table · stage as_found" in text
    assert "Carriage left: 4 of 4 blocks bind beyond" in text
    assert text.count("■ binding") == 4
    assert text.count("▲ tight") == 4
    assert table.tags.count("tbody") == 3
    assert table.tags.count("tr") == 1 + 3 + 12
    assert "Caution: power off and locked out" in text
    assert "left/far_outer" in repr(found)


def test_every_name_is_escaped(tmp_path):
    bad = "<script>alert('1')<\\\\img src=x>&"
    text = SAMPLE_TOML.replace('name = "Tile glazing table"', f'name = "{bad}"')
    text = text.replace('"front_outer"', '"<b onclick=x>"').replace("[rail.left_outer]", '[rail."<i>&amp;"]')
    text = text.replace('"left_outer"', '"<i>&amp;"').replace("[carriage.left]", '[carriage."<u>\'"]')
    text = (
        text.replace('"left/', "\"<u>'/")
        .replace("/front_outer/", "/<b onclick=x>/")
        .replace('"left_outer@', '"<i>&amp;@')
    )
    shown = parsed(framevis.load(write_frame(tmp_path / "frame", text)).assess("as_found", draws=5)._repr_html_())
    assert {"script", "img", "i", "u"}.isdisjoint(shown.tags)
    assert {"<b onclick=x>", "<i>&amp;"} <= set(shown.texts)
    assert any(said.startswith("<script>alert(") for said in shown.texts)
    assert any(said.startswith("Carriage <u>'") for said in shown.texts)
