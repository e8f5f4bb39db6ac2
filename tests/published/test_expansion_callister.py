"""Thermal expansion: Callister, Materials Science and Engineering, table B.6; reference temperature of ISO 1."""

from __future__ import annotations

from dataclasses import replace

from ledger import Source, Value, check
from practice_gantry import CHANNEL

from framevis.budgeting.components import expansion_um
from framevis.frame import Beam, Rail, locked
from framevis.reading.frame_schema import MATERIALS
from framevis.torque.warmth import RAIL_STEEL_ALPHA, REFERENCE_C, length_um_per_k
from guides import GUIDE_15

SOURCE = Source(
    "Callister, Materials Science and Engineering, table B.6; ISO 1",
    "Warmth",
    "Aluminium 6061 and steel 1020: the coefficients that `aluminium` and `steel` stand for, and how far a metre "
    "of the one outgrows a metre of the other. ISO 1: 20 °C.",
)


def rail(section=CHANNEL) -> Rail:
    beam = Beam("b", section, locked([0, 0, 0]), locked([0, 1040, 0]), locked([0, 0, 1]))
    return Rail("r", beam, GUIDE_15, 0.0, 20.0, 26)  # screws 40 apart: 1000 mm from the first to the last


def values() -> list[Value]:
    budget = expansion_um(MATERIALS["aluminium"][1], MATERIALS["steel"][1], 1.0, 1000.0)
    per_k = "10⁻⁶/K"
    return [
        Value("expansion of aluminium", per_k, 23.6, 1e6 * MATERIALS["aluminium"][1], "seen", relative=1e-12),
        Value("expansion of a steel beam", per_k, 11.7, 1e6 * MATERIALS["steel"][1], "seen", relative=1e-12),
        Value("expansion of a rail", per_k, 11.7, 1e6 * RAIL_STEEL_ALPHA, "seen", relative=1e-12),
        Value(
            "aluminium beam less rail, a metre, 1 K", "µm", 23.6 - 11.7, length_um_per_k(rail()), "seen", relative=1e-6
        ),
        Value("the same in the budget of a sweep", "µm", 23.6 - 11.7, budget, "seen", relative=1e-6),
        Value("reference temperature", "°C", 20.0, REFERENCE_C, "from memory"),
    ]


def test_values() -> None:
    check(values())


def test_a_rail_on_steel_grows_with_its_beam() -> None:
    steel = replace(CHANNEL, material=replace(CHANNEL.material, alpha_per_k=11.7e-6))
    assert length_um_per_k(rail(steel)) == 0.0
