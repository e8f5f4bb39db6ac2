"""Tightening torques: two published tables at µ 0.14 and what the trade tightens into aluminium.

`torque_found.csv`: two public tables of torques for steel screws in steel (seen); they differ among themselves by up to
3 %, B has two digits, and each has its own share of the screw's strength. Ours is 75 % of the proof load.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from reference_tables import table

from framevis.frame import Material
from framevis.screws import (
    PROOF_MPA,
    SIZES,
    diameter_of,
    preload_n,
    settable,
    soft_torque_nm,
    steel_torque_nm,
    stress_area_mm2,
    torque_in,
)
from guides import GUIDE_15

ROWS = [row for row in table("torque_found") if row["mu"] == "0.14"]
ALUMINIUM, STEEL = Material("aluminium", 70.0, 23.6e-6), Material("steel", 206.0, 11.7e-6)


def computed(row: dict[str, str]) -> float:
    return steel_torque_nm(float(row["size"][1:]), row["class"], float(row["mu"]))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['size']}-{row['class']}")
def test_torque_into_steel_is_that_of_both_tables(row) -> None:
    assert computed(row) == pytest.approx(float(row["torque_Nm_tableA"]), rel=0.03)  # three to five digits
    if row["torque_Nm_tableB"]:  # two digits: 18 is 17.5 to 18.5
        assert computed(row) == pytest.approx(float(row["torque_Nm_tableB"]), rel=0.05)


def test_all_rows_of_the_tables_were_held_against() -> None:
    assert len(ROWS) == len(table("torque_found")) == 12


@pytest.mark.parametrize(("size", "area"), [(3.0, 5.03), (4.0, 8.78), (5.0, 14.2), (6.0, 20.1)])  # ISO 898-1; seen
def test_stress_areas_of_iso_898(size, area) -> None:
    digit = 0.005 if area < 10.0 else 0.05
    assert stress_area_mm2(size, SIZES[size][0]) == pytest.approx(area, abs=digit)


@pytest.mark.parametrize(("size", "area"), [(8.0, 36.6), (10.0, 58.0), (12.0, 84.3), (16.0, 157.0)])
def test_stress_areas_of_larger_threads(size, area) -> None:
    """ISO 898-1; memory."""
    digit = 0.5 if area > 100.0 else 0.05
    assert stress_area_mm2(size, SIZES[size][0]) == pytest.approx(area, abs=digit)


def test_proof_stresses_of_iso_898() -> None:
    assert PROOF_MPA == {"8.8": 580.0, "10.9": 830.0, "12.9": 970.0}  # MPa; seen


@pytest.mark.parametrize("size", [3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 16.0])
def test_nut_factor_is_about_a_fifth(size) -> None:
    """T = K F d with K ≈ 0.2 (seen)."""
    nut_factor = 1000.0 * steel_torque_nm(size, "8.8", 0.14) / (preload_n(size, "8.8") * size)
    assert nut_factor == pytest.approx(0.2, abs=0.02)  # one digit


@pytest.mark.parametrize(("size", "nm"), [(3.0, 1.0), (4.0, 2.1), (5.0, 4.4), (6.0, 6.9)])
def test_torque_into_aluminium_is_the_trades(size, nm) -> None:
    """Common practice, two digits."""
    assert soft_torque_nm(size, 0.14) == pytest.approx(nm, rel=0.1)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['size']}-{row['class']}")
def test_aluminium_gets_less_than_any_class_takes_in_steel(row) -> None:
    assert soft_torque_nm(float(row["size"][1:]), 0.14) < 0.75 * computed(row)


def test_thread_decides_which_of_the_two_it_is() -> None:
    guide = replace(GUIDE_15, screw="M4", screw_class="12.9")
    steel, soft = torque_in(guide, STEEL), torque_in(guide, ALUMINIUM)
    assert steel.nm == pytest.approx(5.148, rel=0.03)
    assert soft.nm == pytest.approx(2.1, rel=0.1)
    assert "ISO 898-1" in steel.rests_on
    assert "thread in aluminium: half of what" in soft.rests_on
    unknown = torque_in(guide, Material("own", 110.0, 9e-6))
    assert unknown.nm == soft.nm
    assert "isn't known here" in unknown.rests_on


def test_more_friction_asks_for_more_torque() -> None:
    """K of T = K F d rises about as 0.16 P/d + 1.15 µ: from 0.10 to 0.20 nearly doubles what isn't pitch."""
    low, high = (steel_torque_nm(6.0, "8.8", friction) for friction in (0.10, 0.20))
    pitch = preload_n(6.0, "8.8") * 0.16 * 1.0 / 1000.0
    assert (high - pitch) / (low - pitch) == pytest.approx(2.0)


def test_the_makers_value_wins() -> None:
    guide = replace(GUIDE_15, torque_nm=1.37)
    for thread in (STEEL, ALUMINIUM):
        torque = torque_in(guide, thread)
        assert (torque.nm, torque.is_makers) == (1.37, True)
        assert torque.stages_nm == (0.45, 0.9, 1.37)  # its own value is not rounded
        assert "maker" in torque.rests_on


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"screw": None}, "names no screw"),
        ({"screw": "1/4-20"}, "1/4-20 is not a coarse metric thread"),
        ({"screw": "M7"}, "M7 is not a coarse metric thread"),
        ({"screw": "M8x1"}, "M8x1 is not a coarse"),
        ({"screw_class": "A2-70"}, "no strength is known here for class A2-70"),
    ],
)
def test_without_published_values_there_is_no_torque(changed, says) -> None:
    torque = torque_in(replace(GUIDE_15, **changed), STEEL)
    assert torque.nm is None
    assert torque.stages_nm == ()
    assert says in torque.rests_on
    assert "enter torque_nm from the maker" in torque.rests_on


@pytest.mark.parametrize(
    ("text", "diameter"),
    [("M3", 3.0), ("m4 x 12", 4.0), ("M6×16", 6.0), ("M8x1.25", 8.0), ("M2.5", 2.5), ("M3x0.35", None), ("3", None)],
)
def test_names_of_screws(text, diameter) -> None:
    assert diameter_of(text) == diameter


@pytest.mark.parametrize(
    ("nm", "set_to"), [(0.953, 0.95), (0.01, 0.05), (2.97, 2.95), (2.99, 3.0), (3.04, 3.0), (3.06, 3.1), (17.24, 17.2)]
)
def test_torques_are_what_a_wrench_can_be_set_to(nm, set_to) -> None:
    assert settable(nm) == pytest.approx(set_to, abs=1e-9)


def test_stages_are_a_third_two_thirds_and_all() -> None:
    torque = torque_in(replace(GUIDE_15, screw="M6", screw_class="8.8"), STEEL)
    assert torque.stages_nm == pytest.approx((3.4, 6.9, 10.3))  # of 10.29
