"""Which way the instrument's plus goes, settled by touching it, not by assuming.

Takes a sweep; gives the questions, and from their answers whether the instrument's plus is the one that the frame file
says. An indicator carried by its block is pressed in when the block goes the way in which its stylus points.
"""

from __future__ import annotations

from dataclasses import dataclass

from framevis.frame import PullSweep, Sweep
from framevis.reading.door import one_line

WAYS = {"lateral": ("left", "right"), "height": ("up", "down")}
NOTED = "signs "
TURNED = "signs turned by framevis enter from here on"
AS_TYPED = "signs as typed from here on"


@dataclass(frozen=True)
class SignCheck:
    """The questions for one sweep. `plus`, `minus`: what they mean for this sweep by the frame file."""

    where: str | None  # how the stylus stands; None where it makes no difference
    answers: tuple[str, ...]  # the possible answers to that
    goes_plus: tuple[bool, ...]  # for each of them: pressing in is a step toward plus
    press: str
    plus: str
    minus: str
    key: str  # what to do in frame.toml if the instrument counts the other way

    def is_right(self, answer: int, rises: bool) -> bool:
        """Whether the instrument counts as the frame file says."""
        return self.goes_plus[answer] == rises


def sign_check(sweep: Sweep | PullSweep) -> SignCheck | None:
    """The questions that settle a sweep's sign; None for feelers, callipers and forces, which have none."""
    if isinstance(sweep, PullSweep) or sweep.kind in ("gap", "mouth"):
        return None
    is_plain = sweep.sign > 0.0
    where, answers, goes_plus, press = _questions(sweep)
    plus, minus = _words(sweep) if is_plain else _words(sweep)[::-1]
    key = "set sign = -1" if is_plain else "take out sign = -1"
    return SignCheck(where, answers, tuple(each == is_plain for each in goes_plus), press, plus, minus, key)


def _questions(sweep: Sweep) -> tuple[str | None, tuple[str, ...], tuple[bool, ...], str]:
    """Where, answers, whether pressing in goes left or up, or b left of or above a, and how to press."""
    if sweep.is_angle:
        lifted = "far end" if sweep.kind == "level_along" else "left side"
        return None, (), (True,), f"Lift the {lifted} of the level a hair, a feeler under it: what does it read?"
    press = "Press the stylus in: what does it read?"
    if sweep.kind == "bridge" and sweep.direction == "height":
        one, other = (rail.name for rail in sweep.rails)
        where = f"On which rail does the stylus stand, from above: {one_line(other)} or {one_line(one)}?"
        return where, (other, one), (True, False), press
    if sweep.kind == "bridge":  # pressed in: the rails come nearer to each other
        first, second = sweep.rails
        is_left = float((second.point(0.0) - first.point(0.0)) @ first.axes[1]) > 0.0
        return None, (), (not is_left,), press
    ways = WAYS[sweep.direction or "lateral"]
    where = f"Which way does the stylus point, from its block: {ways[0]} or {ways[1]}?"
    return where, ways, (True, False), press


def _words(sweep: Sweep) -> tuple[str, str]:
    """What plus and minus mean where sign = 1, looking from the beam's start, face up."""
    if sweep.kind == "level_along":
        return "far end up", "near end up"
    if sweep.is_angle:
        return "left side up", "right side up"
    ways = WAYS[sweep.direction or "lateral"]
    if sweep.kind != "bridge":
        return ways
    one, other = (one_line(rail.name) for rail in sweep.rails)
    return f"{other} further {ways[0]} against {one}", f"{other} further {ways[1]} against {one}"


def comment(turned: bool, check: SignCheck) -> str:
    """The comment line that says how the readings below it were written."""
    if turned:
        return f"{TURNED}: the instrument's plus was {check.minus}; written so that plus is {check.plus}"
    return f"{AS_TYPED}: checked, plus is {check.plus}"
