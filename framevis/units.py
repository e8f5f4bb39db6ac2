"""Units at the border: what a file may say, in micrometres, millimetres, milliradians or newtons inside."""

from __future__ import annotations

from math import pi

MM_PER_LENGTH_UNIT = {"mm": 1.0, "in": 25.4}

#: µm in one unit of a length reading
UM_PER_UNIT = {"um": 1.0, "mm": 1000.0, "in": 25_400.0, "thou": 25.4}
#: mrad in one unit of an angle reading; in_per_ft is a slope of 1 in 12
MRAD_PER_UNIT = {
    "mrad": 1.0,
    "mm_per_m": 1.0,
    "arcsec": 1000.0 * pi / 648_000.0,
    "deg": 1000.0 * pi / 180.0,
    "in_per_ft": 1000.0 / 12.0,
}
#: N in one unit of a force reading; standard gravity 9.80665 m/s² (ISO 80000-3)
N_PER_UNIT = {"n": 1.0, "kgf": 9.80665, "lbf": 4.4482216152605}

GRAVITY_M_PER_S2 = 9.80665
