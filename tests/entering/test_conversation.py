"""The conversation without a terminal: what each line does, and that no line ever spoils the file."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from enterkit import OUT_AND_BACK, STATIONS, UNITS, desk_for
from framevis.entering.screen import lines_of, prompt_of
from framevis.entering.sheet import sheet_from
from framevis.entering.slots import is_filled, slots_of

START = ("", "s")  # the unit that stands there, no sign check


def test_station_after_station_out_and_back_with_closure(tmp_path):
    desk = desk_for(tmp_path, "left_outer_lateral")
    desk.type(*START)
    out = [0, 4, 7, 8, 7, 4, 0]
    for reading in (*out, *(value + 3 for value in reversed(out[:-1]))):
        desk.type(str(reading))
    assert desk.state.mode == "end"
    screen = " ".join(lines_of(desk.state, 100, is_big=False))
    assert "13 of 13 read" in screen
    assert "Back against out, 6 stations: mean +3, largest +3 µm" in screen
    assert "a good run" in screen
    assert [row.split(",")[1] for row in desk.kept[-1].split()[1:]] == [
        "0",
        "4",
        "7",
        "8",
        "7",
        "4",
        "0",
        "7",
        "10",
        "11",
        "10",
        "7",
        "3",
    ]
    assert desk.type("").mode == "done"


@pytest.mark.parametrize(("drift", "words"), [(9, "a good run"), (15, "at the edge of a good run"), (25, "a bad run")])
def test_closure_by_common_practice(tmp_path, drift, words):
    """Common practice: a return that differs by more than 10–20 µm is a bad run."""
    rows = [f"{s},{(i == 9) * drift}" for i, s in enumerate(OUT_AND_BACK)]
    desk = desk_for(tmp_path, "left_outer_lateral", text="\n".join(["station_mm,reading_um", *rows]))
    screen = " ".join(lines_of(desk.state, 100, is_big=False))
    assert f"largest +{drift} µm at 700 mm" in screen
    assert words in screen


def test_a_reading_that_does_not_fit_is_written_and_asked_about(tmp_path):
    desk = desk_for(tmp_path, "left_outer_lateral")
    desk.type(*START, "0", "2", "4", "6")
    assert desk.type("-80").mode == "doubt"
    assert "900,-80\n" in desk.kept[-1]
    assert "-80 does not fit its neighbours: they say 8 ± " in " ".join(lines_of(desk.state, 100, is_big=False))
    assert desk.type("").mode == "doubt"  # some gauges send Return twice
    assert desk.type("8").mode == "reading"
    assert "900,8\n" in desk.kept[-1]
    assert desk.type("-80").mode == "doubt"
    assert desk.type("k").at == 6
    assert "1100,-80\n" in desk.kept[-1]
    assert desk.type("12").mode == "reading"  # one bad neighbour makes no second question


def test_the_same_twice_is_believed_and_undo_takes_a_doubted_one_away(tmp_path):
    desk = desk_for(tmp_path, "left_outer_lateral")
    desk.type(*START, "0", "2", "4", "6")
    assert desk.type("-80", "-79.5").mode == "reading"
    assert "The same twice" in desk.said
    desk.type("200")
    assert desk.type("u").mode == "reading"
    assert desk.state.station(desk.state.slot) == 1100.0
    assert "1100,\n" in desk.kept[-1]


def test_a_unit_with_the_number_and_a_unit_for_the_whole_file(tmp_path):
    desk = desk_for(tmp_path, "left_outer_lateral")
    desk.type(*START, "0.012 mm")
    assert "100,12\n" in desk.kept[-1]
    assert "= 12 µm, typed 0.012 mm" in desk.said
    desk = desk_for(tmp_path, "left_outer_lateral")
    desk.type("mm", "s", "0,012", "12 um", "1 thou")
    assert desk.kept[-1].startswith("station_mm,reading_mm\n100,0.012\n300,0.012\n500,0.0254\n")
    again = desk_for(tmp_path, "left_outer_lateral", text=desk.kept[-1])
    again.type("um", "s", "12")  # there are readings: the file's unit stays
    assert "700,0.012\n" in again.kept[-1]


def test_undo_skip_note_help_and_coming_back(tmp_path):
    desk = desk_for(tmp_path, "left_outer_lateral", STATIONS)
    desk.type(*START, "1", "s", "n burr stoned off", "2", "u")
    assert "Undone: 500 mm was 2 µm" in desk.said
    assert "500,,burr stoned off" in desk.kept[-1]
    desk.type("2", "3", "u", "u", "u")
    assert "skipped" in desk.said
    desk.type("5", "?")
    assert "undo" in desk.said
    desk.type("2", "s", "4", "5", "6")
    assert desk.state.mode == "skipped"
    assert "Not read yet: 700 mm" in " ".join(lines_of(desk.state, 100, is_big=False))
    desk.type("", "3.5")
    assert desk.state.mode == "end"
    assert [row.split(",")[1] for row in desk.kept[-1].splitlines()[1:]] == ["1", "5", "2", "3.5", "4", "5", "6"]
    assert desk.type("u").mode == "reading"


def test_it_goes_on_where_it_stopped(tmp_path):
    text = "station_mm,reading_um\n100,1\n300,\n500,2\n700,\n900,\n"
    desk = desk_for(tmp_path, "left_outer_lateral", text=text)
    assert desk.state.station(desk.state.slot) == 700.0
    desk.type(*START, "u")
    assert "Undone: 500 mm was 2 µm" in desk.said


def test_a_pull_goes_out_over_all_stations_then_back(tmp_path):
    desk = desk_for(tmp_path, "left_pull", ("100", "700"))
    desk.type("", "13", "10", "13,5", "1 kgf", "14", "11", "14", "11")
    assert desk.state.mode == "end"
    assert desk.kept[-1].splitlines()[1:] == ["100,13,10,14,11", "700,13.5,9.80665,14,11"]


def test_feelers_are_typed_as_a_pair(tmp_path):
    desk = desk_for(tmp_path, "left_tops", STATIONS)
    desk.type("", "20")
    assert "Type both feelers" in desk.said
    desk.type("20 30", "30 20")
    assert 'go "30" is more than no_go "20"' in desk.said
    assert desk.kept[-1].splitlines()[1:3] == ["100,20,30", "300,,"]


def test_what_the_reader_would_refuse_is_not_written(tmp_path):
    desk = desk_for(tmp_path, "left_outer_lateral")
    desk.type(*START, "99999999")
    assert "Not written: reading" in desk.said
    assert desk.kept == []
    assert desk.state.at == 0


LINES = st.one_of(
    st.sampled_from(["", "u", "s", "k", "?", "n", "n note", 'n "x",;#', "y", "t", "a", "1", "2", "+", "-", "um", "mm"]),
    st.decimals(-50, 50, places=1).map(str),
    st.tuples(st.integers(0, 50), st.integers(0, 50)).map(lambda pair: f"{pair[0]} {pair[1]}"),
    st.tuples(st.decimals(-2, 2, places=3), st.sampled_from(["mm", "thou", "N", "mm/m"])).map(
        lambda p: f"{p[0]} {p[1]}"
    ),
    st.text(max_size=20),
)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from(sorted(UNITS)), st.lists(LINES, max_size=40))
def test_whatever_is_typed_the_file_can_be_read_and_the_screen_printed(tmp_path, name, lines):
    desk = desk_for(tmp_path, name)
    for line in lines:
        desk.type(line)
        assert all(shown.isprintable() for shown in (*lines_of(desk.state, 80, is_big=True), prompt_of(desk.state)))
        assert desk.state.sheet.text == (desk.kept[-1] if desk.kept else desk.state.sheet.text)
        if desk.state.mode == "done":
            break
    if desk.kept:
        sheet = sheet_from(desk.kept[-1].encode())
        done = [is_filled(sheet, slot) for slot in slots_of(sheet, desk.state.sweep)]
        assert done == list(desk.state.filled)
