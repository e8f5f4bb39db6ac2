"""What it takes to bend a rail onto its shims: the force at every screw of a beam over supports of unequal height.

Takes a rail and the lift at its screws; gives forces from the continuous beam (Euler–Bernoulli, the three-moment
equation), whose deflection is the natural cubic spline that `rail_shims` draws.
"""

from __future__ import annotations

import numpy as np

from framevis.contact import STEEL_E_MPA
from framevis.frame import Floats, Guide, Rail
from framevis.natural_spline import NaturalSpline


def bending_stiffness_nmm2(guide: Guide) -> float:
    """E I upward: as given, else of the rail's outline as a full rectangle of steel, which is rather too much."""
    if guide.rail_ei_nm2 is not None:
        return guide.rail_ei_nm2 * 1e6
    return STEEL_E_MPA * guide.rail_width_mm * guide.rail_height_mm**3 / 12.0


def screw_forces_n(rail: Rail, lift_um: Floats) -> Floats:
    """Force of the seat on the rail at each screw (screws,), N: plus pushes it up, minus the screw pulls it down."""
    s = rail.screw_stations_mm
    if s.size < 3:
        return np.zeros(s.size)
    spline = NaturalSpline(s, lift_um / 1000.0)
    shear = bending_stiffness_nmm2(rail.guide) * np.concatenate([[0.0], spline((s[:-1] + s[1:]) / 2.0, 3), [0.0]])
    return np.asarray(np.diff(shear))
