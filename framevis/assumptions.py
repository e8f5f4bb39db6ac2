"""What the numbers take for granted, and which way each of it errs: said wherever verdicts are.

Takes a study, gives the records that apply to its frame and stage. "Safe side": drag, pressure and chances come out
too high, "binding" is said too early; "unsafe side": too low. A test holds the direction
of what `is_checked`; the rest is judgement.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import astuple, dataclass
from typing import Literal

from framevis.curves import never_measured
from framevis.study import Study

Side = Literal["safe side", "unsafe side", "either way"]
SIDES: dict[Side, str] = {
    "safe side": "on the safe side (drag too high)",
    "unsafe side": "on the unsafe side (too low)",
    "either way": "either way",
}
MORE = "(why: README, --json)"


@dataclass(frozen=True)
class Assumption:
    """One thing taken for granted: in few words, which way it errs, why; whether a test holds the direction."""

    assumed: str
    errs: Side
    why: str
    is_checked: bool = False


RIGID_PLATE = Assumption(
    "rigid plate, blocks and beams",
    "safe side",
    "What really gives takes a part of the misfit, so the carriage's forces and drag come out too high; a single block "
    "may seldom get more than is said. The sag of a beam under the carriage is not seen.",
    True,
)
RIGID_SEATS = Assumption(
    "rigid seats",
    "safe side",
    "No seat_stiffness is given: real seats take a part of the misfit.",
    True,
)
DRAWN_SPACING = Assumption(
    "blocks at their drawn spacing",
    "safe side",
    "No bolted_at is given: blocks tightened with play in their holes fit themselves where they stood, and feel only "
    "what changes from there.",
)
BOLTED = Assumption(
    "blocks bolted without force",
    "unsafe side",
    "At bolted_at blocks are taken to fit themselves sideways wholly: friction under screw heads and short play leave "
    "something.",
)
SMOOTH = Assumption(
    "no waves as short as screws stand apart",
    "unsafe side",
    "A rail drawn down at each screw, dirt under one of them or a burr is smoothed over, and its drag not seen: a "
    "pull along the travel shows it. What is shorter than some 100 mm is lost, on beams over 4.8 m than a 48th of the "
    "length.",
    True,
)
STEADY = Assumption(
    "slow, steady motion",
    "unsafe side",
    "Inertia, jerks and starting from rest load blocks beyond what is said, the more the faster the machine.",
)
DRIVE = Assumption(
    "drive in the middle of the blocks",
    "unsafe side",
    "A belt, screw or rack to one side turns the plate with the drag times its distance, and so do blocks that drag "
    "unequally.",
)
FRICTION = Assumption(
    "friction in proportion to load",
    "unsafe side",
    "Losses of rolling and sliding grow faster than the load, most where a four-point groove is loaded askew: a "
    "misfit costs rather more drag.",
    True,
)
NO_FILM = Assumption(
    "no lubricant film",
    "either way",
    "At speed a film adds drag that hardly depends on the load: newtons are too low, times the drag on a perfect "
    "frame too high.",
    True,
)
AS_ENTERED = Assumption(
    "guides, seats, weights as entered",
    "either way",
    "Generic numbers are no maker's. Too much preload or seal drag entered makes a misfit look harmless; without seal "
    "drag friction cancels out of the ratio. A carriage without mass_kg weighs nothing and a carried beam adds "
    "nothing to its carriers: on a straight frame their static safety is then too good, beside a misfit better or "
    "worse.",
    True,
)
PERFECT_BALLS = Assumption(
    "perfect balls and grooves",
    "either way",
    "Balls are of one size, grooves straight and elastic. Grooves relieved at their ends spare the outer balls, balls "
    "that differ by tenths of a micrometre load some more; beyond 4200 MPa steel yields.",
)
FLAT_FLANGES = Assumption(
    "flat flanges",
    "either way",
    "Lips, slots and fillets move the seats otherwise than the opening of the mouth says: a level across each rail "
    "puts it right.",
)
ORDINARY = Assumption(
    "ordinary tolerances where unmeasured",
    "either way",
    "Their widths are framevis's own choice, no maker's: chances that rest on them are only as good.",
)
ON_SHIMS = Assumption(
    "rails down on all their shims",
    "either way",
    "A rail may lift off or hang between distant shims: the readings taken afterwards decide.",
)
WARMTH = Assumption(
    "same temperature",
    "either way",
    "Aluminium beams with steel rails bow otherwise when they are warmer than they were when measured.",
)
ERRORS = Assumption(
    "readings' errors as stated",
    "either way",
    "Each counts for itself, as large as its u. An error of scale that all readings of an instrument share is not "
    "counted: chances are nearer to 0 or 100 % than they should be.",
)

Applies = Callable[[Study], bool]


def _always(study: Study) -> bool:
    return True


def _some_seats_rigid(study: Study) -> bool:
    """Whether a carriage's seats are rigid in any direction."""
    seats = [carriage.seat_stiffness for carriage in study.frame.carriages]
    return any(seat is None or None in astuple(seat) for seat in seats)


def _drawn_spacing(study: Study) -> bool:
    """Whether a carriage on several rails was bolted nowhere."""
    return any(
        carriage.bolted_at_mm is None and len({block.rail.name for block in carriage.blocks}) > 1
        for carriage in study.frame.carriages
    )


def _bolted(study: Study) -> bool:
    return any(carriage.bolted_at_mm is not None for carriage in study.frame.carriages)


def _channels(study: Study) -> bool:
    return any(beam.section.shape == "channel" for beam in study.frame.beams)


def _shimmed(study: Study) -> bool:
    return bool(study.deviations.known)


def _unmeasured(study: Study) -> bool:
    return bool(never_measured(study))


WHERE: dict[Assumption, Applies] = {
    RIGID_PLATE: _always,
    RIGID_SEATS: _some_seats_rigid,
    DRAWN_SPACING: _drawn_spacing,
    SMOOTH: _always,
    STEADY: _always,
    DRIVE: _always,
    FRICTION: _always,
    BOLTED: _bolted,
    NO_FILM: _always,
    AS_ENTERED: _always,
    PERFECT_BALLS: _always,
    WARMTH: _always,
    ERRORS: _always,
    FLAT_FLANGES: _channels,
    ON_SHIMS: _shimmed,
    ORDINARY: _unmeasured,
}


def assumptions(study: Study) -> list[Assumption]:
    """What applies to this frame and stage, the safe side first."""
    return [each for each, applies in WHERE.items() if applies(study)]


def by_side(found: Iterable[Assumption]) -> list[str]:
    """A sentence for each side on which something errs; that of the unsafe side tells where to read more."""
    listed = list(found)
    sentences = []
    for side, words in SIDES.items():
        if named := "; ".join(each.assumed for each in listed if each.errs == side):
            sentences.append(f"Assumed, {words}: {named}" + (f" {MORE}." if side == "unsafe side" else "."))
    return sentences


def unsafe(study: Study) -> str:
    """One sentence: what a verdict "free" rests on."""
    rests = "; ".join(each.assumed for each in assumptions(study) if each.errs == "unsafe side")
    return f"Free is said for {rests}: elsewhere blocks suffer more. framevis assess names all that is assumed."
