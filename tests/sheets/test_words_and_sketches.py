"""What a sheet says and draws: signs as the estimate has them, left on the left, the bodies of the frame's scene."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser

import numpy as np
import pytest

from framekit import SAMPLE_TOML, write_frame
from framevis.frame import Beam, Frame, Sweep, locked
from framevis.observe import view
from framevis.pictures.scene import build_scene
from framevis.pictures.travel import resolve_positions
from framevis.reading.frame_file import read_frame
from framevis.sheets.bodies import bodies
from framevis.sheets.cross_section import cross_section
from framevis.sheets.overview import camera_for, marked, overview
from framevis.sheets.stations_table import stations_table
from framevis.sheets.words import plus, setup, title, touch, zero
from framevis.starting.questions import answered
from framevis.starting.toml_text import toml_text
from machines import study_of
from sheets.oddframe import odd_frame, sweep_of


def own_weight(sweep: Sweep, kind: str, at_mm: float = 700.0) -> float:
    """How much of a function of the sweep's last rail, or beam, a reading shows."""
    name = sweep.rails[-1].name if sweep.rails else sweep.station_beam.name
    seen = view(sweep, np.array([at_mm]))
    return sum(part.weights.get((kind, name), 0.0) for part in seen.parts)


def turned(toml: str) -> str:
    """The same frame with all signs turned that can be."""
    return re.sub(r'(kind = "(?:indicator|bridge|level_along|level_across)")', r"\1\nsign = -1", toml)


def frames(tmp_path) -> Iterator[Frame]:
    for name, toml in (("plain", SAMPLE_TOML), ("turned", turned(SAMPLE_TOML))):
        yield read_frame(write_frame(tmp_path / name, toml, {}))
    yield odd_frame(tmp_path / "odd")


def test_plus_is_what_the_estimate_takes_as_plus(tmp_path):
    """A rail of its own moved left (or up, or rolled left side up) must raise exactly the readings said to be plus."""
    told = 0
    for frame in frames(tmp_path):
        for sweep in frame.sweeps:
            says = plus(frame, sweep)
            if sweep.kind in {"indicator", "bridge"}:
                lateral = sweep.direction == "lateral"
                weight = own_weight(sweep, "own_lateral" if lateral else "own_height")
                same_way = 1.0 if not lateral else float(sweep.rails[-1].axes[1] @ sweep.rails[0].axes[1])
                words = ("left", "right") if lateral else ("higher", "lower")
                assert f"is {'further to the ' if lateral else ''}{words[0 if weight * same_way > 0 else 1]}" in says
                told += 1
            if sweep.kind == "level_across" and len(sweep.rails) < 2:
                weight = own_weight(sweep, "own_roll" if sweep.rails else "twist")
                assert f"the {'left' if weight > 0 else 'right'} side is up" in says
                told += 1
    assert told >= 15


def test_a_bridge_tells_whether_plus_is_further_apart(tmp_path):
    """Moved by plain geometry: rail B by a millimetre the way that is said, measured against rail A."""
    checked = 0
    for frame in frames(tmp_path):
        for sweep in frame.sweeps:
            if sweep.kind != "bridge" or sweep.direction != "lateral":
                continue
            a, b = sweep.rails
            says = plus(frame, sweep)
            left = a.axes[1] if "to the left" in says else -a.axes[1]
            before = abs(float((b.point(0.0) - a.point(0.0)) @ a.axes[1]))
            after = abs(float((b.point(0.0) + left - a.point(0.0)) @ a.axes[1]))
            assert ("further apart" if after > before else "nearer together") in says
            checked += 1
    assert checked == 3


def test_the_touch_settles_only_what_has_a_sign(tmp_path):
    odd = odd_frame(tmp_path)
    silent = {sweep.name for sweep in (*odd.sweeps, *odd.pulls) if touch(sweep) is None}
    assert silent == {"mm", "gp", "pp"}
    assert "take sign = -1 out" in (touch(sweep_of(odd, "across")) or "")
    assert "set sign = -1" in (touch(sweep_of(odd, "face")) or "")
    assert "lift its right foot" in (touch(sweep_of(odd, "lbeam")) or "")
    assert "let the stylus out" in (touch(sweep_of(odd, "rev")) or "")


def test_zero_looking_and_setting_up_are_told_in_the_frames_unit(tmp_path):
    odd = odd_frame(tmp_path)
    assert "start of beam b, at x 36, y 60, z 0 (in)" in zero(odd, sweep_of(odd, "st"))
    assert "end is at 60 in" in zero(odd, sweep_of(odd, "st"))
    assert "as if the rail's face were up (on the machine it looks sideways)" in zero(odd, sweep_of(odd, "side"))
    assert "looks down" in zero(odd, sweep_of(odd, "under"))
    assert "0.37 in above the rail's seat" in " ".join(setup(odd, sweep_of(odd, "st")))
    assert "TURNED OVER" in " ".join(setup(odd, sweep_of(odd, "rev")))
    assert "the drawn distance of 38.35 in" not in " ".join(setup(odd, sweep_of(odd, "acrossh")))
    assert "against the drawn distance of 38.35 in" in " ".join(setup(odd, sweep_of(odd, "across")))
    assert "mouth of beam a, 0.25 in inside" in " ".join(setup(odd, sweep_of(odd, "mm")))
    assert "its feet 6 in apart" in " ".join(setup(odd, sweep_of(odd, "la")))


def test_the_marked_end_of_a_level_lies_where_its_zero_is_taken_from(tmp_path):
    """Turned end for end, the level's plus turns and its zero doesn't: so the estimate takes sign = -1."""
    plain, other = list(frames(tmp_path))[:2]
    assert "keep it to the left here" in " ".join(setup(plain, sweep_of(plain, "left_across")))
    assert "keep it to the right here" in " ".join(setup(other, sweep_of(other, "left_across")))


def test_a_carriage_that_shares_a_beam_is_pulled_by_itself(tmp_path):
    answers = answered({}, None, print)
    frame = read_frame(write_frame(tmp_path, toml_text(answers), {}))
    assert "uncouple beam cross from carriage right" in " ".join(setup(frame, sweep_of(frame, "left_pull")))
    assert "uncouple" not in " ".join(setup(frame, sweep_of(frame, "head_pull")))


def test_an_edge_is_named_by_the_side_on_which_it_is_seen(tmp_path):
    """Beam b runs backward: its rail's own left lies to the right as seen along a."""
    odd = odd_frame(tmp_path)
    said = " ".join(setup(odd, sweep_of(odd, "gp")))
    assert "feeler goes in at the right edge of the top on rail b1" in said
    assert "the left edge of the top on rail a1 and the right edge of the top on rail a1" in said


def test_the_bodies_are_those_of_the_scene(tmp_path):
    """Every corner that is drawn is a nominal vertex of the scene's part of the same name, and none reaches further."""
    toml = toml_text(answered({"stage": "now"}, None, print))
    toml = toml.replace("carried_at = 750", "carried_at = 400")  # not where the carriages are drawn
    readings = {"left_outer_lateral": "station_mm,reading_um\n100,0\n700,9\n1400,0\n"}
    study = study_of(write_frame(tmp_path, toml, {"now": readings}), 20)
    scene = build_scene(study, resolve_positions(study.frame, {}, {}))
    drawn = bodies(study.frame)
    assert sorted(body.name for body in drawn) == sorted(part.name for part in scene.parts)
    for body in drawn:
        off = (_farthest(body.solid.vertices, part.vertices) for part in scene.parts if part.name == body.name)
        assert min(off) < 1e-9


def _farthest(points: np.ndarray, among: np.ndarray) -> float:
    """How far (mm) the loneliest of points (N, 3) lies from its nearest of others (M, 3)."""
    return float(np.linalg.norm(points[:, None] - among[None], axis=2).min(axis=1).max())


class Letters(HTMLParser):
    """Where each text of an SVG stands."""

    def __init__(self) -> None:
        super().__init__()
        self.at: dict[str, tuple[float, float]] = {}
        self._place: tuple[float, float] | None = None

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self._place = (float(given["x"]), float(given["y"])) if tag == "text" else None

    def handle_data(self, data):
        if self._place is not None:
            self.at[data] = self._place
            self._place = None


def letters(svg: str) -> dict[str, tuple[float, float]]:
    parser = Letters()
    parser.feed(svg)
    return parser.at


def test_in_the_cut_left_is_left(tmp_path):
    for frame in frames(tmp_path):
        for sweep in (each for each in frame.sweeps if len(each.rails) == 2):
            a, b = sweep.rails
            at = letters(cross_section(frame, sweep))
            b_is_left = float((b.point(0.0) - a.point(0.0)) @ a.axes[1]) > 0.0
            assert (at["B"][0] < at["A"][0]) == b_is_left


def test_the_arrow_of_plus_goes_where_the_words_say(tmp_path):
    """The + stands beyond the arrow's tip; its foot is over rail B, or A where that is the only one."""
    checked = 0
    for frame in frames(tmp_path):
        for sweep in frame.sweeps:
            if sweep.kind not in {"indicator", "bridge"} or sweep.direction != "lateral":
                continue
            drawn = cross_section(frame, sweep)
            feet = re.findall(r'<path class="arrow" d="M([-\d.]+) ([-\d.]+)L([-\d.]+) ([-\d.]+)"', drawn)
            foot_x, _, tip_x, _ = map(float, feet[-1])
            assert ("further to the left" in plus(frame, sweep)) == (tip_x < foot_x)
            assert (letters(drawn)["+"][0] < foot_x) == (tip_x < foot_x)
            checked += 1
    assert checked >= 8


def test_everything_lies_on_paper(tmp_path):
    for frame in frames(tmp_path):
        for sweep in (*frame.sweeps, *frame.pulls):
            drawn = cross_section(frame, sweep)
            for x, y in re.findall(r"[ML]([-\d.]+) ([-\d.]+)", drawn):
                assert -0.5 <= float(x) <= 88.5
                assert -0.5 <= float(y) <= 62.5
            for x, y in letters(drawn).values():
                assert 0.0 <= x <= 88.0
                assert 2.0 <= y <= 62.0


def test_from_behind_the_start_the_beam_leads_away_and_its_face_is_seen(tmp_path):
    for frame in frames(tmp_path):
        for beam in frame.beams:
            camera = camera_for(beam, frame)
            s, t, n = beam.axes
            assert float(n @ camera.forward) < 0.0
            upright = abs(float(s @ frame.up)) > 0.9
            assert upright or float(s @ camera.forward) > 0.5
            if not upright and float(n @ frame.up) > 0.9:
                assert float(t @ camera.right) < 0.0  # left is on the left
            box = np.array([camera.right, camera.up, camera.forward])
            assert box @ box.T == pytest.approx(np.eye(3), abs=1e-12)


@pytest.mark.parametrize("normal", [[1, 0, 0], [-1, 0, 0], [0, 0, 1], [0, 0, -1], [1, 0, 1], [-1, 0, -1]])
@pytest.mark.parametrize("way", [[0, 1000, 0], [0, -1000, 0]])
def test_a_face_is_seen_whichever_way_it_looks(normal, way, tmp_path):
    odd = odd_frame(tmp_path)
    beam = Beam("b", odd.beams[0].section, locked([0, 0, 0]), locked(way), locked(normal))
    camera = camera_for(beam, odd)
    assert float(beam.axes[2] @ camera.forward) < -0.3
    assert float(beam.axes[0] @ camera.forward) > 0.5


def test_zero_stands_at_the_start(tmp_path):
    """On paper the 0 is nearer the beam's start than its end, and the far end's length nearer the end."""
    odd = odd_frame(tmp_path)
    for name in ("st", "face", "upr", "lbeam"):
        sweep = sweep_of(odd, name)
        beam = sweep.station_beam
        base = overview(odd, beam)
        start, end = base.paper.on(base.camera.view(np.array([beam.start_mm, beam.end_mm])))
        at = letters(marked(odd, sweep, base, "frame1"))
        mark, far = np.array(at["0"]), np.array(at[f"{beam.length_mm / 25.4:g} in"])
        assert np.linalg.norm(mark - start) < np.linalg.norm(mark - end)
        assert np.linalg.norm(far - end) < np.linalg.norm(far - start)


def test_titles_are_different(tmp_path):
    odd = odd_frame(tmp_path)
    titles = [title(sweep) for sweep in (*odd.sweeps, *odd.pulls)]
    assert len(set(titles)) >= len(titles) - 2  # three runs along one rail are told apart by their files


def test_the_table_has_a_cell_for_every_reading(tmp_path):
    odd = odd_frame(tmp_path)
    out_and_back = stations_table(odd, sweep_of(odd, "st"), (1.0, 5.0, 9.0, 5.0, 1.0))
    assert out_and_back.count("<tr>") == 4
    assert out_and_back.count("turn") == 1
    assert out_and_back.count("<td></td>") == 3 * 3 - 1
    long = stations_table(odd, sweep_of(odd, "gp"), tuple(float(i) for i in range(21)))
    assert long.count("<table") == 2
    assert long.count('scope="row"') == 21
