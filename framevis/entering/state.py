"""Where an evening of typing stands: one frozen record, and what can be read off it.

Takes a frame's sweep and its sheet; everything that is asked, shown or written is a function of this record.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from framevis.entering.neighbours import Point
from framevis.entering.sheet import Sheet
from framevis.entering.sign_check import SignCheck, sign_check
from framevis.entering.slots import Slot, is_filled, slots_of, unit_of_column, value_of
from framevis.entering.unit_words import PER_UNIT, Dimension, dimension_of
from framevis.frame import PullSweep, Sweep

Mode = Literal["unit", "as_before", "where", "press", "contrary", "reading", "doubt", "skipped", "end", "done"]


@dataclass(frozen=True)
class State:
    """A sweep's sheet and what is asked next.

    `unit`: of a bare number; `at`: the slot that is asked for; `history`: slots answered since the start, the last
    one last; `turned`: readings are written with the other sign; `answer`: how the stylus stands; `again`: the skipped
    ones are being gone through; `doubted`: what was typed there before, in the column's unit.
    """

    sweep: Sweep | PullSweep
    stage: str
    length_unit: str
    sheet: Sheet
    mode: Mode
    unit: str
    at: int = 0
    history: tuple[int, ...] = ()
    turned: bool = False
    signed: bool = False  # the sign was settled in this session: to be noted before the first reading
    answer: int = 0
    again: bool = False
    doubted: float | None = None
    said: tuple[str, ...] = ()

    @cached_property
    def slots(self) -> tuple[Slot, ...]:
        return slots_of(self.sheet, self.sweep)

    @cached_property
    def filled(self) -> tuple[bool, ...]:
        return tuple(is_filled(self.sheet, slot) for slot in self.slots)

    @property
    def slot(self) -> Slot:
        return self.slots[self.at]

    @property
    def dimension(self) -> Dimension:
        return dimension_of(self.sweep)

    @property
    def column_unit(self) -> str:
        """The unit of the cells that are asked for."""
        return unit_of_column(self.slot.columns[0])

    @property
    def factor(self) -> float:
        """µm, mrad or N in one unit of the cells."""
        return PER_UNIT[self.dimension][self.column_unit]

    @property
    def u(self) -> float:
        """Standard uncertainty of one reading in the unit of the cells."""
        return (self.sweep.u_n if isinstance(self.sweep, PullSweep) else self.sweep.u) / self.factor

    @cached_property
    def check(self) -> SignCheck | None:
        return sign_check(self.sweep)

    def station(self, slot: Slot) -> float:
        """A slot's station in the sheet's own unit."""
        return self.sheet.value(slot.row, self.sheet.station_column) or 0.0

    @property
    def station_unit(self) -> str:
        return self.sheet.station_column.removeprefix("station_")

    def points(self, back: bool, like: Slot | None = None) -> list[Point]:
        """What was read on one way, in the order of work, without the slot that is asked for; for a pull only forces
        of the same kind as in `like`."""
        found = []
        for place, slot in enumerate(self.slots):
            kin = like is None or slot.columns == like.columns
            if slot.back is not back or not kin or (place == self.at and self.mode in ("reading", "doubt")):
                continue
            value = value_of(self.sheet, slot)
            if value is not None:
                found.append(Point(self.station(slot), value))
        return found

    def next_blank(self, after: int) -> int | None:
        return next((i for i in range(after + 1, len(self.slots)) if not self.filled[i]), None)

    @property
    def blanks(self) -> list[int]:
        return [i for i, done in enumerate(self.filled) if not done]
