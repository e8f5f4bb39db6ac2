"""In which units a file's readings and stations are: as the user says, from headings, or behind the numbers.

Takes rows, columns and what the user says; gives the units of the readings file and how to get there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from framevis.entering.unit_words import Dimension, converted, listed, trimmed, unit_of
from framevis.errors import BadInput, problem
from framevis.importing.cells import Read
from framevis.importing.columns import Found
from framevis.importing.numbers import Number
from framevis.importing.wishes import Wishes
from framevis.reading.door import Door, quoted


@dataclass(frozen=True)
class Units:
    """`readings`: the word that holds for a bare number in each column; `unit`: that of the readings file."""

    dimension: Dimension
    readings: tuple[str, ...]
    unit: str
    station: str
    told: tuple[str, ...]

    @property
    def station_unit(self) -> str:
        """That of the readings file: mm or in."""
        known = unit_of(self.station, "station")
        assert known is not None
        return known[0]

    def reading(self, found: Number | None, column: int) -> Decimal | None:
        """A reading in the unit of the readings file; None where there is none."""
        return None if found is None else _in(found, self.readings[column], self.unit, self.dimension)

    def station_of(self, found: Number) -> Decimal:
        return _in(found, self.station, self.station_unit, "station")


def _in(found: Number, bare: str, unit: str, dimension: Dimension) -> Decimal:
    known = unit_of(found.unit or bare, dimension)
    assert known is not None
    if known[0] == unit and known[1] == 1:
        return found.value
    return trimmed(converted(found.value * known[1], known[0], unit, dimension))


def find_units(
    read: Sequence[Read], found: Found, dimension: Dimension, wishes: Wishes, length_unit: str, door: Door
) -> Units:
    """The units of a file. Raises `BadInput` where they are nowhere, or wrong for this sweep."""
    _check_behind(read, dimension, wishes, door)
    door.close()
    behind = next((each.unit for row in read for each in row.readings if each and each.unit), "")
    heads = [found.heading(column).unit for column in found.readings]
    common = next((head for head in heads if head), "") or behind
    words = tuple(wishes.unit or head or common for head in heads)
    if not words[0]:
        what = "says nowhere in which unit its readings are"
        raise BadInput(problem(door.file, what, f"give --unit: {listed(dimension)}"))
    for word in words:
        if unit_of(word, dimension) is None:
            what = f"{quoted(word)} is no unit of this sweep"
            field = "--unit" if wishes.unit else "heading"
            raise BadInput(problem(door.file, what, f"give --unit: {listed(dimension)}", field=field))
    known = unit_of(words[0], dimension)
    assert known is not None
    source = "as you say" if wishes.unit else "from the heading" if any(heads) else "written behind the numbers"
    station, station_source = _station(read, found, wishes, length_unit, door)
    told = (f"stations in {quoted(station)}, {station_source}", f"readings in {quoted(words[0])}, {source}")
    return Units(dimension, words, known[0], station, told)


def _check_behind(read: Sequence[Read], dimension: Dimension, wishes: Wishes, door: Door) -> None:
    """Units written behind numbers must be some, and not contradict what the user says."""
    for row in read:
        for each in row.readings:
            if each is None or not each.unit:
                continue
            known = unit_of(each.unit, dimension)
            if known is None:
                what = f"{quoted(each.unit)} behind a number is no unit of this sweep"
                door.refuse_line(row.line, what, f"it takes {listed(dimension)}")
            elif wishes.unit and unit_of(wishes.unit, dimension) != known:
                what = f"the number is in {quoted(each.unit)}, and you say {quoted(wishes.unit)}"
                door.refuse_line(row.line, what, "leave --unit out, or correct the file")
        if row.station.unit and unit_of(row.station.unit, "station") is None:
            what = f"{quoted(row.station.unit)} behind the station is no unit of stations"
            door.refuse_line(row.line, what, "give stations in mm or in")


def _station(read: Sequence[Read], found: Found, wishes: Wishes, length_unit: str, door: Door) -> tuple[str, str]:
    headed = "" if found.station is None else found.heading(found.station).unit
    behind = next((row.station.unit for row in read if row.station.unit), "")
    choices = (
        (wishes.station_unit or "", "as you say"),
        (headed, "from the heading"),
        (behind, "written behind the numbers"),
        (length_unit, "as in frame.toml"),
    )
    word, source = next(each for each in choices if each[0])
    if unit_of(word, "station") is None:
        what = f"{quoted(word)} is no unit of stations"
        raise BadInput(problem(door.file, what, "give --station-unit mm or in"))
    return word, source
