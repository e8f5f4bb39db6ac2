"""Thermal expansion: Callister, Materials Science and Engineering, table B.6 (seen).

In 10⁻⁶/K: aluminium 6061 23.6, steel 1020 11.7.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from practice_gantry import CHANNEL

from framevis.frame import Beam, Rail, locked
from framevis.reading.frame_schema import MATERIALS
from framevis.torque.warmth import RAIL_STEEL_ALPHA, REFERENCE_C, length_um_per_k
from guides import GUIDE_15


def rail(section=CHANNEL) -> Rail:
    beam = Beam("b", section, locked([0, 0, 0]), locked([0, 1040, 0]), locked([0, 0, 1]))
    return Rail("r", beam, GUIDE_15, 0.0, 20.0, 26)  # screws 40 apart: 1000 mm from the first to the last


def test_materials_expand_as_in_the_table() -> None:
    assert MATERIALS["aluminium"][1] == 23.6e-6
    assert MATERIALS["steel"][1] == RAIL_STEEL_ALPHA == 11.7e-6


def test_reference_temperature_of_iso_1() -> None:
    assert REFERENCE_C == 20.0


def test_a_metre_of_aluminium_outgrows_a_metre_of_steel_by_12_um_a_kelvin() -> None:
    assert length_um_per_k(rail()) == pytest.approx(23.6 - 11.7)


def test_a_rail_on_steel_grows_with_its_beam() -> None:
    steel = replace(CHANNEL, material=replace(CHANNEL.material, alpha_per_k=11.7e-6))
    assert length_um_per_k(rail(steel)) == 0.0
