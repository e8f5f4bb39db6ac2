"""A period in the pull: whether what the prediction leaves over comes and goes with the screws of a rail.

Takes residuals along the travel, gives the sine at one period by least squares with an F-test. A rail that is drawn
down at its screws makes such a period; a frame's bow, twist or opening has none.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import fdtrc

from framevis.frame import Floats
from framevis.pulls.pull import Compared, Held

DRIFT = 4  # terms of the smooth part beside the sine: a cubic
LEAST_OVER = 4  # degrees of freedom left for the scatter
LEAST_PERIODS = 3.0
CHANCE = 0.01


@dataclass(frozen=True)
class Period:
    """A sine of a period (mm) in the pull: amplitude and its standard uncertainty N, chance of it in mere scatter."""

    period_mm: float
    amplitude: float
    u: float
    p: float
    strongest: bool  # whether no other period explains more

    @property
    def is_there(self) -> bool:
        return self.strongest and self.p < CHANCE and self.amplitude > 3.0 * self.u


def pitches(held: Held) -> list[float]:
    """Screw pitches (mm) of the rails that a carriage rides."""
    return sorted({block.rail.guide.screw_pitch_mm for block in held.mechanism.carriage.blocks})


def spacing(compared: Compared) -> float:
    """Typical distance between neighbouring stations, mm."""
    return float(np.median(np.diff(compared.station_mm)))


def can_show(compared: Compared, period_mm: float) -> bool:
    """Whether the stations are close and many enough to show a period: more than two of them in each."""
    span = float(np.ptp(compared.station_mm))
    enough = compared.found.size >= DRIFT + 2 + LEAST_OVER and span >= LEAST_PERIODS * period_mm
    return enough and spacing(compared) < period_mm / 2.0


def sine_at(compared: Compared, period_mm: float) -> Period:
    """The sine of a period in the residuals, beside a cubic along the travel: generalised least squares.

    The residuals' covariance has the slow waves in which the prediction may be wrong, so these don't hide a fast one.
    """
    s, span = compared.station_mm, float(np.ptp(compared.station_mm))
    root = np.linalg.cholesky(compared.whole)
    d = np.linalg.solve(root, compared.residual)
    smooth = np.polynomial.legendre.legvander((2.0 * s - s[0] - s[-1]) / span, DRIFT - 1)

    def waves(frequency: float) -> Floats:
        turn = 2.0 * np.pi * frequency * s
        return np.asarray(np.linalg.solve(root, np.column_stack([smooth, np.cos(turn), np.sin(turn)])))

    rows = waves(1.0 / period_mm)
    left, over = _unexplained(rows, d), d.size - rows.shape[1]
    f = (_unexplained(rows[:, :DRIFT], d) - left) / 2.0 / max(left / over, 1e-300)
    part = np.linalg.lstsq(rows, d, rcond=None)[0][-2:]
    u = float(np.sqrt(np.diag(np.linalg.inv(rows.T @ rows))[-2:].mean()))
    others = np.arange(2.0 / span, 0.5 / spacing(compared), 0.25 / span)
    elsewhere = others[np.abs(others - 1.0 / period_mm) > 0.75 / span]
    best = min((_unexplained(waves(frequency), d) for frequency in elsewhere), default=np.inf)
    return Period(period_mm, float(np.hypot(*part)), u, float(fdtrc(2, over, f)), left <= best)


def _unexplained(rows: Floats, values: Floats) -> float:
    """Sum of squares that a least-squares fit of rows (n, p) leaves of values (n,)."""
    left = values - rows @ np.linalg.lstsq(rows, values, rcond=None)[0]
    return float(left @ left)
