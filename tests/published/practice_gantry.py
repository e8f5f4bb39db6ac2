"""The gantry of the common-practice tests: a channel with a pair of rails and a carriage of four blocks."""

from __future__ import annotations

from framevis.frame import Beam, Block, Carriage, Material, Rail, SeatStiffness, Section, locked
from guides import GUIDE_15

ALUMINIUM = Material("aluminium", 70.0, 23.6e-6)
CHANNEL = Section("channel", "channel", 120.0, 60.0, 5.0, "toward_rails", ALUMINIUM)
UP = locked([0.0, 0.0, 1.0])


def rail_pair() -> tuple[Rail, Rail]:
    """Outer rail on the left flange's tip, inner rail on the right one's."""
    on = Beam("left", CHANNEL, locked([0.0, 0.0, 0.0]), locked([0.0, 1500.0, 0.0]), UP)
    return Rail("outer", on, GUIDE_15, 57.5, 20.0, 37), Rail("inner", on, GUIDE_15, -57.5, 20.0, 37)


def carriage(seat: SeatStiffness | None = None, bolted_at_mm: float | None = None) -> Carriage:
    """Two blocks on each rail, 90 mm apart; the plate weighs 6 kg. Blocks 0, 1 on the outer rail, 2, 3 on the inner."""
    blocks = tuple(
        Block(f"{end}_{rail.name}", rail, along)
        for rail in rail_pair()
        for end, along in (("front", 45), ("rear", -45))
    )
    return Carriage(
        "left",
        blocks,
        (80.0, 1420.0),
        mass_kg=6.0,
        centre_mm=(0.0, 0.0, 30.0),
        bolted_at_mm=bolted_at_mm,
        seat_stiffness=seat,
    )
