"""Tightening torques: two published tables at µ 0.14 and what the trade tightens into aluminium."""

from __future__ import annotations

from dataclasses import replace

import pytest
from ledger import Source, Status, Value, check
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

SOURCE = Source(
    "ISO 898-1, two public tables of torques at µ 0.14, and the trade's torques into aluminium",
    "Screws and torques",
    "The tables are for steel screws in steel; they differ among themselves by up to 3 %, B has two digits, and "
    "each has its own share of the screw's strength. framevis's is 75 % of the proof load. Nut factor K of T = K F "
    "d at class 8.8.",
)
ROWS = [row for row in table("torque_found") if row["mu"] == "0.14"]
ALUMINIUM, STEEL = Material("aluminium", 70.0, 23.6e-6), Material("steel", 206.0, 11.7e-6)
AREAS: tuple[tuple[float, float, float, Status], ...] = (  # size, mm², half a digit
    (3.0, 5.03, 0.005, "seen"),
    (4.0, 8.78, 0.005, "seen"),
    (5.0, 14.2, 0.05, "seen"),
    (6.0, 20.1, 0.05, "seen"),
    (8.0, 36.6, 0.05, "from memory"),
    (10.0, 58.0, 0.05, "from memory"),
    (12.0, 84.3, 0.05, "from memory"),
    (16.0, 157.0, 0.5, "from memory"),
)
PROOF = {"8.8": 580.0, "10.9": 830.0, "12.9": 970.0}  # MPa
SOFT = ((3.0, 1.0), (4.0, 2.1), (5.0, 4.4), (6.0, 6.9))  # N·m into aluminium, two digits


def computed(row: dict[str, str]) -> float:
    return steel_torque_nm(float(row["size"][1:]), row["class"], float(row["mu"]))


def of_a_row(row: dict[str, str]) -> list[Value]:
    what, ours = f"{row['size']} {row['class']} in steel", computed(row)
    listed = [Value(f"{what}, table A", "N·m", float(row["torque_Nm_tableA"]), ours, "seen", relative=0.03)]
    if row["torque_Nm_tableB"]:  # two digits: 18 is 17.5 to 18.5
        listed.append(Value(f"{what}, table B", "N·m", float(row["torque_Nm_tableB"]), ours, "seen", relative=0.05))
    return listed


def nut_factor(size: float) -> float:
    return 1000.0 * steel_torque_nm(size, "8.8", 0.14) / (preload_n(size, "8.8") * size)


def values() -> list[Value]:
    areas = [
        Value(
            f"stress area, M{size:g}", "mm²", area, stress_area_mm2(size, SIZES[size][0]), status, absolute=half_digit
        )
        for size, area, half_digit, status in AREAS
    ]
    proof = [Value(f"proof stress, {name}", "MPa", mpa, PROOF_MPA[name], "seen") for name, mpa in PROOF.items()]
    nut = [
        Value(f"nut factor K, M{size:g}", "1", 0.2, nut_factor(size), "seen", absolute=0.02)  # one digit
        for size, *_ in AREAS
    ]
    soft = [
        Value(f"M{size:g} in aluminium", "N·m", nm, soft_torque_nm(size, 0.14), "common practice", relative=0.1)
        for size, nm in SOFT
    ]
    return [*areas, *proof, *(value for row in ROWS for value in of_a_row(row)), *nut, *soft]


def test_values() -> None:
    assert len(ROWS) == len(table("torque_found")) == 12
    assert set(PROOF_MPA) == set(PROOF)
    check(values())


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
