"""Tightening torques of a rail's screws, from published standards only: size, property class, friction, thread.

Takes a screw as a guide names it, gives newton metres with what they rest on, or why there is none. The maker's own
value wins wherever it was entered.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import pi

from framevis.frame import Guide, Material, Rail

# Nominal diameter (mm) → coarse pitch (ISO 261), head diameter (ISO 4762), clearance hole, medium (ISO 273); memory.
SIZES: dict[float, tuple[float, float, float]] = {
    2.0: (0.4, 3.8, 2.4),
    2.5: (0.45, 4.5, 2.9),
    3.0: (0.5, 5.5, 3.4),
    4.0: (0.7, 7.0, 4.5),
    5.0: (0.8, 8.5, 5.5),
    6.0: (1.0, 10.0, 6.6),
    8.0: (1.25, 13.0, 9.0),
    10.0: (1.5, 16.0, 11.0),
    12.0: (1.75, 18.0, 13.5),
    14.0: (2.0, 21.0, 15.5),
    16.0: (2.0, 24.0, 17.5),
}
PROOF_MPA = {"8.8": 580.0, "10.9": 830.0, "12.9": 970.0}  # ISO 898-1, up to M16; seen
PROOF_SHARE = 0.75  # of the proof load, for joints that are taken apart again: common practice of machine design
SOFT_CLASS, SOFT_SHARE = "10.9", 0.5  # a soft thread takes half of what such a screw takes in steel; common practice
ENTER = "enter torque_nm from the maker"


@dataclass(frozen=True)
class Torque:
    """The final torque of one rail's screws; `nm` None where none can be told. `rests_on`: one sentence."""

    nm: float | None
    rests_on: str
    is_makers: bool = False

    @property
    def stages_nm(self) -> tuple[float, ...]:
        """1/3, 2/3 and all of it, as a wrench can be set; empty where there is no torque."""
        if self.nm is None:
            return ()
        return settable(self.nm / 3.0), settable(2.0 * self.nm / 3.0), self.nm if self.is_makers else settable(self.nm)


def settable(nm: float) -> float:
    """A torque rounded to what a wrench can be set to: steps of 0.05 N·m below 3, of 0.1 above."""
    step = 0.05 if nm < 3.0 else 0.1
    return max(round(round(nm / step) * step, 2), step)


def stress_area_mm2(diameter_mm: float, pitch_mm: float) -> float:
    """Stress area of a metric thread: π/4 · ((d₂ + d₃)/2)² (ISO 898-1, 9.1.6; thread of ISO 724)."""
    d3 = diameter_mm - 1.226869 * pitch_mm
    return pi / 4.0 * ((flank_diameter_mm(diameter_mm, pitch_mm) + d3) / 2.0) ** 2


def flank_diameter_mm(diameter_mm: float, pitch_mm: float) -> float:
    """d₂ of a metric thread (ISO 724)."""
    return diameter_mm - 0.649519 * pitch_mm


def preload_n(diameter_mm: float, screw_class: str) -> float:
    """Clamping force of one screw: a share of its proof load."""
    return PROOF_SHARE * PROOF_MPA[screw_class] * stress_area_mm2(diameter_mm, SIZES[diameter_mm][0])


def steel_torque_nm(diameter_mm: float, screw_class: str, friction: float) -> float:
    """Torque into steel: T = F (0.16 P + 0.58 µ d₂ + µ D/2), D the mean diameter under the head (VDI 2230)."""
    pitch, head, hole = SIZES[diameter_mm]
    d2, under_head = flank_diameter_mm(diameter_mm, pitch), (head + hole) / 2.0
    lever_mm = 0.16 * pitch + 0.58 * friction * d2 + friction * under_head / 2.0
    return preload_n(diameter_mm, screw_class) * lever_mm / 1000.0


def soft_torque_nm(diameter_mm: float, friction: float) -> float:
    """Torque into aluminium: the thread sets it, so it is the same for all classes, below what any of them takes."""
    return SOFT_SHARE * steel_torque_nm(diameter_mm, SOFT_CLASS, friction)


def diameter_of(screw: str) -> float | None:
    """Nominal diameter of "M4", "M4x12" (a length), "M4x0.7" (its coarse pitch); None for anything else."""
    found = re.fullmatch(r"\s*[Mm]\s*([0-9]{1,2}(?:\.[0-9])?)(?:\s*[xX×]\s*([0-9]{1,3}(?:\.[0-9]{1,2})?))?\s*", screw)
    if found is None or float(found[1]) not in SIZES:
        return None
    diameter = float(found[1])
    after = float(found[2]) if found[2] else None
    return diameter if after is None or after >= diameter or after == SIZES[diameter][0] else None


def torque_of(rail: Rail) -> Torque:
    """The final torque of a rail's screws in its beam."""
    return torque_in(rail.guide, rail.beam.section.material)


def torque_in(guide: Guide, thread: Material) -> Torque:
    """The final torque of a guide's screws in a thread's material. Anything but steel is taken as soft as aluminium."""
    if guide.torque_nm is not None:
        return Torque(guide.torque_nm, "the maker's value, as entered (torque_nm)", is_makers=True)
    if guide.screw is None:
        return Torque(None, f"the guide names no screw: {ENTER}")
    diameter = diameter_of(guide.screw)
    if diameter is None:
        return Torque(None, f"{guide.screw} is not a coarse metric thread from M2 to M16: {ENTER}")
    if guide.screw_class not in PROOF_MPA:
        known = ", ".join(PROOF_MPA)
        return Torque(None, f"no strength is known here for class {guide.screw_class} (only {known}): {ENTER}")
    if thread.name == "steel":
        computed = steel_torque_nm(diameter, guide.screw_class, guide.screw_friction)
        return Torque(computed, f"thread in steel: {_formula(diameter, guide.screw_class, guide.screw_friction)}")
    soft = "aluminium" if thread.name == "aluminium" else "a material that isn't known here, taken as soft as aluminium"
    half = f"half of what a class {SOFT_CLASS} screw takes in steel (common practice)"
    rests_on = f"thread in {soft}: {half}, {_formula(diameter, SOFT_CLASS, guide.screw_friction)}"
    return Torque(soft_torque_nm(diameter, guide.screw_friction), rests_on)


def _formula(diameter: float, screw_class: str, friction: float) -> str:
    proof, area = PROOF_MPA[screw_class], stress_area_mm2(diameter, SIZES[diameter][0])
    return (
        f"T = F (0.16 P + 0.58 µ d₂ + µ D/2) (VDI 2230, simplified) with µ {friction:g} and F = "
        f"{100 * PROOF_SHARE:.0f} % of the proof load {proof:.0f} MPa × {area:.3g} mm² (ISO 898-1)"
    )
