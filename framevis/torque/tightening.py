"""The sequence of tightening: which rail, from which screw on, to which torque, master rails first.

Takes a frame, gives one record a rail and one a step. The direction is the builder's own choice (`[tightening]`);
common ground of the trade: one direction, never from both ends toward the middle, in stages, watched with an indicator.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from framevis.frame import Frame, Rail, ScrewOrder
from framevis.screws import Torque, torque_of

Role = Literal["master", "follower"]
STAGES = ("1/3", "2/3", "full")
FROM_WORDS: dict[ScrewOrder, str] = {
    "start": "from the beam's start to its end",
    "end": "from the beam's end to its start",
    "centre": "from the middle outward, side by side",
}

BEFORE = (
    "Drives disconnected, seats clean, all screws snug: contact plus about a quarter turn.",
    "Never free all blocks of a carriage at once; a vertical axis is blocked or pinned.",
    "An indicator on the rail while its screws are tightened: a rail can walk sideways.",
)
MASTER = "the carriage away from the screw being tightened; after each stage read the indicator along the rail"
FOLLOWER = "run by the carriage: push it along by hand, tighten the screws just behind it"
AFTER = (
    "Run the carriage over its whole travel and pull it with a scale, both ways.",
    "Take the readings again as a stage of their own and check again; then once more when it is warm from work.",
    "The screws of blocks and beams are not in this list: theirs are the maker's torques too.",
)


@dataclass(frozen=True)
class RailTightening:
    """One rail: its role, the order of its screws (1 = nearest the beam's start), its torque."""

    rail: Rail
    role: Role
    begin: ScrewOrder
    screws: tuple[int, ...]
    torque: Torque

    @property
    def how(self) -> str:
        return MASTER if self.role == "master" else FOLLOWER


@dataclass(frozen=True)
class Step:
    """One pass over one rail. `torque_nm` None: the maker's value has to be entered first."""

    number: int
    tightening: RailTightening
    stage: str
    torque_nm: float | None


def tightenings(frame: Frame) -> list[RailTightening]:
    """All rails in the order of work: master rails as they are named, then the others as they stand in the file."""
    masters = [frame.rail(name) for name in frame.masters]
    first = {rail.name for rail in masters}
    followers = [rail for rail in frame.rails if rail.name not in first]
    return [_of(frame, rail, "master") for rail in masters] + [_of(frame, rail, "follower") for rail in followers]


def _of(frame: Frame, rail: Rail, role: Role) -> RailTightening:
    begin = frame.tightening.order_of(rail.name)
    return RailTightening(rail, role, begin, screw_order(rail.screws, begin), torque_of(rail))


def screw_order(screws: int, begin: ScrewOrder) -> tuple[int, ...]:
    """The screws 1 … n in the order in which they are tightened."""
    numbers = range(1, screws + 1)
    if begin == "start":
        return tuple(numbers)
    if begin == "end":
        return tuple(reversed(numbers))
    return tuple(sorted(numbers, key=lambda number: (abs(2 * number - screws - 1), number)))


def steps(frame: Frame) -> list[Step]:
    """Every pass in order: each rail in three stages before the next rail."""
    found: list[Step] = []
    for each in tightenings(frame):
        torques: tuple[float | None, ...] = each.torque.stages_nm or (None,) * len(STAGES)
        for stage, torque_nm in zip(STAGES, torques, strict=True):
            found.append(Step(len(found) + 1, each, stage, torque_nm))
    return found
