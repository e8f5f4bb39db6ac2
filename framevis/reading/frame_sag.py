"""The sag of a sweep's wire or straightedge, from the data that frame.toml gives of it.

Takes the model of a sweep, its rail, the direction against gravity and a `Door`; gives the sag as a known error of
the reference, with which readings are corrected.
"""

from __future__ import annotations

import numpy as np

from framevis.frame import ErrorCurve, Floats, Rail, locked
from framevis.reading.door import Door
from framevis.reading.frame_schema import SweepToml
from framevis.reading.toml_lines import KeyPath
from framevis.sag import bar_sag_um, wire_sag_um

NODES = 201  # a parabola between so many is straight within 1/40 000 of its sag
MOST_UM = 20_000.0
DATA = {"wire": ("wire_n_per_m", "wire_tension_n"), "straightedge": ("straightedge_n_per_m", "straightedge_ei_nm2")}
SAG_KEYS = (*DATA["wire"], *DATA["straightedge"], "straightedge_ends", "supports")


def sag_of(at: KeyPath, toml: SweepToml, rail: Rail, up: Floats, mm: float, door: Door) -> ErrorCurve | None:
    """By how much the reference stands out to the left or up (negative: it hangs) at stations along the beam.

    None where there are no data, where they are not complete, or where gravity pulls the other way.
    """
    given = [key for key in SAG_KEYS if getattr(toml, key) is not None]
    if not given or not _is_complete(at, toml, given, door):
        return None
    supports = _stretch(at, "supports", toml.supports or (0.0, rail.beam.length_mm / mm), mm, door)
    ends = _stretch(at, "straightedge_ends", toml.straightedge_ends or toml.supports or (0.0, 0.0), mm, door)
    if supports is None:
        return None
    if toml.wire_n_per_m is not None and toml.wire_tension_n is not None:
        s = np.linspace(*supports, NODES)
        sag = wire_sag_um(s - supports[0], supports[1] - supports[0], toml.wire_n_per_m, toml.wire_tension_n)
    else:
        if ends is None or not ends[0] <= supports[0] < supports[1] <= ends[1]:
            what = "do not hold the supports between them"
            door.refuse((*at, "straightedge_ends"), what, "give the stations of its two ends")
            return None
        assert toml.straightedge_n_per_m is not None
        assert toml.straightedge_ei_nm2 is not None
        s = np.linspace(*ends, NODES)
        sag = bar_sag_um(s, ends, supports, toml.straightedge_n_per_m, toml.straightedge_ei_nm2)
    if float(np.abs(sag).max()) > MOST_UM:
        what = f"with the others gives a sag of {door.length(round(float(np.abs(sag).max()) / 1000.0))}"
        door.refuse((*at, given[0]), what, "check weight (N/m), tension (N) or stiffness (N·m²), and the supports")
        return None
    share = float(rail.axes[1 if toml.direction == "lateral" else 2] @ up)
    turned = -1.0 if toml.reversed else 1.0  # turned over, it hangs as before: its error changes sign, its sag doesn't
    return ErrorCurve(locked(s), locked(-turned * share * sag)) if abs(share) > 1e-9 else None


def _is_complete(at: KeyPath, toml: SweepToml, given: list[str], door: Door) -> bool:
    reference = toml.reference or "straightedge"
    seen = len(door.problems)
    keys = DATA.get(reference, ())
    for key in given:
        if key not in (*keys, "supports", *(("straightedge_ends",) if reference == "straightedge" else ())):
            door.refuse((*at, key), f'does not belong to reference = "{reference}"', "take it out")
    for key in keys:
        if key not in given:
            door.refuse((*at, key), "is missing", f"sag needs {' and '.join(keys)}")
    if reference == "straightedge" and "supports" not in given:
        door.refuse((*at, "supports"), "is missing", "give the stations at which the straightedge lay on its supports")
    return len(door.problems) == seen


def _stretch(at: KeyPath, key: str, pair: tuple[float, ...], mm: float, door: Door) -> tuple[float, float] | None:
    low, high = (each * mm for each in pair)
    if key == "supports" and high - low < 1.0:
        door.refuse((*at, key), "must rise from the first to the second", "give two stations along the beam")
        return None
    return low, high


def together(one: ErrorCurve | None, other: ErrorCurve | None) -> ErrorCurve | None:
    """Two known errors of one reference, added."""
    if one is None or other is None:
        return one or other
    s = np.union1d(one.station_mm, other.station_mm)
    return ErrorCurve(locked(s), locked(sum(np.interp(s, each.station_mm, each.error_um) for each in (one, other))))
