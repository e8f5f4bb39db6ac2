"""How many equilibria of a carriage are solved in a second, and what one costs in passes over its balls.

A carriage of four blocks at 50 stations of a real estimate, 1000 draws each, solved as `assess` does. Side by side in
the same run: a pass over the same balls written plainly, framevis' own pass, and the slow reference. A pass takes the
approach, load and stiffness of every ball and sums them to a wrench and a tangent a block, on as many threads.
(Not part of the test run.)

python -m pytest tests/benchmarks/test_equilibrium_speed.py -s
"""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter, process_time

import numpy as np
import pytest

from framevis import carriage_newton
from framevis.ball_pass import BlockPass
from framevis.carriage import Mechanism
from framevis.carriage_newton import Batch
from framevis.contact import BallLines
from framevis.equilibrium import CHUNK, Equilibrium, Near, solve
from framevis.frame import Floats
from framevis.reading.frame_file import read_frame
from framevis.ride import ride_rows
from framevis.small_matrices import UPPER
from machines import Tree, changed, measure, portal, rough, study_of, write
from mechanics.slow_reference import SlowCarriage

STATIONS, DRAWS, SLOW_STATES, ROUNDS = 50, 1000, 50, 5
CORES = os.cpu_count() or 1
AIM_PER_S, AIM_PASSES, AIM_MM = 200_000, 5.0, 1e-9
SOFT = {"lateral_n_per_um": 25.0, "height_n_per_um": 60.0, "roll_nm_per_mrad": 13.0, "pitch_nm_per_mrad": 20.0,
        "yaw_nm_per_mrad": 20.0}  # fmt: skip
CASES = [(balls, soft) for balls in (7, 10) for soft in (False, True)]
COLUMNS = ("contacts a block", "seats", "states/s", "the same on idle cores", "cold start, states/s",
           "Newton passes a state", "plain passes' worth", "own passes' worth", "slow reference, times as long",
           "farthest from 3 more steps, mm", "farthest of 50 from it, mm")  # fmt: skip


@dataclass(frozen=True, eq=False)
class Rides:
    """A carriage, what its blocks meet for the mean (blocks, 5, S) and for the draws (blocks, 5, S · D)."""

    mechanism: Mechanism
    mean: Floats
    draws: Floats


@dataclass(frozen=True)
class Took:
    """Seconds of the clock and of all cores."""

    wall_s: float
    cpu_s: float


def ridden(folder: Path, balls: int, soft: bool) -> Rides:
    """The portal's carriage on its channel, ridden over an estimate from readings of a rough frame."""
    tree: Tree = changed(portal())
    tree["guide"]["g"] = {**tree["guide"]["g"], "balls_per_row": balls}
    if soft:
        tree["carriage"]["small"]["seat_stiffness"] = SOFT
    frame = read_frame(write(folder / "drawn", tree, {}))
    true = rough(frame, 3, 0.7)
    study = study_of(write(folder / "machine", tree, measure(frame, true, 60.0)), DRAWS)
    carriage, mechanism = study.frame.carriage("small"), study.mechanisms["small"]
    positions = np.linspace(*carriage.travel_mm, STATIONS)
    rows = ride_rows(study.posterior.layout, study.deviations.known, carriage, positions)
    mean = rows.of(study.posterior.mean[:, None])[..., 0]
    return Rides(mechanism, mean, rows.of(study.drawn).reshape(*mean.shape[:2], -1))


def as_assess(rides: Rides) -> Equilibrium:
    """Mean first, then every draw from there."""
    near = Near(solve(rides.mechanism, rides.mean), rides.mean)
    return solve(rides.mechanism, rides.draws, near=near.repeated(DRAWS))


def took(work: Callable[[], object]) -> Took:
    wall, cpu = perf_counter(), process_time()
    work()
    return Took(perf_counter() - wall, process_time() - cpu)


def on_all_cores(one: Callable[[slice], object], states: int) -> None:
    with ThreadPoolExecutor(CORES) as pool:
        list(pool.map(one, [slice(at, at + CHUNK) for at in range(0, states, CHUNK)]))


def plain_pass(lines: BallLines, block: Floats) -> tuple[Floats, Floats]:
    """Wrench (5, N) and tangent, upper triangle (15, N), of one block displaced by `block` (5, N): Q = K δ₊^1.5."""
    basis, stiffness = lines.basis, lines.stiffness
    pressed = np.maximum(lines.guide.preload_interference_um + basis @ block, 0.0)
    outer = np.array([basis[:, i] * basis[:, j] for i, j in UPPER])
    return basis.T @ (stiffness * pressed**1.5), outer @ (1.5 * stiffness * pressed**0.5)


def own_pass(part: BlockPass, block: Floats) -> tuple[Floats, Floats]:
    """The same by framevis' sums over lines."""
    load, stiff = part.sums(block)
    return part.pressed(load), part.tangent_of_sums @ stiff.reshape(12, -1)


def plain_passes(rides: Rides, moved: Floats) -> Callable[[slice], object]:
    return lambda states: [plain_pass(*each) for each in zip(rides.mechanism.lines, moved[..., states], strict=True)]


def own_passes(rides: Rides, moved: Floats) -> Callable[[slice], object]:
    parts = [BlockPass(lines) for lines in rides.mechanism.lines]
    return lambda states: [own_pass(*each) for each in zip(parts, moved[..., states], strict=True)]


def newton_passes(rides: Rides, monkeypatch: pytest.MonkeyPatch) -> float:
    """Passes over a carriage's balls a state of the draws, by counting."""
    states: list[int] = []
    respond = Batch.respond

    def counted(self: Batch, plate: Floats, block: Floats, wanted: Floats) -> object:
        states.append(plate.shape[1])
        return respond(self, plate, block, wanted)

    near = Near(solve(rides.mechanism, rides.mean), rides.mean).repeated(DRAWS)
    with monkeypatch.context() as patch:
        patch.setattr(Batch, "respond", counted)
        solve(rides.mechanism, rides.draws, near=near)
    return sum(states) / rides.draws.shape[2]


def polished(rides: Rides, solved: Equilibrium, monkeypatch: pytest.MonkeyPatch) -> Equilibrium:
    """The same states, every one of them three Newton steps further, whatever is left."""
    with monkeypatch.context() as patch:
        patch.setattr(carriage_newton, "TOLERANCE", -1.0)
        patch.setattr(carriage_newton, "MOST_STEPS", 4)
        return solve(rides.mechanism, rides.draws, near=Near(solved, rides.draws))


def farthest_mm(rides: Rides, plate: Floats, block: Floats, other_plate: Floats, other_block: Floats) -> float:
    """Largest distance between two poses of plate (5, N) and blocks (blocks, 5, N), at the plate's and blocks' ends."""
    half_block = max(float(lines.places_mm[-1]) for lines in rides.mechanism.lines)
    reach = np.array([1.0, 1.0, *[rides.mechanism.span_mm] * 3])
    of_plate = np.abs(plate - other_plate).max(axis=1) * reach
    of_blocks = np.abs(block - other_block).max(axis=(0, 2)) * np.array([1.0, 1.0, *[half_block] * 3])
    return float(max(of_plate.max(), of_blocks.max())) / 1000.0


def slowly(rides: Rides, solved: Equilibrium) -> tuple[float, float]:
    """Seconds a state of the slow reference, and how far its answers are away, mm."""
    which = np.linspace(0, rides.draws.shape[2] - 1, SLOW_STATES).astype(int)
    slow = SlowCarriage(rides.mechanism.carriage, rides.mechanism.up, rides.mechanism.shims)
    slow.solve(rides.draws[..., 0].copy())
    start = process_time()
    answers = [slow.solve(rides.draws[..., k].copy()) for k in which]
    seconds = (process_time() - start) / SLOW_STATES
    plate, block = np.array([state[:5] for state, _ in answers]).T, np.array([moved for _, moved in answers])
    away = farthest_mm(rides, solved.plate[:, which], solved.displacement[..., which], plate, block.transpose(1, 2, 0))
    return seconds, away


def check_passes(rides: Rides, moved: Floats) -> None:
    """Both passes say the same, and press back as the carriage's weight asks."""
    some = slice(0, 500)
    plain, own = plain_passes(rides, moved)(some), own_passes(rides, moved)(some)
    for (wrench, tangent), (own_wrench, own_tangent) in zip(plain, own, strict=True):  # type: ignore[call-overload]
        np.testing.assert_allclose(own_wrench, wrench, rtol=1e-9, atol=1e-7)
        np.testing.assert_allclose(own_tangent, tangent, rtol=1e-9, atol=1e-7)
    pressed = sum(jt.T @ wrench for jt, (wrench, _) in zip(rides.mechanism.leverage, plain, strict=True))  # type: ignore[call-overload]
    np.testing.assert_allclose(pressed, np.broadcast_to(rides.mechanism.load[:, None], pressed.shape), atol=1e-5)


def row_of(folder: Path, balls: int, soft: bool, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    rides = ridden(folder, balls, soft)
    solved, count = as_assess(rides), rides.draws.shape[2]
    check_passes(rides, solved.displacement)
    runs: list[list[Took]] = []
    for _ in range(ROUNDS):
        runs.append(
            [
                took(lambda: as_assess(rides)),
                took(lambda: solve(rides.mechanism, rides.draws)),
                took(lambda: on_all_cores(plain_passes(rides, solved.displacement), count)),
                took(lambda: on_all_cores(own_passes(rides, solved.displacement), count)),
            ]
        )
    wall, cpu = (np.array([[getattr(each, of) for each in run] for run in runs]) for of in ("wall_s", "cpu_s"))
    slow_s, slow_mm = slowly(rides, solved)
    better = polished(rides, solved, monkeypatch)
    far_mm = farthest_mm(rides, solved.plate, solved.displacement, better.plate, better.displacement)
    assert far_mm < AIM_MM
    assert slow_mm < AIM_MM
    worth = np.median(cpu[:, :1] / cpu[:, 2:], axis=0)
    return [
        str(4 * balls), "soft" if soft else "rigid", f"{count / wall[:, 0].min():,.0f}",
        f"{CORES * count / cpu[:, 0].min():,.0f}", f"{CORES * count / cpu[:, 1].min():,.0f}",
        f"{newton_passes(rides, monkeypatch):.2f}", f"{worth[0]:.1f}", f"{worth[1]:.1f}",
        f"{slow_s * count / cpu[:, 0].min():,.0f}", f"{far_mm:.1e}", f"{slow_mm:.1e}",
    ]  # fmt: skip


def test_states_a_second_and_passes_a_state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rows = [row_of(tmp_path / f"{balls} {soft}", balls, soft, monkeypatch) for balls, soft in CASES]
    print(f"\n{STATIONS} stations × {DRAWS} draws, {ROUNDS} rounds; {CORES} cores, load {os.getloadavg()[0]:.1f}")
    for cells in (COLUMNS, ["---"] * len(COLUMNS), *rows):
        print("| " + " | ".join(cells) + " |")
    print(f"aims: {AIM_PER_S:,} states/s, about {AIM_PASSES:g} passes, {AIM_MM:g} mm")
