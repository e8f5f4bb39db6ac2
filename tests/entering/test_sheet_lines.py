"""A sheet changes its cells and nothing else, and the reader finds in it what was put in."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from framevis.entering.sheet import sheet_from
from framevis.reading.csv_numbers import Numbers
from framevis.reading.csv_table import read_table
from framevis.reading.door import Door

FILE = (
    "\ufeff# by hand\r\nstation_mm;reading_um;temperature_c # µm\r\n\r\n100;;20,5\r\n200;1,5 # burr\r\n# end\r\n300\r\n"
)


def test_only_the_cell_changes():
    changed = sheet_from(FILE.encode()).with_values(0, {"reading_um": Decimal("-0.25")})
    assert changed.text == FILE.replace("100;;20,5", "100;-0,25;20,5")
    assert sheet_from(FILE.encode()).text == FILE


def test_a_comment_behind_a_row_stays_and_a_short_row_is_filled_up():
    sheet = sheet_from(FILE.encode()).with_values(1, {"reading_um": None}).with_values(2, {"reading_um": Decimal(7)})
    assert "200;; # burr\r\n" in sheet.text
    assert "300;7;\r\n" in sheet.text


def test_a_note_gets_a_column_of_its_own():
    sheet = sheet_from(b"station_mm,reading_um\n1,2\n3,\n").with_note(1, 'burr, "deep" #2').with_note(1, "again")
    assert sheet.text == 'station_mm,reading_um,note\n1,2\n3,,"burr, ""deep"" #2; again"\n'


TEXT = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]) | st.sampled_from(' ,;"#'), max_size=12)


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    return tmp_path_factory.mktemp("sheets") / "sweep.csv"


@given(
    st.sampled_from([b"station_mm,reading_um,note\n1,,\n2,3.5,x\n", b"station_mm;reading_um;note\n1;;\n2;3,5;x\n"]),
    st.decimals(-999, 999, places=3), TEXT,
)  # fmt: skip
def test_the_reader_finds_what_was_put_in(place, file, value, note):
    sheet = sheet_from(file).with_values(0, {"reading_um": value}).with_texts(0, {"note": note.strip()})
    place.write_bytes(sheet.text.encode())
    door = Door("x")
    table = read_table(place, door)
    assert table is not None
    assert Numbers(table, door).read(table.rows[0], 1) == float(value)
    assert not door.problems
    assert sheet_from(place.read_bytes()).cell(0, "note") == table.rows[0].cells[2]
    if not note.strip().startswith('"'):
        assert table.rows[0].cells[2] == note.strip()
