"""What the numbers take for granted: which way each errs where that can be computed, and that it is said everywhere."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from framevis.assumptions import (
    BOLTED,
    DRAWN_SPACING,
    FLAT_FLANGES,
    ON_SHIMS,
    ORDINARY,
    RIGID_SEATS,
    SIDES,
    WHERE,
    Assumption,
    assumptions,
    by_side,
)
from framevis.carriage import Mechanism
from framevis.equilibrium import Equilibrium, on_perfect_frame, solve
from framevis.frame import Guide, SeatStiffness
from framevis.page.torque_sheet import sheet
from framevis.page.words import made
from framevis.report import print_assessment
from framevis.report_json import assessment
from framevis.risk import effects
from framevis.strip import KNOT_SPACING_MM, MOST_INTERVALS, Strip
from framevis.study import Study
from framevis.torque.report_torque import print_torque
from machines import Tree, measure, portal, read_frame, rough, study_of, write
from mechanics.sample_machines import GUIDES, LAYOUTS, UP, carriage

README = Path(__file__).parents[2] / "README.md"
STATES = 150
SIZES = np.array([15.0, 15.0, 0.4, 0.2, 0.2])  # µm, mrad: what a frame that binds asks of its blocks
SEATS = np.array([25.0, 60.0, 13.0, 20.0, 20.0])  # N/µm, N·m/mrad: of a plate some 15 mm thick

Make = Callable[..., Mechanism]


@pytest.fixture(params=[(layout, kind) for layout in LAYOUTS for kind in GUIDES], ids="-".join)
def case(request: pytest.FixtureRequest) -> tuple[Make, np.ndarray]:
    """A carriage made for a guide with some values changed, and random deviations (blocks, 5, N) of its rails."""
    layout, kind = request.param

    def make(more: dict[str, float] | None = None, **of_carriage: object) -> Mechanism:
        guide: Guide = replace(GUIDES[kind], **(more or {}))  # type: ignore[arg-type]
        return Mechanism(carriage(LAYOUTS[layout](guide), **of_carriage), UP)

    random = np.random.default_rng(3)
    return make, random.normal(size=(len(make().lines), 5, STATES)) * SIZES[:, None]


def ratio(mechanism: Mechanism, wanted: np.ndarray) -> np.ndarray:
    """Drag of each block, times that on a perfect frame (blocks, N)."""
    return effects(mechanism, solve(mechanism, wanted)).ratio


def test_what_gives_brings_drag_and_pressure_down(case) -> None:
    """Rigid plate and seats err on the safe side: the softer, the less drag and the lower the carriage's highest ball
    load. A single block may get more, where the plate would rather sit askew: seldom, and only with hard seats."""
    make, wanted = case
    rigid = before = solve(make(), wanted)
    more = []
    for share in (10.0, 1.0, 0.2):
        after = solve(make(seat_stiffness=SeatStiffness(*(share * SEATS))), wanted)
        assert np.all(after.load_sum_n.sum(axis=0) < before.load_sum_n.sum(axis=0))
        assert np.all(after.peak_n.max(axis=0) < before.peak_n.max(axis=0))
        more.append(np.mean(after.load_sum_n > rigid.load_sum_n))
        before = after
    assert max(more) < 0.02
    assert np.median(before.load_sum_n.sum(axis=0) / rigid.load_sum_n.sum(axis=0)) < 0.3


def test_waves_that_are_not_seen_bring_drag_up(case) -> None:
    """Every rail with a wave of 3 µm from screw to screw beside what was seen of it: over one wave the carriage's mean
    drag and every block's worst are higher, never lower."""
    make, wanted = case
    mechanism, per_mm, phases = make(), 2.0 * np.pi / 40.0, 2.0 * np.pi * np.arange(8) / 8.0
    begin = np.random.default_rng(5).uniform(0.0, 2.0 * np.pi, (2, len(wanted), STATES, 1))
    lateral, height = begin + phases
    wave = np.zeros((*wanted.shape, phases.size))
    wave[:, 0], wave[:, 4] = 3.0 * np.sin(lateral), 3.0 * per_mm * np.cos(lateral)
    wave[:, 1], wave[:, 3] = 3.0 * np.sin(height), -3.0 * per_mm * np.cos(height)
    with_wave = ratio(mechanism, (wanted[..., None] + wave).reshape(len(wanted), 5, -1))
    with_wave, without = with_wave.reshape(len(wanted), STATES, -1), ratio(mechanism, wanted)
    assert np.all(with_wave.mean(axis=2).sum(axis=0) > without.sum(axis=0))
    assert np.all(with_wave.max(axis=2) > without)


def test_waves_as_short_as_said_are_not_seen() -> None:
    """Of a wave from screw to screw (40 mm) an eighth is left at best, of one of 150 mm all."""
    strip = Strip(1500.0)
    s = np.linspace(0.0, 1500.0, 3001)
    shapes = strip.shapes(s)
    kept = {}
    for length in (40.0, 80.0, 150.0):
        wave = np.sin(2.0 * np.pi * s / length)
        fitted = shapes @ np.linalg.lstsq(shapes, wave, rcond=None)[0]
        kept[length] = np.linalg.norm(fitted) / np.linalg.norm(wave)
    assert kept[40.0] < 0.15
    assert kept[80.0] < 0.4
    assert kept[150.0] > 0.99
    assert 2.0 * KNOT_SPACING_MM == 100.0  # the words of SMOOTH
    assert MOST_INTERVALS * KNOT_SPACING_MM == 4800.0
    assert Strip(9600.0).length_mm / Strip(9600.0).intervals * 2.0 == 9600.0 / 48.0


def test_too_much_preload_makes_a_misfit_look_harmless(case) -> None:
    make, wanted = case
    assert np.all(ratio(make({"preload_interference_um": 4.0}), wanted) < ratio(make(), wanted))


def test_drag_that_no_load_changes_brings_the_ratio_nearer_to_one(case) -> None:
    """Too much seal drag, or a film's: newtons rise, the ratio falls."""
    make, wanted = case
    little, much = make({"seal_drag_n": 1.0}), make({"seal_drag_n": 3.0})
    assert np.all(np.abs(ratio(much, wanted) - 1.0) < np.abs(ratio(little, wanted) - 1.0))
    newtons = [effects(each, solve(each, wanted)).drag_n for each in (little, much)]
    np.testing.assert_allclose(newtons[1] - newtons[0], 2.0, atol=1e-9)


def test_without_seal_drag_friction_cancels_out_of_the_ratio(case) -> None:
    make, wanted = case
    found = [ratio(make({"seal_drag_n": 0.0, "friction": friction}), wanted) for friction in (0.002, 0.02)]
    np.testing.assert_allclose(found[0], found[1], rtol=1e-12)


def ball_loads(mechanism: Mechanism, solved: Equilibrium, block: int) -> np.ndarray:
    """Q of each ball contact of a block (contacts, N), N."""
    lines = mechanism.lines[block]
    approach = lines.basis @ solved.displacement[block] + lines.guide.preload_interference_um
    return lines.stiffness * np.maximum(approach, 0.0) ** 1.5


@pytest.mark.parametrize("power", [4.0 / 3.0, 5.0 / 3.0])  # elastic hysteresis, slip in a curved contact; from memory
def test_losses_that_grow_faster_than_the_load_bring_the_ratio_up(case, power: float) -> None:
    make, wanted = case
    mechanism = make({"seal_drag_n": 0.0})
    solved, perfect = solve(mechanism, wanted), on_perfect_frame(mechanism)
    said = ratio(mechanism, wanted)
    for block in range(len(wanted)):
        here, there = (np.sum(ball_loads(mechanism, each, block) ** power, axis=0) for each in (solved, perfect))
        assert np.all(here / there > said[block])


def test_weight_left_out_makes_a_straight_frame_too_safe_and_a_bent_one_either(case) -> None:
    make, wanted = case
    light, heavy = make(), make(mass_kg=30.0, centre_mm=(5.0, -12.0, 60.0))
    safety = [effects(each, on_perfect_frame(each)).safety.min() for each in (light, heavy)]
    assert safety[1] < 0.8 * safety[0]
    bent = [effects(each, solve(each, wanted)).safety.min(axis=0) for each in (light, heavy)]
    assert 0.2 < np.mean(bent[1] > bent[0]) < 0.8


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Study:
    return assessed(tmp_path_factory.mktemp("portal"), portal(500.0))


def assessed(folder: Path, tree: Tree, without: tuple[str, ...] = ()) -> Study:
    for rail in tree["rail"].values():
        rail["screws"] = 12
    tree["shim"] = [shim | {"spot": shim["spot"].replace("b@20", "b@10")} for shim in tree.get("shim", [])]
    frame = read_frame(write(folder / "drawn", tree, {}))
    readings = measure(frame, rough(frame, 2, 0.2), 100.0)
    return study_of(write(folder / "read", tree, {name: readings[name] for name in readings if name not in without}))


def stiff_seats(tree: Tree) -> None:
    tree["carriage"]["small"]["seat_stiffness"] = tree["carriage"]["wide"]["seat_stiffness"]


def bolted_nowhere(tree: Tree) -> None:
    for ridden in tree["carriage"].values():
        ridden.pop("bolted_at")


def boxes_only(tree: Tree) -> None:
    tree["beam"]["left"]["section"] = "box"
    tree["sweep"].pop("mouth")


def no_shims(tree: Tree) -> None:
    tree["shim"] = []


def one_seat_direction_rigid(tree: Tree) -> None:
    stiff_seats(tree)
    tree["carriage"]["small"]["seat_stiffness"] = {"roll_nm_per_mrad": 20.0}


@pytest.mark.parametrize(
    ("change", "gone", "come"),
    [
        (stiff_seats, {RIGID_SEATS}, set()),
        (one_seat_direction_rigid, set(), set()),
        (bolted_nowhere, {BOLTED}, {DRAWN_SPACING, ORDINARY}),  # what the rails' spacing is was not read either
        (boxes_only, {FLAT_FLANGES}, set()),
        (no_shims, {ON_SHIMS}, set()),
    ],
)
def test_only_what_applies_is_said(study: Study, tmp_path: Path, change, gone, come) -> None:
    everything = set(WHERE)
    assert set(assumptions(study)) == everything - {DRAWN_SPACING, ORDINARY}
    tree = portal(500.0)
    change(tree)
    assert set(assumptions(assessed(tmp_path, tree))) == (everything - {DRAWN_SPACING, ORDINARY} - gone) | come


def test_what_was_not_measured_brings_the_ordinary_tolerances_in(tmp_path: Path) -> None:
    found = assumptions(assessed(tmp_path, portal(500.0), without=("a_roll", "b_roll", "c_roll")))
    assert ORDINARY in found


def printed(show: Callable[[Console], None]) -> str:
    console = Console(file=io.StringIO(), width=120)
    show(console)
    return console.file.getvalue()  # type: ignore[attr-defined]


def test_every_outlet_says_what_applies(study: Study) -> None:
    found = assumptions(study)
    text = " ".join(printed(lambda console: print_assessment(study, console)).split())
    page = made([study]).replace("&#x27;", "'").replace("&quot;", '"')
    for each in found:
        assert each.assumed in text
        assert f"Assumed, {SIDES[each.errs]}: {each.assumed}. {each.why}" in page
    assert ORDINARY.assumed not in text
    assert ORDINARY.why not in page
    assert assessment(study)["assumptions"] == [
        {"assumed": each.assumed, "errs": each.errs, "why": each.why, "checked": each.is_checked} for each in found
    ]


def test_the_torque_sheet_says_what_free_rests_on(study: Study) -> None:
    unsafe = [each.assumed for each in assumptions(study) if each.errs == "unsafe side"]
    text = " ".join(printed(lambda console: print_torque(study, [], console)).split())
    for words in (text, sheet(study, [])):
        assert f"Free is said for {'; '.join(unsafe)}: elsewhere blocks suffer more." in words


def test_the_report_spends_at_most_five_lines_on_it() -> None:
    text = printed(lambda console: console.print("\n".join(by_side(WHERE))))
    assert len(text.splitlines()) <= 5
    assert all(f"Assumed, {words}: " in text for words in SIDES.values())


@pytest.mark.parametrize("each", WHERE, ids=lambda each: each.assumed)
def test_the_manual_lists_it_in_the_same_words(each: Assumption) -> None:
    rests = "checked" if each.is_checked else "judgement"
    assert f"| {each.assumed} | {each.errs} | {each.why} | {rests} |\n" in README.read_text(encoding="utf-8")


def test_the_manual_lists_nothing_else() -> None:
    text = README.read_text(encoding="utf-8").partition("## What it assumes")[2].partition("**Caution.**")[0]
    assert sum(line.startswith("| ") for line in text.splitlines()) == len(WHERE) + 2
