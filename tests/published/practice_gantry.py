"""The gantry of the common-practice tests: a channel with a pair of rails and a carriage of four blocks."""

from __future__ import annotations

from framevis.frame import Beam, Block, Carriage, Guide, Material, Rail, SeatStiffness, Section, locked

# design example of a 15 mm four-point guide: light preload, blocks 32 mm wide
GUIDE_15 = Guide(
    name="15 mm four-point",
    arrangement="gothic",
    rail_width_mm=15.0,
    rail_height_mm=10.0,
    block_length_mm=43.0,
    block_width_mm=32.0,
    block_height_mm=16.0,
    ball_height_mm=6.5,
    ball_diameter_mm=3.175,
    balls_per_row=7,
    row_spacing_mm=14.4,
    row_gap_mm=0.0,
    contact_angle_deg=45.0,
    conformity=0.53,
    preload_interference_um=1.5,
    friction=0.004,
    seal_drag_n=1.0,
    screw="M3",
    screw_pitch_mm=40.0,
)
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
