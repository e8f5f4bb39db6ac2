"""What a typed line means, by hands and by gauges that type."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from framevis.entering.typed import Typed, cleaned, typed
from framevis.entering.unit_words import PER_UNIT, converted


@pytest.mark.parametrize(
    ("line", "value", "unit"),
    [
        ("12.5", "12.5", "um"), ("12,5", "12.5", "um"), ("+3", "3", "um"), ("−0,5", "-0.5", "um"), (".5", "0.5", "um"),
        ("0.012 mm", "0.012", "mm"), ("12um", "12", "um"), ("0,5 thou", "0.5", "thou"), ("12 µm", "12", "um"),
        ("12 μm", "12", "um"), ("-0.00052\"", "-0.00052", "in"), ("1,0 MM", "1.0", "mm"), ("7 microns", "7", "um"),
        ("12 \ufffdm", "12", "um"),  # a µ in the gauge's own code page
    ],
)  # fmt: skip
def test_a_length(line, value, unit):
    found = typed(line, 1, "um", "length")
    assert isinstance(found, Typed)
    assert (found.values, found.unit) == ((Decimal(value),), unit)


@pytest.mark.parametrize(
    ("line", "value", "unit"),
    [("0.02 mm/m", "0.02", "mm_per_m"), ("4\"", "4", "arcsec"), ("2'", "120", "arcsec"), ("0,1°", "0.1", "deg"),
     ("20 µm/m", "0.020", "mm_per_m"), ("1.5", "1.5", "mrad")],
)  # fmt: skip
def test_a_level(line, value, unit):
    found = typed(line, 1, "mrad", "angle")
    assert isinstance(found, Typed)
    assert (found.values[0], found.unit) == (Decimal(value), unit)


@pytest.mark.parametrize(("line", "unit", "pair"), [
    ("20 30", "um", ("20", "30")), ("0,02/0,03 mm", "mm", ("0.02", "0.03")), ("20um 30um", "um", ("20", "30")),
    ("0.02 mm 30 um", "mm", ("0.02", "0.03")), ("20 to 30", "um", ("20", "30")), ("20;30", "um", ("20", "30")),
])  # fmt: skip
def test_go_and_no_go(line, unit, pair):
    found = typed(line, 2, "um", "length")
    assert isinstance(found, Typed)
    assert (found.unit, found.values) == (unit, tuple(map(Decimal, pair)))


@pytest.mark.parametrize(
    ("line", "count", "words"),
    [
        ("foo", 1, "is not a number"), ("12 furlong", 1, "is no unit of a length"), ("12 N", 1, "is no unit of"),
        ("1.234,5", 1, "thousands without a separator"), ("1e90", 1, "can't be a reading"), ("9" * 99, 1, "too long"),
        ("20", 2, "Type both feelers"), ("x y", 2, "no pair of feelers"), ("12 13", 1, "is not a number"),
        ("\x1b[2J", 1, "is not a number"), ("nan", 1, "is not a number"),
    ],
)  # fmt: skip
def test_what_is_no_reading_gets_a_sentence(line, count, words):
    found = typed(cleaned(line), count, "um", "length")
    assert isinstance(found, str)
    assert words in found
    assert found.isprintable()


@given(st.text(max_size=70), st.sampled_from([1, 2]), st.sampled_from(["length", "angle", "force"]))
def test_any_line_is_a_reading_or_a_sentence(line, count, dimension):
    unit = next(iter(PER_UNIT[dimension]))
    found = typed(cleaned(line), count, unit, dimension)
    assert isinstance(found, Typed | str)
    if isinstance(found, str):
        assert found.isprintable()
    else:
        assert len(found.values) == count
        assert found.unit in PER_UNIT[dimension]


def test_units_turn_exactly_where_they_are_decimal_fractions_of_each_other():
    assert converted(Decimal("0.012"), "mm", "um", "length") == Decimal(12)
    assert converted(Decimal("0.5"), "thou", "um", "length") == Decimal("12.7")  # 1 in = 25.4 mm, ISO 31
    assert converted(Decimal("25.4"), "um", "thou", "length") == Decimal(1)
    assert converted(Decimal(1), "kgf", "n", "force") == Decimal("9.80665")  # ISO 80000-3


@given(
    st.decimals(-1000, 1000, places=3),
    st.sampled_from([(d, a, b) for d in ("length", "angle", "force") for a in PER_UNIT[d] for b in PER_UNIT[d]]),
)
def test_a_unit_turned_is_the_same_size(value, units):
    dimension, a, b = units
    found = converted(value, a, b, dimension)
    size = float(value) * PER_UNIT[dimension][a]
    assert float(found) * PER_UNIT[dimension][b] == pytest.approx(size, rel=1e-6, abs=1e-12)
