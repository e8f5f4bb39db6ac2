"""A new frame's text: every combination of answers gives a file that loads and means what was answered."""

from __future__ import annotations

import tempfile
from itertools import product
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from framevis.errors import BadInput
from framevis.frame import BALL_PITCH, Frame
from framevis.reading.frame_file import read_frame
from framevis.starting.answers import Answers, Refused, between, read_choice, read_length
from framevis.starting.begin import write_new
from framevis.starting.guides import ARRANGEMENTS, SIZES, generic
from framevis.starting.questions import QUESTIONS, answered
from framevis.starting.toml_text import toml_text

SECTIONS = (("channel", "away_from_rails"), ("channel", "toward_rails"), ("box", None), ("plate", None))


def answers_to(**given: str | None) -> Answers:
    return answered({key: value for key, value in given.items() if value is not None}, None, print)


def loaded(answers: Answers) -> Frame:
    """The frame that the text gives when it is read from a folder."""
    with tempfile.TemporaryDirectory() as folder:
        write_new(Path(folder) / "new", toml_text(answers), answers.stage)
        return read_frame(Path(folder) / "new")


@pytest.mark.parametrize(("section", "mouth"), SECTIONS)
@pytest.mark.parametrize("kind", ["portal", "single"])
@pytest.mark.parametrize("unit", ["mm", "in"])
def test_all_guides_on_all_sections_load_without_a_warning(unit, kind, section, mouth):
    for size, arrangement in product(SIZES, ARRANGEMENTS):
        frame = loaded(
            answers_to(
                unit=unit, kind=kind, section=section, mouth=mouth, guide_size=str(size), arrangement=arrangement
            )
        )
        assert frame.warnings == ()
        assert len(frame.beams) == (3 if kind == "portal" else 1)
        assert len(frame.rails) == 2 * len(frame.beams)
        assert {len(carriage.blocks) for carriage in frame.carriages} == {4}
        kinds = [sweep.kind for sweep in frame.sweeps]
        assert kinds.count("mouth") == (len(frame.beams) if section == "channel" else 0)
        for kind_of_sweep, each in (("indicator", 2), ("bridge", 1), ("level_across", 3), ("gap", 1)):
            assert kinds.count(kind_of_sweep) == each * len(frame.beams)
        assert len({sweep.instrument for sweep in frame.sweeps if sweep.is_angle}) == 1
        assert [pull.carriage.name for pull in frame.pulls] == [carriage.name for carriage in frame.carriages]
        guide = frame.rails[0].guide
        assert guide.rail_width_mm == pytest.approx(size, abs=0.002)
        assert guide.arrangement == arrangement


@pytest.mark.parametrize(("size", "arrangement"), list(product(SIZES, ARRANGEMENTS)))
def test_generic_guides_can_be_built(size, arrangement):
    """Plain geometry: the balls lie inside the block, rows beside the rail's middle, the block over the rail."""
    guide = generic(size, arrangement)
    row = (guide.balls_per_row - 1) * BALL_PITCH * guide.ball_diameter + guide.ball_diameter
    assert row < guide.block_length
    assert guide.rail_width < guide.block_width
    assert guide.rail_height < guide.block_height
    assert guide.ball_height + guide.row_gap / 2 + guide.ball_diameter / 2 < guide.rail_height + 0.5
    assert guide.ball_height - guide.row_gap / 2 - guide.ball_diameter / 2 > 0
    assert (guide.row_gap == 0) == (arrangement == "gothic")
    assert guide.row_gap == 0 or guide.row_gap > guide.ball_diameter


def tried(given_options: dict[str, str]) -> tuple[Answers | None, BadInput | None]:
    try:
        return answers_to(**given_options), None
    except BadInput as bad:
        return None, bad


NAMES = st.text(st.characters(codec="utf-8"), min_size=1, max_size=60).filter(lambda t: t.isprintable() and t.strip())
LENGTHS = st.floats(0.5, 25_000).map(lambda value: f"{value:.3f}")


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.fixed_dictionaries(
        {},
        optional={
            "unit": st.sampled_from(["mm", "in"]),
            "name": NAMES,
            "kind": st.sampled_from(["portal", "single"]),
            "guide_size": st.sampled_from([str(size) for size in SIZES]),
            "arrangement": st.sampled_from(ARRANGEMENTS),
            "section": st.sampled_from(["channel", "box", "plate"]),
            "mouth": st.sampled_from(["away_from_rails", "toward_rails"]),
            "stage": st.text(st.characters(codec="utf-8"), min_size=1, max_size=30),
            **dict.fromkeys(("length", "width", "depth", "wall", "span"), LENGTHS),
        },
    )
)
def test_options_give_a_frame_that_loads_or_one_sentence(given_options):
    answers, refused = tried(given_options)
    if refused is not None:
        assert len(refused.problems) == 1
        assert str(refused).isprintable()
        assert str(refused).startswith("--")
    if answers is None:
        return
    frame = loaded(answers)
    assert frame.warnings == ()
    assert frame.name == answers.name
    assert frame.stages[0] == answers.stage
    mm = 25.4 if answers.unit == "in" else 1.0
    first = frame.beams[0]
    assert first.length_mm == pytest.approx(answers.length * mm, rel=1e-6)
    assert first.section.width_mm == pytest.approx(answers.width * mm, abs=0.002)
    for carriage in frame.carriages:
        low, high = carriage.travel_mm
        assert high - low > 50.0
        one, other = (next(b for b in carriage.blocks if b.rail is rail) for rail in _rails(carriage))
        apart = abs(one.rail.seat_mm - other.rail.seat_mm)
        assert apart >= one.rail.guide.block_width_mm


def _rails(carriage):
    return list({block.rail.name: block.rail for block in carriage.blocks}.values())


@pytest.mark.parametrize(
    "name", ['Say "cheese" \\ back', "桌子 стол δοκός", "it's <b>bold</b> & more", "# no comment", "𝔘🔧"]
)
def test_a_name_comes_back_as_it_was_given(name):
    assert loaded(answers_to(name=name)).name == name


@pytest.mark.parametrize(
    ("first", "listed"),
    [
        ("as_found", ("as_found", "after_shims", "as_left")),
        ("As_Left", ("As_Left",)),
        ("2031-05", ("2031-05", "after_shims", "as_left")),
    ],
)
def test_stages_follow_the_first_in_the_order_of_work(first, listed):
    assert loaded(answers_to(stage=first)).stages == listed


def test_a_portal_is_symmetrical():
    """Outer rails look away from each other, and the crossbeam lies over the middles of both side beams."""
    frame = loaded(answers_to(kind="portal", span="800", length="1200"))
    outer = {name: frame.rail(f"{name}_outer").point(0.0) for name in ("left", "right")}
    inner = {name: frame.rail(f"{name}_inner").point(0.0) for name in ("left", "right")}
    middle = 400.0
    assert outer["left"][0] < inner["left"][0] < middle < inner["right"][0] < outer["right"][0]
    assert outer["left"][0] + outer["right"][0] == pytest.approx(2 * middle)
    cross = frame.beam("cross")
    assert (cross.start_mm + cross.end_mm)[:2] == pytest.approx([2 * middle, 1200.0])
    assert cross.carried_at_mm == pytest.approx(600.0)


@pytest.mark.parametrize(
    ("typed", "unit", "value"),
    [
        ("1500", "mm", 1500.0),
        (" 62,5 ", "mm", 62.5),
        ("62.5mm", "mm", 62.5),
        ("1,5 m", "mm", 1500.0),
        ("2 in", "mm", 50.8),
        ('60"', "in", 60.0),
        ("254 mm", "in", 10.0),
        (".5", "in", 0.5),
    ],
)
def test_lengths_are_read_with_point_or_comma_and_with_a_unit(typed, unit, value):
    assert read_length(typed, unit) == pytest.approx(value)


@pytest.mark.parametrize("typed", ["", "long", "-5", "1e3", "1.500,0", "5 furlongs", "nan", "inf", "1" * 12])
def test_what_is_no_length_is_refused_with_an_example(typed):
    with pytest.raises(Refused, match="give one number in mm, such as"):
        read_length(typed, "mm")


def test_words_may_be_shortened_and_misspelt_ones_are_corrected():
    assert read_choice("PORT", ("portal", "single")) == "portal"
    assert read_choice("away from rails", ("away_from_rails", "toward_rails")) == "away_from_rails"
    with pytest.raises(Refused, match='did you mean "single"'):
        read_choice("singel", ("portal", "single"))


def test_limits_are_said_in_the_frames_unit():
    with pytest.raises(Refused, match=r"give at least 3\.95 in"):
        between(3.9, 100.0, 1000.0, "in")
    assert between(100.0, 100.0, 200.0, "mm") == 100.0


@pytest.mark.parametrize(
    ("given_options", "says"),
    [
        ({"section": "box", "mouth": "toward_rails"}, "--mouth: only a channel has a mouth: leave it out"),
        ({"section": "plate", "wall": "5"}, "--wall: a plate is all wall: leave it out"),
        ({"kind": "single", "span": "900"}, "--span: only a portal has two side beams: leave it out"),
        ({"width": "40"}, "--width: 40 mm is too little for two rails of size 15 side by side: give at least 52 mm"),
        ({"length": "30 m"}, "--length: 30000 mm is too much: give at most 20000 mm"),
        ({"guide_size": "16"}, '--guide-size: "16" is not one of the answers: give one of 9, 12, 15, 20, 25'),
        ({"name": " "}, "--name: is empty: give it a name"),
        ({"stage": "a/b"}, '--stage: "a/b" can\'t be a name'),
    ],
)
def test_what_cannot_be_used_is_said_in_one_sentence(given_options, says):
    with pytest.raises(BadInput) as bad:
        answers_to(**given_options)
    assert str(bad.value).startswith(says)


def test_every_least_that_is_named_is_taken():
    """Whoever gives the least length that the sentence names gets a frame."""
    for size, key in product(SIZES, ("width", "length", "span")):
        options = {"guide_size": str(size), "kind": "portal"}
        with pytest.raises(BadInput, match="give at least") as bad:
            answers_to(**options, **{key: "3"})
        least = str(bad.value).rpartition("give at least ")[2].split()[0]
        assert loaded(answers_to(**options, **{key: least})).warnings == ()


def test_questions_are_asked_in_order_with_the_usual_answer_and_again_after_a_bad_one():
    typed = iter(["mm", "Bench", "single", "20", "", "chan", "quer", "toward", "10", "1000", "", "80,5", "", "first"])
    prompts, said = [], []

    def ask(prompt: str) -> str:
        prompts.append(prompt)
        return next(typed)

    answers = answered({}, ask, said.append)
    assert (answers.name, answers.kind, answers.guide_size, answers.arrangement) == ("Bench", "single", 20, "O")
    assert (answers.mouth, answers.length, answers.depth, answers.span) == ("toward_rails", 1000.0, 80.5, None)
    assert len(said) == 2
    assert said[0] == '"quer" is not one of the answers: give one of away_from_rails, toward_rails.'
    assert "too little" in said[1]
    assert all(prompt.endswith("]: ") for prompt in prompts)
    assert any("Length of the beam, mm [" in prompt for prompt in prompts)
    assert next(question.key for question in QUESTIONS) == "unit"
    assert next(typed, None) is None


def test_only_what_was_not_given_is_asked():
    asked = []
    answered({"unit": "in", "kind": "single", "section": "plate"}, lambda p: asked.append(p) or "", print)
    assert len(asked) == len(QUESTIONS) - 3 - 3  # mouth, wall and span don't apply
