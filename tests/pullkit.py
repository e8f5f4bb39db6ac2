"""Pulls simulated on machines of `machines`: a true shape, true friction, seals, seats, and a scale that scatters."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from framevis.carriage import Mechanism
from framevis.deviations import Deviations, Layout
from framevis.equilibrium import solve
from framevis.estimate import estimate
from framevis.frame import Carriage, Floats, Frame, Guide, PullReadings, PullSweep, Rail, Stage, SweepReadings
from framevis.pulls.pull_model import scaled_seat
from framevis.rail_shims import known_at
from framevis.reading.frame_file import read_frame
from framevis.ride import mean_ride
from framevis.study import Study
from machines import measure, portal, rough, toml_of

PRELOAD_N = (
    262.084  # ΣQ of one block of that portal by its preload alone; held in `test_pull` against the slow reference
)


@lru_cache(maxsize=1)
def portal_frame() -> Frame:
    """The portal of `machines`, with one pull sweep for each of its carriages."""
    tree = portal()
    tree["sweep"] |= {f"pull_{name}": {"kind": "pull", "carriage": name, "u_n": 0.2} for name in ("small", "wide")}
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "frame.toml").write_text(toml_of(tree), encoding="utf-8")
        return read_frame(Path(folder))


@dataclass(frozen=True)
class Truth:
    friction: float = 0.004
    seal_n: float = 1.0
    seat: float = 1.0

    def carriage(self, carriage: Carriage) -> Carriage:
        """A carriage that has these values."""

        def guide(old: Guide) -> Guide:
            return replace(old, friction=self.friction, seal_drag_n=self.seal_n)

        def rail(old: Rail) -> Rail:
            return replace(old, guide=guide(old.guide))

        blocks = tuple(replace(block, rail=rail(block.rail)) for block in carriage.blocks)
        return replace(carriage, blocks=blocks, seat_stiffness=scaled_seat(carriage.seat_stiffness, self.seat))


def every(carriage: Carriage, step_mm: float) -> Floats:
    low, high = carriage.travel_mm
    return np.arange(low, high + 1e-9, step_mm)


def drag(frame: Frame, carriage: Carriage, shape: Deviations, stations_mm: Floats) -> Floats:
    """What a carriage truly takes (M,) N: seals and friction of all blocks."""
    mechanism = Mechanism(carriage, frame.up, frame.shims_at("now"))
    solved = solve(mechanism, mean_ride(carriage, shape, stations_mm))
    guide = carriage.blocks[0].rail.guide
    return np.asarray(len(carriage.blocks) * guide.seal_drag_n + guide.friction * solved.load_sum_n.sum(axis=0))


def read(pull: PullSweep, stations_mm: Floats, force_n: Floats, back_n: Floats | None = None) -> PullReadings:
    """Running forces one way, or both."""
    parts = [force_n] if back_n is None else [force_n, back_n]
    back = np.repeat(np.arange(len(parts)) == 1, stations_mm.size)
    count = back.size
    return PullReadings(
        pull, np.tile(stations_mm, len(parts)), np.concatenate(parts), back, np.zeros(count, dtype=bool),
        tuple(range(2, count + 2)),
    )  # fmt: skip


def both_ways(pull: PullSweep, stations_mm: Floats, force_n: Floats, seed: int) -> PullReadings:
    random = np.random.default_rng(seed)
    return read(pull, stations_mm, *(force_n + random.normal(0.0, pull.u_n, force_n.size) for _ in range(2)))


def stage(frame: Frame, true: Deviations, pulls: tuple[PullReadings, ...], seed: int, noise: float = 1.0) -> Stage:
    taken, readings = [], measure(frame, true, 50.0, noise, seed)
    for sweep in frame.sweeps:
        s, values = readings[sweep.name]
        if s.size:
            order, lines = np.arange(s.size, dtype=float), tuple(range(2, s.size + 2))
            taken.append(SweepReadings(sweep, s, values, np.full(s.size, sweep.u), order, lines))
    return Stage("now", tuple(taken), (), pulls)


def studied(frame: Frame, readings: Stage, draws: int = 200) -> Study:
    """A study without the assessment of its carriages, which no pull asks for."""
    layout, known = Layout.of(frame), known_at(frame, "now")
    posterior = estimate(layout, known, readings)
    mechanisms = {each.name: Mechanism(each, frame.up, frame.shims_at("now")) for each in frame.carriages}
    return Study(frame, readings, posterior, Deviations(layout, posterior.mean, known), mechanisms, (), draws, 0)


def pulled(
    carriage: str, truth: Truth, seed: int, *, size: float = 1.0, step_mm: float = 50.0, bare: bool = False
) -> tuple[Study, Floats]:
    """A study of a random machine whose carriage was pulled both ways, and what it truly takes."""
    frame = portal_frame()
    true = rough(frame, seed, size)
    own = truth.carriage(frame.carriage(carriage))
    pull = next(each for each in frame.pulls if each.carriage.name == carriage)
    if bare:
        alone = truth.seal_n + truth.friction * PRELOAD_N
        pull = replace(pull, bare_block_n=tuple(alone + np.random.default_rng([seed, 1]).normal(0.0, pull.u_n, 4)))
    s = every(own, step_mm)
    force = drag(frame, own, true, s)
    return studied(frame, stage(frame, true, (both_ways(pull, s, force, seed),), seed)), force
