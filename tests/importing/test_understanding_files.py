"""What files of gauges and spreadsheets are understood to say: however readings are written, they come out the same."""

import datetime
import io
from decimal import Decimal
from itertools import product

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from enterkit import PULL, sweep_named
from framekit import SAMPLE_TOML, write_frame
from framevis.errors import BadInput
from framevis.importing.numbers import decimal_sign, number
from framevis.importing.source import read_source
from framevis.importing.understanding import understand
from framevis.importing.wishes import Wishes
from framevis.reading.frame_file import read_frame


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("import")


def taken(folder, raw, sweep="left_outer_lateral", name="gauge.txt", separator=None, worksheet=None, **wishes):
    """What a file's bytes are understood to say."""
    path = folder / name
    path.write_bytes(raw if isinstance(raw, bytes) else raw.encode())
    frame_folder = write_frame(folder / "frame", SAMPLE_TOML + PULL, {})
    frame, wished = read_frame(frame_folder), Wishes(**wishes)
    wished.check()
    source = read_source(path, separator, worksheet, alone=wished.start is not None, decimal=wished.decimal)
    return understand(source, frame, sweep_named(folder / "frame", sweep), wished)


def pairs(found):
    return [(float(each.station), *(None if v is None else float(v) for v in each.readings)) for each in found.entries]


VALUES = [(100, "0.012"), (200, "-0.003"), (1200, "0.010"), (300, "-0.5")]
EXPECTED = [(100.0, 0.012), (200.0, -0.003), (1200.0, 0.01), (300.0, -0.5)]
WAYS = [
    (separator, decimal, encoding, header)
    for separator, decimal, encoding, header in product(
        [",", ";", "\t", "|", "  "], ".,", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"],
        ["Station [mm]{}Reading (mm)", "station_mm{}reading_mm", "Messstelle in mm{}Anzeige in mm", "x{}y\nmm{}mm"])
    if separator != decimal
]  # fmt: skip


@pytest.mark.parametrize(("separator", "decimal", "encoding", "header"), WAYS)
def test_any_separator_decimal_sign_encoding_and_heading(folder, separator, decimal, encoding, header):
    if separator == "  " and " in " in header:
        header = "position_mm{}value_mm"  # blanks within a name can't be told from those between names
    rows = [f"{station}{separator}{value.replace('.', decimal)}" for station, value in VALUES]
    raw = "\r\n".join([header.replace("{}", separator), *rows, ""]).encode(encoding)
    found = taken(folder, raw)
    assert pairs(found) == EXPECTED
    assert (found.unit, found.station_unit, found.labels, found.doubts) == ("mm", "mm", ("reading",), ())


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 1500), st.decimals(-5, 5, places=3)), min_size=3, max_size=20),
    st.sampled_from([(";", ","), ("\t", ","), (",", "."), (";", "."), ("\t", ".")]),
)
def test_what_was_written_is_what_is_understood(folder, rows, signs):
    separator, decimal = signs
    lines = [f"{station}{separator}{format(value, 'f').replace('.', decimal)}" for station, value in rows]
    found = taken(folder, "\n".join([f"station mm{separator}reading mm", *lines]))
    assert [(each.station, each.readings) for each in found.entries] == [(Decimal(s), (v,)) for s, v in rows]


def test_a_gauges_export_with_a_head_a_counter_and_a_time(folder):
    text = "Export of 25.11.2026\nOperator;A. B.\nSerial;12345\n\nNr;Date;Time;Value\n" + "".join(
        f"{n};25.11.2026;12:30:0{n};{value} mm\n" for n, value in enumerate(["0,012", "0,010", "-0,003"], 1)
    )
    with pytest.raises(BadInput, match="no stations: give --start and --step"):
        taken(folder, text)
    found = taken(folder, text, start=50.0, step=200.0)
    assert pairs(found) == [(50.0, 0.012), (250.0, 0.01), (450.0, -0.003)]
    assert (found.unit, found.entries[0].line) == ("mm", 6)


def test_readings_alone_with_decimal_commas_are_no_stations(folder):
    text = "0,012\n0,015\n-0,003\n"
    with pytest.raises(BadInput, match="give --start and --step"):
        taken(folder, text, unit="mm")
    assert pairs(taken(folder, text, unit="mm", start=0.0)) == [(0.0, 0.012), (100.0, 0.015), (200.0, -0.003)]


def test_columns_by_name_and_number_and_what_is_left_out(folder):
    text = "at;lateral [um];height [um];Remark\n100;1;5;a\n200;2;6;\n"
    with pytest.raises(BadInput, match=r"isn't clear which .*\(1 \"at\", 2 \"lateral \[um\]\", 3 \"height \[um\]\"\)"):
        taken(folder, text)
    for wish in ("2", "lateral", "Lateral [um]"):
        found = taken(folder, text, readings=(wish,))
        assert pairs(found) == [(100.0, 1.0), (200.0, 2.0)]
        assert found.entries[0].note == "a"
        assert any('left out: column 3 "height [um]"' in told for told in found.told)
    both = taken(folder, text, readings=("2", "3"))
    assert both.labels == ("reading", "reading_2")
    with pytest.raises(BadInput, match='--reading: there is no column "latteral": did you mean "lateral'):
        taken(folder, text, readings=("latteral",))
    with pytest.raises(BadInput, match="one column is named for two things"):
        taken(folder, text, station="1", readings=("1",))


@pytest.mark.parametrize(
    ("wishes", "stations"),
    [({"reverse": True}, [1400.0, 1300.0, 1100.0]), ({}, [100.0, 200.0, 400.0]),
     ({"station_unit": "cm"}, [1000.0, 2000.0, 4000.0]), ({"station_unit": "in"}, [100.0, 200.0, 400.0])],
)  # fmt: skip
def test_order_and_direction_of_stations(folder, wishes, stations):
    found = taken(folder, "100 1\n200 2\n400 3\n", unit="um", **wishes)
    assert [pair[0] for pair in pairs(found)] == stations
    assert found.station_unit == ("in" if wishes.get("station_unit") == "in" else "mm")


def test_units_from_the_heading_the_user_or_behind_the_numbers(folder):
    assert taken(folder, "100,1\n200,2\n", unit="thou").unit == "thou"
    assert taken(folder, "s (mm),dial (thou)\n100,1\n200,2\n").unit == "thou"
    mixed = taken(folder, "100;12 µm\n200;0.1 mm\n")
    assert (mixed.unit, pairs(mixed)) == ("um", [(100.0, 12.0), (200.0, 100.0)])
    level = taken(folder, "s [mm];[µm/m]\n100;20\n200;-40\n", sweep="left_across")
    assert (level.unit, pairs(level)) == ("mm_per_m", [(100.0, 0.02), (200.0, -0.04)])
    with pytest.raises(BadInput, match="says nowhere in which unit"):
        taken(folder, "100,1\n200,2\n")
    with pytest.raises(BadInput, match='"mm" is no unit of this sweep'):
        taken(folder, "s [mm],reading [mm]\n100,1\n200,2\n", sweep="left_across")
    with pytest.raises(BadInput, match='line 2: the number is in "mm", and you say "um"'):
        taken(folder, "100;1\n200;2 mm\n", unit="um")


def test_feelers_and_pulls_by_their_headings(folder):
    gap = taken(folder, "Station mm;Go um;No-go um\n100;20;30\n", sweep="left_tops")
    assert (gap.labels, pairs(gap)) == (("go", "no_go"), [(100.0, 20.0, 30.0)])
    pull = taken(folder, "station mm;running N;running back N;breakaway N\n100;10;11;14\n", sweep="left_pull")
    assert (pull.labels, pull.unit) == (("running", "running_back", "breakaway"), "n")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "holds nothing"), ("# only\n", "holds nothing"), ("a,b\nc,d\n", "holds no readings"),
        ("100;1\n200;x\n300;3\n", 'line 2: "x" in column 2 is not a number'),
        ("station;reading um\n100;1\n;2\n300;3\n", "line 3: the station is empty"),
        ("100;1.5\n200;2,5\n300;3\n", "points and commas are mixed"),
        ("100;1 furlong\n200;2\n", "line 1: \"furlong\" behind a number is no unit"),
        ("s [yd];um\n100;1\n", 'is no unit of stations'),
    ],
)  # fmt: skip
def test_what_is_wrong_gets_a_sentence(folder, text, words):
    with pytest.raises(BadInput) as bad:
        taken(folder, text, unit=None if "furlong" in text or "um" in text else "um")
    assert words in str(bad.value)
    assert all(str(each).isprintable() for each in bad.value.problems)


@pytest.mark.parametrize(
    ("cells", "sign", "sure"),
    [
        (["1", "2"], ".", True), (["1.5", "100"], ".", True), (["0,012", "1.200"], ",", True), (["1,234"], ",", False),
        (["1,234", "0.5"], ".", True), (["1.234,5"], ",", True), (["1,234.5"], ".", True),
        (["1,5", "1.5"], None, False), (["1 234,5"], ",", True), (["12,5 mm"], ",", True),
    ],
)  # fmt: skip
def test_the_decimal_sign(cells, sign, sure):
    found = decimal_sign(cells)
    assert (found.sign, found.sure) == (sign, sure)


def test_numbers_with_thousands_and_no_dates():
    assert number("1.234,5 mm", ",").value == Decimal("1234.5")
    assert number("1,234.5", ".").value == Decimal("1234.5")
    assert number("−0.5", ".").value == Decimal("-0.5")
    assert [number(text, sign) for text in ("25.11.2026", "12:30", "1,2,3", "1e99", "") for sign in ".,"] == [None] * 10


def workbook(rows, title="Readings"):
    book = openpyxl.Workbook()
    book.active.title = title
    for row in rows:
        book.active.append(row)
    book.create_sheet("Other").append(["x"])
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def test_a_spreadsheet(folder):
    raw = workbook([["Taken", datetime.date(2026, 11, 25)], [], ["Station [mm]", "Reading [mm]", "Note"],
                    [100, 0.012, "start"], [200.5, -0.003, None], [300, "0.5", None]])  # fmt: skip
    found = taken(folder, raw, name="book.xlsx")
    assert pairs(found) == [(100.0, 0.012), (200.5, -0.003), (300.0, 0.5)]
    assert found.entries[0].note == "start"
    assert found.entries[0].line == 4
    with pytest.raises(BadInput, match='has no sheet "Raedings": did you mean "Readings"'):
        taken(folder, raw, name="book.xlsx", worksheet="Raedings")
    with pytest.raises(BadInput, match="is no spreadsheet that can be read"):
        taken(folder, raw[:500], name="book.xlsx")


def test_a_spreadsheet_without_the_extra_says_what_to_install(folder, monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "openpyxl", None)
    with pytest.raises(BadInput, match=r"pip install 'framevis\[xlsx\]'"):
        taken(folder, workbook([[1, 2]]), name="book.xlsx")
