"""Units as people and gauges write them.

Takes the word after a number or in a heading; gives the unit of the readings file and how many of it one is.
"""

from __future__ import annotations

from decimal import Decimal
from math import pi
from typing import Literal

from framevis.frame import PullSweep, Sweep
from framevis.units import MM_PER_LENGTH_UNIT, MRAD_PER_UNIT, N_PER_UNIT, UM_PER_UNIT

Dimension = Literal["length", "angle", "force", "station"]
ONE = Decimal(1)
THOUSANDTH = Decimal("0.001")
SHOWN = {"um": "µm", "mm_per_m": "mm/m", "in_per_ft": "in/ft", "n": "N", "deg": "°"}
PER_UNIT: dict[Dimension, dict[str, float]] = {
    "length": UM_PER_UNIT,
    "angle": MRAD_PER_UNIT,
    "force": N_PER_UNIT,
    "station": MM_PER_LENGTH_UNIT,
}
_MICROMETRES = "um µm \ufffdm micron microns micrometre micrometres micrometer micrometers"
_MILLIMETRES = "mm millimetre millimetres millimeter millimeters"
_INCHES = "in in. inch inches \" ″ ” ''"
_WORDS: dict[Dimension, dict[str, tuple[str, Decimal]]] = {
    "length": {_MICROMETRES: ("um", ONE), _MILLIMETRES: ("mm", ONE), _INCHES: ("in", ONE), "thou thous": ("thou", ONE)},
    "station": {
        _MILLIMETRES: ("mm", ONE),
        _INCHES: ("in", ONE),
        "cm": ("mm", Decimal(10)),
        "m metre metres meter meters": ("mm", Decimal(1000)),
        "ft ft. foot feet": ("in", Decimal(12)),
    },
    "angle": {
        "mrad": ("mrad", ONE),
        "mm/m mm_per_m mmperm mm/1000mm": ("mm_per_m", ONE),
        "um/m µm/m um_per_m": ("mm_per_m", THOUSANDTH),
        "arcsec arcsecs arcsecond arcseconds \" ″ ” ''": ("arcsec", ONE),
        "arcmin ' ′ ’": ("arcsec", Decimal(60)),
        "deg degree degrees °": ("deg", ONE),
        "in/ft in_per_ft inperft": ("in_per_ft", ONE),
    },
    "force": {
        "n newton newtons": ("n", ONE),
        "kgf kg kp": ("kgf", ONE),
        "g gf": ("kgf", THOUSANDTH),
        "lbf lb lbs": ("lbf", ONE),
    },
}
WORDS: dict[Dimension, dict[str, tuple[str, Decimal]]] = {
    dimension: {word.casefold(): unit for words, unit in table.items() for word in words.split()}
    for dimension, table in _WORDS.items()
}


def dimension_of(sweep: Sweep | PullSweep) -> Dimension:
    """What a sweep's readings are."""
    if isinstance(sweep, PullSweep):
        return "force"
    return "angle" if sweep.is_angle else "length"


def unit_of(word: str, dimension: Dimension) -> tuple[str, Decimal] | None:
    """The file's unit and how many of it one `word` is; None where the word is no unit of that dimension."""
    return WORDS[dimension].get("".join(word.split()).casefold())


def shown_unit(unit: str) -> str:
    """A file's unit as people write it."""
    return SHOWN.get(unit, unit)


def listed(dimension: Dimension) -> str:
    """The units that may be given."""
    return ", ".join(shown_unit(unit) for unit in PER_UNIT[dimension])


def converted(value: Decimal, unit: str, to: str, dimension: Dimension) -> Decimal:
    """A value in another unit of its dimension; exact where the units are decimal fractions of each other."""
    if unit == to:
        return value
    found = value * _size(unit, dimension) / _size(to, dimension)
    return trimmed(found if _is_decimal(unit, to) else _rounded(found))


def trimmed(value: Decimal) -> Decimal:
    """Without zeros behind the last digit that says something, at most 12 digits."""
    found = _rounded(value, 12).normalize()
    return found.quantize(ONE) if found == found.to_integral_value() else found


def _size(unit: str, dimension: Dimension) -> Decimal:
    """In µm, mrad, N or mm, from the shortest decimal that means the same float."""
    if unit == "arcsec":
        return Decimal(1000.0 * pi / 648_000.0)
    return Decimal(repr(PER_UNIT[dimension][unit]))


def _is_decimal(*units: str) -> bool:
    return not {"arcsec", "deg", "in_per_ft"}.intersection(units)


def _rounded(value: Decimal, digits: int = 7) -> Decimal:
    return value if not value else value.quantize(Decimal(1).scaleb(value.adjusted() - digits + 1))
