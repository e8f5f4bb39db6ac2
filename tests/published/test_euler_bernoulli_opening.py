"""Beam theory (Euler–Bernoulli; Roark, Formulas for Stress and Strain, beams under end couples): an opened channel.

Equal couples M at both ends of a simple beam of length L: end slopes ± M L / 2EI, sag in the middle M L² / 8EI (from
memory), so the sag is L / 4 for an end slope of 1. Checked twice: by these formulas, and by a plane frame of the
section, a bendable web between flanges a million times stiffer, pried apart at their tips.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from ledger import Source, Value, check
from practice_gantry import ALUMINIUM

from framevis.frame import Beam, Rail, Section, locked
from framevis.opening import opening_motion, seat_motion
from guides import GUIDE_15

SOURCE = Source(
    "Beam theory (Euler–Bernoulli; Roark, beams under end couples): an opened channel",
    "Sections and opened channels",
    "A channel of 120 × 60 mm, thin-walled, opened by 1: motions in mm for an angle of 1 (µm for 1 mrad). End "
    "couples M: slopes ML/2EI, sag ML²/8EI, from memory. Seats of rails: against a plane frame of the section, a "
    "bendable web between flanges a million times stiffer, pried apart at their tips.",
)
WIDTH_MM, DEPTH_MM = 120.0, 60.0
WALL_MM = 1e-6  # the formulas are those of thin walls
WEB_ELEMENTS, FLANGE_ELEMENTS = 12, 3
EI, EA, STIFFER = 1.0e3, 1.0e8, 1.0e6


def channel(mouth) -> Section:
    return Section("c", "channel", WIDTH_MM, DEPTH_MM, WALL_MM, mouth, ALUMINIUM)


def rail_at(seat_mm: float, mouth) -> Rail:
    beam = Beam("b", channel(mouth), locked([0, 0, 0]), locked([0, 1500, 0]), locked([0, 0, 1]))
    return Rail("r", beam, GUIDE_15, seat_mm, 20.0, 37)


def element(start: np.ndarray, end: np.ndarray, ea: float, ei: float) -> np.ndarray:
    """Stiffness (6, 6) of a plane beam element over (across, up, turn) of its two ends."""
    length = float(np.hypot(*(end - start)))
    c, s = (end - start) / length
    a, b = ea / length, ei / length**3
    local = np.zeros((6, 6))
    local[np.ix_([0, 3], [0, 3])] = [[a, -a], [-a, a]]
    bending = np.array([[12, 6 * length, -12, 6 * length], [0, 4 * length**2, -6 * length, 2 * length**2]])
    local[1, [1, 2, 4, 5]] = b * bending[0]
    local[2, [1, 2, 4, 5]] = b * np.array([6 * length, *bending[1, 1:]])
    local[4] = -local[1]
    local[5, [1, 2, 4, 5]] = b * np.array([6 * length, 2 * length**2, -6 * length, 4 * length**2])
    turn = np.kron(np.eye(2), [[c, s, 0], [-s, c, 0], [0, 0, 1]])
    return turn.T @ local @ turn


def pried_apart(up_of_web: float, up_of_tip: float) -> tuple[np.ndarray, np.ndarray]:
    """Places (N, 2) and motions (N, 3) of the frame for flanges splayed by 1, the web's ends at their height.

    From the left flange's tip (t > 0) round to the right one's; the flange is the steep end.
    """
    down = [[WIDTH_MM / 2, up] for up in np.linspace(up_of_tip, up_of_web, FLANGE_ELEMENTS + 1)]
    web = [[t, up_of_web] for t in np.linspace(WIDTH_MM / 2, -WIDTH_MM / 2, WEB_ELEMENTS + 1)]
    places = np.array(down + web[1:-1] + [[-t, up] for t, up in reversed(down)])
    count = len(places)
    stiffness = np.zeros((3 * count, 3 * count))
    for i in range(count - 1):
        in_web = FLANGE_ELEMENTS <= i < FLANGE_ELEMENTS + WEB_ELEMENTS
        more = 1.0 if in_web else STIFFER
        stiffness[3 * i : 3 * i + 6, 3 * i : 3 * i + 6] += element(places[i], places[i + 1], EA * more, EI * more)
    load = np.zeros(3 * count)
    load[0], load[-3] = 1.0, -1.0
    feet = FLANGE_ELEMENTS, count - 1 - FLANGE_ELEMENTS
    middle = FLANGE_ELEMENTS + WEB_ELEMENTS // 2
    held = [3 * feet[0] + 1, 3 * feet[1] + 1, 3 * middle]
    loose = np.setdiff1d(np.arange(3 * count), held)
    moved = np.zeros(3 * count)
    moved[loose] = np.linalg.solve(stiffness[np.ix_(loose, loose)], load[loose])
    motion = moved.reshape(-1, 3)
    return places, motion / abs(motion[0, 2])


def of_the_web() -> list[Value]:
    """Toward the rails the feet stay: sag w/4 in the middle, slope 1 at the ends."""
    t = np.array([-0.5, 0.0, 0.5]) * WIDTH_MM
    g_t, g_n, g_r = opening_motion(channel("toward_rails"), t, np.full(3, -DEPTH_MM), np.zeros(3, dtype=bool))
    curvature = 2.0 / WIDTH_MM  # M / EI for which the end slope M L / 2EI is 1
    sag = curvature * WIDTH_MM**2 / 8.0
    listed = [Value("web, sag in the middle M L²/8EI", "mm", sag, float(g_n[1]), "from memory", relative=1e-6)]
    for i, end in ((0, "right"), (2, "left")):
        slope, ours = curvature * WIDTH_MM / 2.0, abs(float(g_r[i]))
        listed += [
            Value(f"web, slope at its {end} end M L/2EI", "1", slope, ours, "from memory", relative=1e-6),
            Value(f"web, height of its {end} foot", "mm", 0.0, float(g_n[i]), "from memory", absolute=1e-9),
            Value(f"web, its {end} foot goes out", "mm", 0.0, float(g_t[i]), "from memory", absolute=1e-12),
        ]
    return listed


def frame_motion(mouth) -> tuple[np.ndarray, np.ndarray]:
    """Places (N, 2) and motions (N, 3) by the plane frame.

    framevis holds the feet where the mouth is toward the rails, the web's middle where it is away.
    """
    up_of_web, up_of_tip = (-DEPTH_MM, 0.0) if mouth == "toward_rails" else (0.0, -DEPTH_MM)
    places, motion = pried_apart(up_of_web, up_of_tip)
    if mouth == "away_from_rails":
        motion = motion - [0.0, motion[FLANGE_ELEMENTS + WEB_ELEMENTS // 2, 1], 0.0]
    return places, motion


def of_a_seat(what: str, mouth, node: int) -> list[Value]:
    """Motion of a rail's seat against that of the plane frame at the same node. The web stretches a little, the flanges
    bend a millionth: 0.1 %."""
    places, motion = frame_motion(mouth)
    found = seat_motion(rail_at(float(places[node, 0]), mouth))
    named = zip(("sideways", "up", "roll"), ("mm", "mm", "1"), motion[node].tolist(), found, strict=True)
    return [
        Value(f"{what}: {name}", unit, expected, float(ours), "computed", relative=1e-3, absolute=1e-3)
        for name, unit, expected, ours in named
    ]


@cache
def values() -> tuple[Value, ...]:
    tips = [("rail on the left flange's tip", 0), ("rail on the right flange's tip", -1)]
    on_tips = [value for what, node in tips for value in of_a_seat(what, "toward_rails", node)]
    on_web = []
    for node in (1, 4, 6, 9):
        across = WIDTH_MM * (0.5 - node / WEB_ELEMENTS)
        on_web += of_a_seat(f"rail on the web's back, {across:g} mm across", "away_from_rails", FLANGE_ELEMENTS + node)
    return (*of_the_web(), *on_tips, *on_web)


def test_values() -> None:
    check(values())


def test_web_is_a_parabola() -> None:
    t = np.linspace(-WIDTH_MM / 2, WIDTH_MM / 2, 9)
    g_t, g_n, g_r = opening_motion(channel("toward_rails"), t, np.full(9, -DEPTH_MM), np.zeros(9, dtype=bool))
    assert g_r == pytest.approx(np.gradient(g_n, t, edge_order=2))
    assert g_t == pytest.approx(np.zeros(9), abs=1e-12)


@pytest.mark.parametrize("mouth", ["toward_rails", "away_from_rails"])
def test_whole_section_moves_as_a_plane_frame(mouth) -> None:
    places, motion = frame_motion(mouth)
    on_flange = np.abs(places[:, 0]) > WIDTH_MM / 2 - 1e-9
    g_t, g_n, g_r = opening_motion(channel(mouth), places[:, 0], places[:, 1], on_flange)
    for found, expected in ((g_t, motion[:, 0]), (g_n, motion[:, 1]), (g_r, motion[:, 2])):
        # the web stretches a little, the flanges bend a millionth: what is left of thin-walled and flat
        assert found == pytest.approx(expected, abs=1e-3 * WIDTH_MM / 2)


def test_the_tips_are_where_the_rails_stand() -> None:
    places, _ = frame_motion("toward_rails")
    assert places[[0, -1]] == pytest.approx(np.array([[WIDTH_MM / 2, 0.0], [-WIDTH_MM / 2, 0.0]]))
