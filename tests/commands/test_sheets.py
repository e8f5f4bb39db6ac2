"""`framevis sheets` as a user runs it, and its page in a real browser: safe, readable, on A4 and on Letter."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import sync_playwright

from framekit import SAMPLE_TOML, write_frame
from framevis.errors import BadInput
from framevis.reading.frame_file import read_frame
from framevis.sheets.write import planned, write_sheets
from page.browser import opened, start
from sheets.oddframe import ODD

FRAMEVIS = [sys.executable, "-m", "framevis"]
SHEETS = 7  # sweeps of the sample


def run(*arguments: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*FRAMEVIS, *arguments], cwd=cwd, capture_output=True, text=True, stdin=subprocess.DEVNULL, check=False
    )


@pytest.fixture
def bench(tmp_path) -> Path:
    write_frame(tmp_path / "bench", SAMPLE_TOML, {})
    return tmp_path


def test_a_csv_for_every_sweep_and_one_page(bench):
    done = run("sheets", "bench", "--stage", "as_found", cwd=bench)
    assert (done.returncode, done.stderr) == (0, "")
    assert "bench/sheets_as_found.html: 7 sheets to print, in the order of the work" in done.stdout
    assert "readings/as_found/: 7 blank CSV files written" in done.stdout
    files = sorted(path.name for path in (bench / "bench/readings/as_found").iterdir())
    assert files == sorted(f"{sweep.name}.csv" for sweep in read_frame(bench / "bench").sweeps)
    lateral = (bench / "bench/readings/as_found/left_outer_lateral.csv").read_text()
    assert lateral.splitlines()[:3] == [
        "# Plus means: rail left_outer is further to the left.",
        "station_mm,reading_um,note,temperature_c",
        "35,,,",
    ]
    page = (bench / "bench/sheets_as_found.html").read_text()
    assert page.count('<section class="sheet"') == SHEETS
    assert "As found first" in page
    assessed = run("assess", "bench", cwd=bench)
    assert assessed.stderr.count("\n") == 1
    assert "there are no readings in this stage" in assessed.stderr


def test_files_that_are_there_stay_and_their_stations_go_on_the_page(bench):
    inside = bench / "bench/readings/as_found"
    inside.mkdir(parents=True)
    mine = "station_mm;reading_um\n123,5;0,5\n456;\n"
    (inside / "left_outer_lateral.csv").write_text(mine)
    done = run("sheets", "bench", "--stage", "as_found", cwd=bench)
    assert "kept as it is: left_outer_lateral.csv" in done.stdout
    assert "6 blank CSV files written" in done.stdout
    assert (inside / "left_outer_lateral.csv").read_text() == mine
    page = (bench / "bench/sheets_as_found.html").read_text()
    assert '<th scope="row">123.5</th>' in page
    before = {path.name: path.read_bytes() for path in inside.iterdir()}
    again = run("sheets", "bench", "--stage", "as_found", "--every", "50", cwd=bench)
    assert "kept as they are" in again.stdout
    assert {path.name: path.read_bytes() for path in inside.iterdir()} == before


def test_stations_at_screws_and_another_name_of_the_page(bench):
    done = run("sheets", "bench", "--stage", "as_left", "--every", "screw", "--out", "mine.html", cwd=bench)
    assert done.returncode == 0
    rows = (bench / "bench/readings/as_left/left_tops.csv").read_text().splitlines()[2:]
    assert [row.split(",")[0] for row in rows][:3] == ["35", "60", "100"]
    page = (bench / "mine.html").read_text()
    assert "As left: the same sweeps" in page


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["bench", "--stage", "as_fond"], 'there is no stage "as_fond" in frame.toml: did you mean "as_found"?'),
        (["bench", "--stage", "as_found", "--every", "often"], '--every: "often" is not a length'),
        (["bench", "--stage", "as_found", "--every", "1.0 m", "--out", "x.pdf"], "a name that ends in .html"),
        (["bench", "--stage", "as_found", "--every", "1"], "give a step with which there are at most 500"),
        (["bench", "--stage", "as_found", "--out", "no/x.html"], "there is no folder no"),
        (["bench"], "--stage"),
        (["none", "--stage", "as_found"], "there is no folder"),
    ],
)
def test_bad_input_is_one_sentence_and_writes_nothing(arguments, says, bench):
    before = sorted(bench.rglob("*"))
    done = run("sheets", *arguments, cwd=bench)
    assert done.returncode == 2
    assert says in done.stderr
    assert done.stderr.count("\n") == 1
    assert sorted(bench.rglob("*")) == before


def test_a_faulty_file_is_named_before_anything_is_written(bench):
    inside = bench / "bench/readings/as_found"
    inside.mkdir(parents=True)
    (inside / "left_tops.csv").write_text("place,reading\n1,2\n")
    done = run("sheets", "bench", "--stage", "as_found", cwd=bench)
    assert done.returncode == 2
    assert 'readings/as_found/left_tops.csv, line 1: unknown column "place"' in done.stderr
    assert [path.name for path in inside.iterdir()] == ["left_tops.csv"]


def test_a_frame_without_sweeps_is_told_so(tmp_path):
    head = SAMPLE_TOML.partition("[sweep.")[0]
    write_frame(tmp_path, head, {})
    with pytest.raises(BadInput, match="there are no sweeps"):
        planned(read_frame(tmp_path), "as_found")


def test_a_csv_that_appears_meanwhile_is_kept(bench, monkeypatch):
    frame = read_frame(bench / "bench")
    theirs = bench / "bench/readings/as_found/left_mouth.csv"
    plain = Path.write_text

    def slow(self: Path, *args: object, **kwargs: object) -> int:
        if not theirs.exists() and self.suffix == ".csv" and theirs.parent.is_dir():
            theirs.write_bytes(b"theirs")
        return plain(self, *args, **kwargs)  # type: ignore[arg-type]

    monkeypatch.setattr(Path, "write_text", slow)
    with pytest.raises(BadInput, match="appeared meanwhile"):
        write_sheets(frame, "as_found", bench / "x.html")
    assert theirs.read_bytes() == b"theirs"
    assert not (bench / "x.html").exists()


def test_it_loads_nothing_that_draws(bench):
    code = (
        "import sys; sys.argv = ['framevis', 'sheets', 'bench', '--stage', 'as_found']\n"
        "from framevis.cli import main; main()\n"
        "assert not {'vtk', 'vtkmodules', 'pyvista', 'matplotlib', 'trimesh'} & set(sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=bench, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")


@pytest.fixture(scope="module")
def chromium():
    with sync_playwright() as running:
        browser = start(running, webgl=False)
        yield browser
        browser.close()


EVIL = "<script>document.title='taken'</script>&\"' 桌"


@pytest.fixture
def odd_page(tmp_path) -> Path:
    toml = ODD.replace('name = "Odd <one> \\"quoted\\" & 桌"', f"name = '''{EVIL}'''")
    toml = toml.replace('"a1"', '"<b>&a1"').replace("[rail.a1]", '[rail."<b>&a1"]')
    assert EVIL in toml
    frame = read_frame(write_frame(tmp_path / "odd", toml, {}))
    write_sheets(frame, "as_found", tmp_path / "odd.html")
    return tmp_path / "odd.html"


def test_names_are_escaped_and_the_page_asks_for_nothing(chromium, odd_page):
    with opened(chromium, odd_page) as watched:
        assert watched.complaints == []
        assert watched.requests == [odd_page.as_uri()]
        assert watched.page.title() == f"{EVIL}, as_found: what to measure"
        assert any("rail <b>&a1" in each for each in watched.page.locator("h2").all_inner_texts())
        assert watched.page.locator("b").count() == 0


@pytest.mark.parametrize("width", [1280, 390])
def test_the_page_is_accessible(chromium, odd_page, width):
    with opened(chromium, odd_page, viewport={"width": width, "height": 900}) as watched:
        found = Axe().run(watched.page)
        assert found.violations_count == 0, found.generate_report()
        assert watched.page.evaluate("document.documentElement.scrollWidth") <= width


def test_the_sketch_is_drawn_in_the_browser(chromium, odd_page):
    """What stands once in the page and is used in each sketch has its faces white and its edges visible."""
    with opened(chromium, odd_page) as watched:
        sizes = watched.page.evaluate(
            "[...document.querySelectorAll('svg.sketch use')].map(u => u.getBoundingClientRect().width)"
        )
        assert len(sizes) == 16
        assert min(sizes) > 100
        seen = watched.page.evaluate(
            "[...document.querySelectorAll('defs path')].map(p => getComputedStyle(p)).map(s => [s.fill, s.stroke])"
        )
        assert {tuple(each) for each in seen} == {("rgb(255, 255, 255)", "none"), ("none", "rgb(90, 98, 102)")}


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("every", [None, "screw"])
def test_one_sweep_goes_on_one_sheet_of_paper(chromium, tmp_path, paper, every):
    frame = read_frame(write_frame(tmp_path / "bench", SAMPLE_TOML, {}))
    write_sheets(frame, "as_found", tmp_path / "x.html", every)
    with opened(chromium, tmp_path / "x.html") as watched:
        pdf = watched.page.pdf(format=paper, prefer_css_page_size=False, margin=dict.fromkeys(SIDES, "12mm"))
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == SHEETS + 1


SIDES = ("top", "right", "bottom", "left")
