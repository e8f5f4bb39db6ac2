"""framevis's batched equilibrium against the slow, ball-by-ball one, on random states of many machines."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest
from sample_machines import GUIDES, LAYOUTS, UP, carriage
from slow_reference import SlowCarriage, hertz_of_groove

from framevis.carriage import Mechanism
from framevis.contact import ball_stiffness, pressure_of, static_load
from framevis.equilibrium import Equilibrium, solve
from framevis.frame import BlockSpot, Carriage, Floats, SeatStiffness, Shim
from framevis.risk import effects

STATES = 3
SCALE = np.array([8.0, 8.0, 0.3, 0.3, 0.3])  # µm, µm, mrad: what a decent frame has, and beyond
WEIGHT = {"mass_kg": 9.0, "centre_mm": (5.0, -12.0, 60.0)}
PAYLOAD = {"payload_kg": 4.0, "payload_centre_mm": (-20.0, 150.0, 180.0)}
SEAT = SeatStiffness(20.0, 60.0, 1.5, None, 3.0)
ALL_SOFT = SeatStiffness(4.0, 15.0, 0.2, 0.4, 0.3)


@dataclass(frozen=True)
class Case:
    layout: str
    arrangement: str
    preload_um: float = 1.5
    heavy: bool = False
    seat: SeatStiffness | None = None
    shims: bool = False
    scale: float = 1.0

    def __str__(self) -> str:
        parts = [self.layout, self.arrangement, f"{self.preload_um:g} um"]
        named = {"heavy": self.heavy, "soft": self.seat is ALL_SOFT, "seat": self.seat is SEAT, "shims": self.shims}
        return ", ".join(parts + [name for name, is_so in named.items() if is_so])


CASES = [
    *(Case(layout, arrangement) for layout in LAYOUTS for arrangement in GUIDES),
    *(Case("one beam", arrangement, 0.0, heavy=True) for arrangement in GUIDES),
    *(Case("antiparallel", arrangement, -2.0, heavy=True, scale=0.5) for arrangement in GUIDES),
    *(Case("one beam", arrangement, 2.5, heavy=True, seat=SEAT, shims=True) for arrangement in GUIDES),
    *(Case("antiparallel", arrangement, 1.5, seat=ALL_SOFT, scale=3.0) for arrangement in GUIDES),
    Case("faces", "gothic", 0.0, heavy=True, shims=True),
    Case("under", "X", 1.0, heavy=True, seat=SEAT),
    Case("faces", "O", 1.0, heavy=True, seat=SEAT),
    Case("one beam", "gothic", 1.5, scale=8.0),
    Case("faces", "X", -3.0, heavy=True),
]


def machine(case: Case) -> tuple[Carriage, tuple[Shim, ...]]:
    guide = replace(GUIDES[case.arrangement], preload_interference_um=case.preload_um)
    weight = WEIGHT | PAYLOAD if case.heavy else {}
    ridden = carriage(LAYOUTS[case.layout](guide), seat_stiffness=case.seat, **weight)
    if not case.shims:
        return ridden, ()
    parts = (("full", 10.0), ("left", 20.0), ("right", 25.0), ("left", 10.0))
    names = [block.name for block in ridden.blocks]
    spots = [(BlockSpot("c", name, part), um) for name, (part, um) in zip(names, parts, strict=False)]
    spots.append((BlockSpot("another carriage", names[0], "full"), 100.0))
    return ridden, tuple(Shim("now", spot, um) for spot, um in spots)


def random_moves(case: Case, ridden: Carriage) -> Floats:
    random = np.random.default_rng(sum(str(case).encode()))
    return random.normal(size=(STATES, len(ridden.blocks), 5)) * SCALE * case.scale


@pytest.fixture(params=CASES, ids=str, scope="module")
def solved(request) -> tuple[Mechanism, Floats, Equilibrium]:
    case = request.param
    ridden, shims = machine(case)
    mechanism = Mechanism(ridden, UP, shims)
    moves = random_moves(case, ridden)
    return mechanism, moves, solve(mechanism, np.transpose(moves, (1, 2, 0)))


def close(found: Floats, expected: Floats) -> None:
    np.testing.assert_allclose(found, expected, rtol=1e-6)


@pytest.mark.parametrize(("ball_mm", "conformity"), [(3.175, 0.53), (3.175, 0.52), (1.5, 0.505), (7.144, 0.6)])
def test_hertz_constants(ball_mm, conformity):
    stiffness, pressure = hertz_of_groove(ball_mm, conformity)
    assert ball_stiffness(ball_mm, conformity) == pytest.approx(stiffness, rel=1e-9)
    assert static_load(ball_mm, conformity) == pytest.approx((4200.0 / pressure) ** 3, rel=1e-9)


def test_drag_pressure_and_displacement(solved):
    mechanism, moves, found = solved
    slow = SlowCarriage(mechanism.carriage, UP, mechanism.shims)
    ratios = effects(mechanism, found).ratio
    statics = [line.static_n for line in mechanism.lines]
    for k in range(STATES):
        _, displacement = slow.solve(moves[k])
        close(ratios[:, k], slow.drag_ratios(displacement))
        pressures = [float(pressure_of(found.peak_n[i, k], static)) for i, static in enumerate(statics)]
        close(pressures, slow.peak_pressures(displacement))


def test_misfit(solved):
    """With rigid seats, as the report gives it: relative to the largest of its component over the blocks."""
    mechanism, moves, _ = solved
    slow = SlowCarriage(mechanism.carriage, UP, mechanism.shims, rigid_seats=True)
    misfit = solve(mechanism, np.transpose(moves, (1, 2, 0)), rigid_seats=True).displacement
    for k in range(STATES):
        _, displacement = slow.solve(moves[k])
        largest = np.abs(displacement).max(axis=0)
        np.testing.assert_allclose(misfit[:, :, k] / largest, displacement / largest, atol=1e-6)


def test_residual_at_the_answer(solved):
    """Forces and moments worked out slowly at framevis's own answer: below 1e-6 N and N·mm."""
    mechanism, moves, found = solved
    slow = SlowCarriage(mechanism.carriage, UP, mechanism.shims)
    for k in range(STATES):
        left, apart = slow.left_over(found.plate[:, k], found.displacement[:, :, k], moves[k])
        assert left < 1e-6
        assert apart < 1e-9
    assert found.residual.max() < 1e-6


def test_the_cases_press_some_balls_and_free_others(solved):
    """The comparison is worth something: loads differ from those of the perfect frame, and not all balls touch."""
    mechanism, _, found = solved
    slow = SlowCarriage(mechanism.carriage, UP, mechanism.shims)
    shares = [
        np.mean(block.loads(five) > 0.0)
        for state in np.transpose(found.displacement, (2, 0, 1))
        for block, five in zip(slow.blocks, state, strict=True)
    ]
    assert min(shares) < 1.0
    assert max(shares) > 0.0
    assert np.abs(effects(mechanism, found).ratio - 1.0).max() > 0.05
