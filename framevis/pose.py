"""How a carriage's plate lies at one position of its travel, cause by cause: what the picture draws.

A record only: `study` fills it, `scene` draws it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from framevis.deviations import CAUSES, Cause
from framevis.frame import Carriage, Floats


@dataclass(frozen=True, eq=False)
class PlatePose:
    """Rigid small motion of a plate: shift (3,) µm and turn (3,) mrad about `point_mm` (3,), machine axes.

    The causes add up to the plate's equilibrium pose, less that on the frame as drawn (its sag under load).
    """

    carriage: Carriage
    position_mm: float
    point_mm: Floats
    shift_um: Mapping[Cause, Floats]
    turn_mrad: Mapping[Cause, Floats]

    def motion_um(self, points_mm: Floats, causes: Iterable[Cause] = CAUSES) -> Floats:
        """Displacement (N, 3) µm of points (N, 3) mm fixed to the plate, for the causes named."""
        total = np.zeros_like(points_mm)
        for cause in causes:
            total = total + self.shift_um[cause] + np.cross(self.turn_mrad[cause], points_mm - self.point_mm)
        return total
