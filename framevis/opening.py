"""How a channel section moves when it opens: one formula for the numbers and for the picture.

Thin walls: each flange stays flat and splays by the opening angle, the web takes the bend as constant curvature.
`toward_rails`: the flanges' feet stay where they are; `away_from_rails`: the middle of the web's back does.
"""

from __future__ import annotations

import numpy as np

from framevis.frame import Floats, Rail, Section


def is_flange(section: Section, across_mm: Floats) -> Floats:
    """Whether points of a channel's outline at t (mm) belong to a flange (bool array)."""
    return np.asarray(np.abs(across_mm) > section.width_mm / 2.0 - section.wall_mm * 1.0001)


def opening_motion(
    section: Section, across_mm: Floats, up_mm: Floats, on_flange: Floats | bool
) -> tuple[Floats, Floats, Floats]:
    """Γ_t, Γ_n (µm per mrad, that is mm) and Γ_r (mrad per mrad) of points at (t, n) in the beam's axes.

    Zero for a section that can't open. design: section 3, extended from the seats to the whole outline.
    """
    t, n = np.asarray(across_mm, dtype=np.float64), np.asarray(up_mm, dtype=np.float64)
    if section.shape != "channel":
        return np.zeros_like(t), np.zeros_like(t), np.zeros_like(t)
    width, depth = section.width_mm, section.depth_mm
    side, middle = np.sign(t), (width - section.wall_mm) / 2.0
    if section.mouth == "toward_rails":
        flange = side * (n + depth), -side * (t - side * middle), -side
        web = 2.0 * t / width * (n + depth), width / 4.0 - t**2 / width, -2.0 * t / width
    else:
        flange = -side * n, width / 4.0 + side * (t - side * middle), side
        web = -2.0 * t / width * n, t**2 / width, 2.0 * t / width
    moved = [np.where(on_flange, f, w) for f, w in zip(flange, web, strict=True)]
    return moved[0], moved[1], moved[2]


def seat_motion(rail: Rail) -> tuple[float, float, float]:
    """Γ_t, Γ_n, Γ_r of a rail's seat in the beam's axes; on a flange's tip the seat counts as mid-wall."""
    section = rail.beam.section
    across, up = rail.seat_in_beam
    on_tip = section.mouth == ("toward_rails" if rail.face_deg % 360.0 == 0.0 else "away_from_rails")
    faces_along = rail.face_deg % 180.0 == 0.0
    if faces_along and on_tip:
        across = float(np.sign(across)) * (section.width_mm - section.wall_mm) / 2.0
    on_flange = on_tip if faces_along else True
    g_t, g_n, g_r = opening_motion(section, np.array(across), np.array(up), on_flange)
    return float(g_t), float(g_n), float(g_r)
