"""Frames for the mechanics tests: rails on one beam, on two that run against each other, on different faces."""

from __future__ import annotations

from dataclasses import replace

from framevis.frame import Beam, Block, Carriage, Guide, Material, Rail, Section, locked
from guides import GUIDE_15

UP = locked([0.0, 0.0, 1.0])
ALUMINIUM = Material("aluminium", 70.0, 23.6e-6)
CHANNEL = Section("channel", "channel", 120.0, 60.0, 5.0, "toward_rails", ALUMINIUM)
BOX = Section("box", "box", 100.0, 70.0, 4.0, None, ALUMINIUM)

GOTHIC = replace(GUIDE_15, name="gothic")
GUIDES = {
    "gothic": GOTHIC,
    "O": replace(GOTHIC, name="O", arrangement="O", row_gap_mm=6.0, balls_per_row=10, contact_angle_deg=40.0),
    "X": replace(GOTHIC, name="X", arrangement="X", row_gap_mm=6.0, balls_per_row=9, conformity=0.52),
}


def beam(name: str, section: Section, start, end, normal=(0, 0, 1)) -> Beam:
    return Beam(name, section, locked(start), locked(end), locked(normal))


def rail(name: str, on: Beam, guide: Guide, seat_mm: float, face_deg: float = 0.0) -> Rail:
    return Rail(name, on, guide, seat_mm, 20.0, 30, face_deg)


def one_beam(guide: Guide) -> tuple[Rail, ...]:
    left = beam("left", CHANNEL, [0, 0, 0], [0, 1500, 0])
    return rail("outer", left, guide, 57.5), rail("inner", left, guide, -57.5)


def antiparallel(guide: Guide) -> tuple[Rail, ...]:
    """A portal on two side beams, the other of which is counted from its far end and leans."""
    left = beam("left", CHANNEL, [0, 0, 0], [0, 1500, 0])
    right = beam("right", BOX, [600, 1450, 12], [600, -50, 12], [0.15, 0, 1])
    return rail("outer", left, guide, 57.5), rail("far", right, replace(guide, balls_per_row=5), 20.0)


def faces(guide: Guide) -> tuple[Rail, ...]:
    """A crossbeam with a rail on top, one on its side and one on an inclined face."""
    cross = beam("cross", BOX, [-50, 30, 400], [1200, 60, 410], [0, -0.1, 1])
    return (
        rail("top", cross, guide, 10.0),
        rail("side", cross, guide, -15.0, 90.0),
        rail("low", cross, guide, 5.0, 235.0),
    )


def under(guide: Guide) -> tuple[Rail, ...]:
    """A beam with a rail beneath and one on its other side."""
    low = beam("low", BOX, [0, 0, 300], [0, 1500, 300])
    return rail("beneath", low, guide, 12.0, 180.0), rail("other side", low, guide, 8.0, 270.0)


LAYOUTS = {"one beam": one_beam, "antiparallel": antiparallel, "faces": faces, "under": under}


def carriage(rails: tuple[Rail, ...], **more) -> Carriage:
    """Two blocks on each rail, not quite evenly spaced; a mass off the middle where it is given."""
    blocks = []
    for i, on in enumerate(rails):
        blocks += [Block(f"front_{on.name}", on, 45.0 + 3.0 * i), Block(f"rear_{on.name}", on, -45.0 + 5.0 * i)]
    return Carriage("c", tuple(blocks), (100.0, 900.0), **more)
