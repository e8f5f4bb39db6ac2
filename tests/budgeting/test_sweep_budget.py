"""Budgets of sweeps whose scatter, drift, steps, straightedge and temperature are known, because they were made."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from framevis.budgeting.components import resolution_u
from framevis.budgeting.digits import step_of
from framevis.budgeting.risk_shares import halved, shares
from framevis.budgeting.say_budget import sentences
from framevis.budgeting.sweep_budget import Budget, budgets
from framevis.curves import rail_curves
from framevis.frame import Floats
from framevis.rail_shims import known_at
from framevis.reading.frame_file import read_frame
from framevis.rows import reduce, rows_of
from framevis.solved import Solved, together
from framevis.study import Study
from machines import Readings, Tree, measure, portal, rough, study_of, write

S = np.arange(50.0, 951.0, 50.0)


def machine(
    folder: Path,
    change: Callable[[Tree, Readings], object] = lambda tree, readings: None,
    touch: Callable[[Path], object] = lambda now: None,
    size: float = 0.1,
) -> Study:
    tree = portal()
    tree["shim"] = []
    plain = read_frame(write(folder / "drawn", tree, {}))
    readings = measure(plain, rough(plain, 1, size), 100.0)
    change(tree, readings)
    placed = write(folder / "machine", tree, readings)
    touch(placed / "readings" / "now")
    return study_of(placed, 100)


def out_and_back(sd: float, drift: float = 0.0, name: str = "a_lateral") -> Callable[[Tree, Readings], None]:
    """A straight rail read out and back, with scatter and a drift over the whole run."""

    def change(tree: Tree, readings: Readings) -> None:
        stations = np.concatenate([S, S[::-1]])
        noise = sd * np.random.default_rng(3).standard_normal(stations.size)
        readings[name] = stations, noise + drift * np.linspace(0.0, 1.0, stations.size)

    return change


def of(study: Study, name: str) -> Budget:
    return next(budget for budget in budgets(study) if budget.readings.sweep.name == name)


def test_repeatability_and_drift_are_told_apart(tmp_path: Path) -> None:
    budget = of(machine(tmp_path, out_and_back(1.5, 20.0)), "a_lateral")
    assert budget.freedom == S.size - 1  # a station read twice gives one, the drift takes one
    scatter, drift = budget.component("repeatability"), budget.component("drift")
    assert scatter is not None
    assert scatter.u == pytest.approx(1.5, rel=0.35)  # 18 degrees of freedom: 1/√36 = 17 % (1 u)
    assert drift is not None
    assert drift.size == pytest.approx(20.0, abs=2.0)
    assert budget.advice == "fits"


def test_scatter_beyond_the_stated_u_says_state_more(tmp_path: Path) -> None:
    study = machine(tmp_path, out_and_back(5.0))
    budget = of(study, "a_lateral")
    assert budget.advice == "more"
    assert any("stated 1.5 µm, found" in line and "state more" in line for line in sentences(study.frame, budget))


def test_scatter_far_below_the_stated_u(tmp_path: Path) -> None:
    def change(tree: Tree, readings: Readings) -> None:
        tree["sweep"]["a_lateral"]["u_um"] = 6.0
        fine = np.arange(50.0, 951.0, 25.0)
        stations = np.concatenate([fine, fine[::-1]])
        readings["a_lateral"] = stations, np.random.default_rng(4).standard_normal(stations.size)

    assert of(machine(tmp_path, change), "a_lateral").advice == "less"


def test_no_repeats_is_said(tmp_path: Path) -> None:
    study = machine(tmp_path)
    budget = of(study, "a_lateral")
    assert budget.found is None
    assert sentences(study.frame, budget)[0].startswith("no repeats")


@pytest.mark.parametrize(
    ("column", "rows", "step"),
    [
        ("reading_um", ["1", "2", "-7", "11", "3", "5", "0", "8"], 1.0),
        ("reading_um", ["10", "-25", "5", "0", "15", "20", "-5", "30"], 5.0),
        ("reading_mm", ["0.01", "0.02", "-0.03", "0.00", "0.05", "0.01", "0.02", "0.04"], 10.0),
        ("reading_mm", ["0.002", "0.004", "-0.006", "0.010", "0.000", "0.002", "0.004", "0.008"], 2.0),
        ("reading_thou", ["0.5", "1.0", "-1.5", "0.0", "2.0", "0.5", "1.0", "3.5"], 0.5 * 25.4),
        ("reading_um", ["10", "20", "30"], 1.0),  # too few to be more than chance
    ],
)
def test_steps_from_the_digits(tmp_path: Path, column: str, rows: list[str], step: float) -> None:
    def touch(now: Path) -> None:
        text = "\n".join(f"{50 + 100 * i},{text}" for i, text in enumerate(rows))
        (now / "a_height.csv").write_text(f"station_mm,{column}\n{text}\n")

    study = machine(tmp_path, touch=touch)
    budget = of(study, "a_height")
    assert step_of(study.frame, budget.readings) == pytest.approx(step)
    part = budget.component("resolution")
    assert part is not None
    assert part.u == pytest.approx(resolution_u(step))


def test_the_straightedge_turned_over_shows_its_error(tmp_path: Path) -> None:
    bump = 6.0 * np.sin(np.pi * (S - S[0]) / np.ptp(S)) ** 2
    line = np.column_stack([np.ones(S.size), S])
    shown = bump - line @ np.linalg.lstsq(line, bump, rcond=None)[0]

    def change(tree: Tree, readings: Readings) -> None:
        both = {"kind": "indicator", "rail": "a", "direction": "lateral", "reference": "straightedge", "u_um": 1.0}
        tree["sweep"]["a_lateral"] = both
        tree["sweep"]["a_turned"] = {**both, "reversed": True}
        readings["a_lateral"], readings["a_turned"] = (S, 3.0 - bump), (S, 9.0 + 0.01 * S + bump)

    part = of(machine(tmp_path, change), "a_lateral").component("straightedge, by reversal")
    assert part is not None
    assert part.size == pytest.approx(float(np.abs(shown).max()))
    assert not part.counts


def test_a_straightedge_alone_is_not_known(tmp_path: Path) -> None:
    study = machine(tmp_path)
    assert any("turned over" in line for line in sentences(study.frame, of(study, "a_lateral")))
    assert of(study, "ab_lateral").component("straightedge") is None


def test_temperature_of_an_absolute_width(tmp_path: Path) -> None:
    def change(tree: Tree, readings: Readings) -> None:
        tree["sweep"]["ab_lateral"]["absolute"] = True

    def touch(now: Path) -> None:
        file = now / "ab_lateral.csv"
        head, *rows = file.read_text().splitlines()
        file.write_text("\n".join([f"{head},temperature_c", *(f"{row},30" for row in rows)]) + "\n")

    part = of(machine(tmp_path, change, touch), "ab_lateral").component("temperature")
    assert part is not None
    assert part.counts
    assert part.u == pytest.approx(80.0 * 10.0 * (23.6 - 11.7) * 1e-3, rel=1e-6)  # 80 mm apart, 10 K: 9.5 µm


@pytest.mark.parametrize("reference", ["wire", "straightedge"])
def test_sag_is_taken_out_of_the_height(tmp_path: Path, reference: str) -> None:
    """A straight rail, seen from a wire or straightedge that hangs, comes out straight."""
    x = S / 1000.0

    def hangs() -> Floats:
        if reference == "wire":  # 0.05 N/m, 10 N, over the whole metre: 625 µm in the middle
            return 0.05 * x * (1.0 - x) / (2.0 * 10.0) * 1e6
        # 10 N/m, 50 N·m², on its ends over the whole metre: y = w x (L³ − 2Lx² + x³) / 24EI
        return 10.0 * x * (1.0 - 2.0 * x**2 + x**3) / (24.0 * 50.0) * 1e6

    def change(tree: Tree, readings: Readings) -> None:
        data = (
            {"wire_n_per_m": 0.05, "wire_tension_n": 10.0}
            if reference == "wire"
            else {"straightedge_n_per_m": 10.0, "straightedge_ei_nm2": 50.0, "supports": [0.0, 1000.0]}
        )
        tree["sweep"] = {"a_height": {"kind": "indicator", "rail": "a", "direction": "height", "u_um": 1.0,
                                      "reference": reference, **data}}  # fmt: skip
        readings.clear()
        readings["a_height"] = S, hangs()  # the reference hangs, so the rail reads high

    study = machine(tmp_path, change)
    budget = of(study, "a_height")
    part = budget.component("sag")
    assert part is not None
    middle = {"wire": 0.05 / (8.0 * 10.0) * 1e6, "straightedge": 5.0 * 10.0 / (384.0 * 50.0) * 1e6}[reference]
    assert part.size == pytest.approx(middle, rel=1e-3)
    height = rail_curves(study, study.frame.rail("a")).height.mean
    assert float(np.ptp(height[2:-2])) < 0.01 * middle


def test_a_wire_without_data_is_said(tmp_path: Path) -> None:
    def change(tree: Tree, readings: Readings) -> None:
        tree["sweep"]["a_height"]["reference"] = "wire"

    study = machine(tmp_path, change)
    assert any("sag is not known" in line for line in sentences(study.frame, of(study, "a_height")))
    part = of(study, "a_lateral").component("sag")
    assert part is None


def test_half_of_u_is_that_of_an_estimate_with_half_of_u(tmp_path: Path) -> None:
    study = machine(tmp_path)
    layout, known = study.posterior.layout, known_at(study.frame, "now")
    rows = np.random.default_rng(0).standard_normal((5, layout.size))
    half = tuple(replace(r, u=r.u / 2.0) if r.sweep.name == "ab_lateral" else r for r in study.readings.sweeps)
    groups = rows_of(layout, known, half)
    solved = together(
        [
            Solved(reduce(part, aside), study.posterior.prior[part.columns])
            for part, aside in zip(groups, study.posterior.aside, strict=True)
        ]
    )
    expected = replace(study.posterior, groups=solved).sd(rows)
    assert halved(study.posterior, {"ab_lateral"}).sd(rows) == pytest.approx(expected, rel=1e-6)
    assert np.all(halved(study.posterior, {"ab_lateral"}).sd(rows) < study.posterior.sd(rows))


def test_the_sweep_that_dominates_is_named_first(tmp_path: Path) -> None:
    def change(tree: Tree, readings: Readings) -> None:
        tree["sweep"]["ab_lateral"]["u_um"] = 12.0
        for name in ("ab_tops",):
            readings.pop(name)

    found = shares(machine(tmp_path, change))
    small = [each for each in found if each.carriage.name == "small" and each.about.component == "lateral"]
    assert small
    for each in small:
        assert next(iter(each.by_sweep)) == "ab_lateral"
        assert list(each.by_sweep.values()) == sorted(each.by_sweep.values(), reverse=True)
        assert each.by_all >= max(each.by_sweep.values()) - 1e-9
