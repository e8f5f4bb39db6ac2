"""Beam theory (Euler–Bernoulli; Roark, Formulas for Stress and Strain, beams under end couples): an opened channel.

Equal couples M at both ends of a simple beam of length L: end slopes ± M L / 2EI, sag in the middle M L² / 8EI (from
memory), so the sag is L / 4 for an end slope of 1. Checked twice: by these formulas, and by a plane frame of the
section, a bendable web between flanges a million times stiffer, pried apart at their tips.
"""

from __future__ import annotations

import numpy as np
import pytest

from framevis.frame import Beam, Material, Rail, Section, locked
from framevis.opening import opening_motion, seat_motion
from guides import GUIDE_15

WIDTH_MM, DEPTH_MM = 120.0, 60.0
WALL_MM = 1e-6  # the formulas are those of thin walls
WEB_ELEMENTS, FLANGE_ELEMENTS = 12, 3
EI, EA, STIFFER = 1.0e3, 1.0e8, 1.0e6


def channel(mouth) -> Section:
    return Section("c", "channel", WIDTH_MM, DEPTH_MM, WALL_MM, mouth, Material("aluminium", 70.0, 23.6e-6))


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


def test_web_bends_as_a_beam_under_end_couples():
    """Toward the rails the feet stay: sag w/4 in the middle, slope 1 at the ends, a parabola between."""
    t = np.linspace(-WIDTH_MM / 2, WIDTH_MM / 2, 9)
    g_t, g_n, g_r = opening_motion(channel("toward_rails"), t, np.full(9, -DEPTH_MM), np.zeros(9, dtype=bool))
    curvature = 2.0 / WIDTH_MM  # M / EI for which the end slope M L / 2EI is 1
    assert g_n[4] == pytest.approx(curvature * WIDTH_MM**2 / 8.0)
    assert g_n[[0, -1]] == pytest.approx([0.0, 0.0], abs=1e-9)
    assert np.abs(g_r[[0, -1]]) == pytest.approx([curvature * WIDTH_MM / 2.0] * 2)
    assert g_r == pytest.approx(np.gradient(g_n, t, edge_order=2))
    assert g_t == pytest.approx(np.zeros(9), abs=1e-12)


@pytest.mark.parametrize("mouth", ["toward_rails", "away_from_rails"])
def test_whole_section_moves_as_a_plane_frame(mouth):
    """Up to the height of the whole section: framevis holds the feet toward the rails, the web's middle away."""
    up_of_web, up_of_tip = (-DEPTH_MM, 0.0) if mouth == "toward_rails" else (0.0, -DEPTH_MM)
    places, motion = pried_apart(up_of_web, up_of_tip)
    on_flange = np.abs(places[:, 0]) > WIDTH_MM / 2 - 1e-9
    g_t, g_n, g_r = opening_motion(channel(mouth), places[:, 0], places[:, 1], on_flange)
    middle = FLANGE_ELEMENTS + WEB_ELEMENTS // 2
    if mouth == "away_from_rails":
        motion = motion - [0.0, motion[middle, 1], 0.0]
    for found, expected in ((g_t, motion[:, 0]), (g_n, motion[:, 1]), (g_r, motion[:, 2])):
        # the web stretches a little, the flanges bend a millionth: what is left of thin-walled and flat
        assert found == pytest.approx(expected, abs=1e-3 * WIDTH_MM / 2)


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_seat_on_a_flange_tip(side):
    """Toward the rails the seats stand on the tips: out by d, no height, rolled outward."""
    places, motion = pried_apart(-DEPTH_MM, 0.0)
    tip = 0 if side > 0 else -1
    assert places[tip] == pytest.approx([side * WIDTH_MM / 2, 0.0])
    assert seat_motion(rail_at(side * WIDTH_MM / 2, "toward_rails")) == pytest.approx(motion[tip], rel=1e-3, abs=1e-3)


@pytest.mark.parametrize("node", [1, 4, 6, 9])
def test_seat_on_the_web_back(node):
    """Away from the rails they stand on the bent web: height p²/w above its middle, roll 2p/w."""
    places, motion = pried_apart(0.0, -DEPTH_MM)
    at = FLANGE_ELEMENTS + node
    expected = motion[at] - [0.0, motion[FLANGE_ELEMENTS + WEB_ELEMENTS // 2, 1], 0.0]
    found = seat_motion(rail_at(float(places[at, 0]), "away_from_rails"))
    assert found == pytest.approx(expected, rel=1e-3, abs=1e-3)
