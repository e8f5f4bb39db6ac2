"""Contact of balls in grooves: Hertz stiffness, static allowable load, and the ball lines of a block.

Takes a guide's dimensions, gives where its balls press and how hard. Loads N, approaches µm, pressures MPa,
radii mm. Hertz with exact elliptic integrals: Harris, Rolling Bearing Analysis, ch. 6 (symbols from there).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import cos, pi, radians, sin, sqrt

import numpy as np
from scipy.special import ellipe, ellipk

from framevis.frame import BALL_PITCH, Floats, Guide, locked

STEEL_E_MPA = 206_000.0
STEEL_NU = 0.3
STATIC_PRESSURE_MPA = 4200.0  # static-rating contact stress of ISO 76, taken over for guides by ISO 14728-2


@dataclass(frozen=True)
class Ellipse:
    """Hertz contact of two bodies under a load: semi-axes (mm), peak pressure (MPa), approach (mm)."""

    a_mm: float
    b_mm: float
    pressure_mpa: float
    approach_mm: float


def reduced_modulus(e1_mpa: float, nu1: float, e2_mpa: float, nu2: float) -> float:
    """E* (MPa): 1/E* = (1 − ν₁²)/E₁ + (1 − ν₂²)/E₂."""
    return 1.0 / ((1.0 - nu1**2) / e1_mpa + (1.0 - nu2**2) / e2_mpa)


@lru_cache(maxsize=256)
def ellipticity(ratio: float) -> float:
    """a/b of the contact ellipse for a ratio B/A ≥ 1 of the principal relative curvatures.

    With m = 1 − (b/a)², the root of ((a/b)² E − K) / (K − E) = B/A (Johnson, Contact Mechanics, eq. 4.26), which
    grows with a/b: halved down in ln(a/b) until no number lies between.
    """
    if ratio <= 1.0 + 1e-12:
        return 1.0

    def excess(log_k: float) -> float:
        k2 = np.exp(2.0 * log_k)
        m = 1.0 - 1.0 / k2
        first, second = ellipk(m), ellipe(m)
        return float((k2 * second - first) / (first - second) - ratio)

    low, high = 0.0, 12.0
    while low < (middle := (low + high) / 2.0) < high:
        low, high = (middle, high) if excess(middle) < 0.0 else (low, middle)
    return float(np.exp(middle))


def hertz(load_n: float, curvature_1: float, curvature_2: float, e_star_mpa: float) -> Ellipse:
    """Contact under a load for the two principal relative curvatures Σ1/R (1/mm) of a pair of bodies."""
    small, large = sorted((curvature_1, curvature_2))
    k = ellipticity(large / small)
    m = 1.0 - 1.0 / k**2
    first, second = float(ellipk(m)), float(ellipe(m))
    a = (3.0 * load_n * k**2 * second / (pi * e_star_mpa * (small + large))) ** (1.0 / 3.0)
    pressure = 3.0 * load_n / (2.0 * pi * a * (a / k))
    approach = 3.0 * load_n * first / (2.0 * pi * e_star_mpa * a)
    return Ellipse(a, a / k, pressure, approach)


def groove_curvatures(ball_diameter_mm: float, conformity: float) -> tuple[float, float]:
    """Principal relative curvatures (1/mm) of a ball in a straight groove of radius conformity · diameter."""
    ball = 2.0 / ball_diameter_mm
    return ball - 1.0 / (conformity * ball_diameter_mm), ball


def _in_groove(load_n: float, ball_diameter_mm: float, conformity: float) -> Ellipse:
    e_star = reduced_modulus(STEEL_E_MPA, STEEL_NU, STEEL_E_MPA, STEEL_NU)
    return hertz(load_n, *groove_curvatures(ball_diameter_mm, conformity), e_star)


def ball_stiffness(ball_diameter_mm: float, conformity: float) -> float:
    """K of Q = K δ^1.5 (N/µm^1.5) of a steel ball between two straight grooves: both ends in series."""
    one_end_um = 1000.0 * _in_groove(1.0, ball_diameter_mm, conformity).approach_mm
    return float((2.0 * one_end_um) ** -1.5)


def static_load(ball_diameter_mm: float, conformity: float, pressure_mpa: float = STATIC_PRESSURE_MPA) -> float:
    """Load on one ball (N) at which its contact with a straight groove reaches `pressure_mpa`.

    The default is the static-rating contact stress of ISO 76, which ISO 14728-2 takes over for guides.
    """
    ratio = pressure_mpa / _in_groove(1.0, ball_diameter_mm, conformity).pressure_mpa
    return ratio**3


@dataclass(frozen=True)
class BallLines:
    """The four contact lines of a block: the balls of one line differ only in where they stand along s.

    Contact of ball k on line l has the wrench basis E = `fixed`[l] + s[k] · `along`[l] over (lateral, height,
    roll, pitch, yaw): its approach is δ₀ + E·x for the block displaced by x (µm, mrad), its load Q presses back
    on the block with the wrench −Q E (N, N·mm). `static_n` is the allowable static load of one ball.
    """

    guide: Guide

    @cached_property
    def places_mm(self) -> Floats:
        """Where the balls stand along the block, from its middle (balls,)."""
        count = self.guide.balls_per_row
        return locked((np.arange(count) - (count - 1) / 2.0) * BALL_PITCH * self.guide.ball_diameter_mm)

    @cached_property
    def _rows(self) -> Floats:
        """(t, n, e_t, e_n) of each of the four lines, (4, 4). design: section 4."""
        guide, beta = self.guide, radians(self.guide.contact_angle_deg)
        half, rise = guide.row_spacing_mm / 2.0, guide.row_gap_mm / 2.0
        height = {"gothic": 0.0, "O": rise, "X": rise}[guide.arrangement]
        sense = -1.0 if guide.arrangement == "X" else 1.0
        return np.array(
            [
                (side * half, level * height, -side * cos(beta), sense * level * sin(beta))
                for side in (1.0, -1.0)
                for level in (1.0, -1.0)
            ]
        )

    @cached_property
    def fixed(self) -> Floats:
        t, n, e_t, e_n = self._rows.T
        zero = np.zeros(4)
        return locked(np.column_stack([e_t, e_n, t * e_n - n * e_t, zero, zero]))

    @cached_property
    def along(self) -> Floats:
        _, _, e_t, e_n = self._rows.T
        zero = np.zeros(4)
        return locked(np.column_stack([zero, zero, zero, -e_n, e_t]))

    @cached_property
    def basis(self) -> Floats:
        """E of every contact of the block, line by line (4 · balls, 5)."""
        lines = self.fixed[:, None, :] + self.places_mm[None, :, None] * self.along[:, None, :]
        return locked(lines.reshape(-1, 5))

    @cached_property
    def stiffness(self) -> float:
        """K of one ball, N/µm^1.5."""
        return ball_stiffness(self.guide.ball_diameter_mm, self.guide.conformity)

    @cached_property
    def static_n(self) -> float:
        return static_load(self.guide.ball_diameter_mm, self.guide.conformity)

    def tangent(self, approach_um: float) -> Floats:
        """Stiffness (5, 5) of the whole block when every contact is pressed in by `approach_um` > 0."""
        return np.asarray(1.5 * self.stiffness * sqrt(approach_um) * self.basis.T @ self.basis)


def pressure_of(load_n: Floats, static_n: float) -> Floats:
    """Peak contact pressure (MPa) of a ball under a load: p ∝ Q^(1/3), through 4200 MPa at `static_n`."""
    return np.asarray(STATIC_PRESSURE_MPA * np.cbrt(load_n / static_n))
