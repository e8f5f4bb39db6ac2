"""Energy is kept: a plate driven round a closed path gives back what it took, by whatever way it goes.

The path is any closed curve in the plate's five unknowns, wide enough for balls to leave their grooves and come back.
Independent: the integral is a plain sum over the path, the energy between two places is the ball-by-ball one of
`total_energy`. Reciprocity (Maxwell 1864, Betti 1872; from memory) is asked of the solved carriage, seats and all.
"""

from __future__ import annotations

import numpy as np
import pytest

from framevis.carriage import Mechanism
from framevis.carriage_newton import Batch
from framevis.equilibrium import solve
from framevis.frame import Floats, SeatStiffness
from independent.total_energy import approach, total_energy
from mechanics.sample_machines import GUIDES, LAYOUTS, UP, carriage
from mechanics.slow_reference import SlowCarriage

POINTS = 4096
SEAT = SeatStiffness(20.0, 60.0, 1.5, 2.0, 3.0)
WEIGHT = {"mass_kg": 9.0, "centre_mm": (5.0, -12.0, 60.0)}
CASES = [("one beam", "gothic"), ("antiparallel", "O"), ("faces", "X"), ("under", "gothic")]


def wrench(mechanism: Mechanism, plate: Floats, moves: Floats) -> Floats:
    """What must be done to a plate (5, N) to hold it, weight included (5, N): rigid seats."""
    batch = Batch(mechanism, True)
    wanted = np.repeat(moves[:, :, None], plate.shape[1], axis=2)
    block = np.einsum("bij,jn->bin", mechanism.leverage, plate) - wanted
    return batch.respond(plate, block, wanted).out


def loop(mechanism: Mechanism, seed: int, points: int) -> tuple[Floats, Floats]:
    """A closed path and its derivative (5, points) by an angle from 0 to 2π: three harmonics a direction, µm, mrad."""
    random = np.random.default_rng(seed)
    angle = np.linspace(0.0, 2.0 * np.pi, points, endpoint=False)
    lever = np.array([1.0, 1.0, mechanism.span_mm, mechanism.span_mm, mechanism.span_mm])[:, None]
    place, speed = np.zeros((2, 5, points))
    for k in (1, 2, 3):
        a, b = 4.0 * random.normal(size=(2, 5, 1)) / k / lever
        place += a * np.cos(k * angle) + b * np.sin(k * angle)
        speed += k * (b * np.cos(k * angle) - a * np.sin(k * angle))
    return place, speed


def machine(layout: str, arrangement: str, seed: int = 3, **more) -> tuple[Mechanism, Floats]:
    mechanism = Mechanism(carriage(LAYOUTS[layout](GUIDES[arrangement]), **WEIGHT, **more), UP)
    moves = np.random.default_rng(seed).normal(size=(len(mechanism.lines), 5)) * [3.0, 3.0, 0.1, 0.1, 0.1]
    return mechanism, moves


@pytest.mark.parametrize(("layout", "arrangement"), CASES)
def test_no_work_is_left_round_a_closed_path(layout, arrangement):
    """A sum over equal steps of a closed path; Q goes like δ^1.5 where a ball lets go, so its error is like N^-2.5."""
    mechanism, moves = machine(layout, arrangement)
    place, speed = loop(mechanism, 4, POINTS)
    power = np.einsum("in,in->n", wrench(mechanism, place, moves), speed)
    energy = total_energy(SlowCarriage(mechanism.carriage, UP), moves)
    touching = np.array([energy.pressed(x) > 0.0 for x in place.T[::32]])
    assert np.any(touching.any(axis=0) & ~touching.all(axis=0))  # some balls let go on the way and come back
    assert abs(power.sum()) < 1e-7 * np.abs(power).sum()


@pytest.mark.parametrize(("layout", "arrangement"), CASES)
def test_work_between_two_places_is_the_difference_of_their_energies(layout, arrangement):
    """From one place on the loop to another and on to a third, along 5000 chords with three Gauss points each."""
    mechanism, moves = machine(layout, arrangement)
    energy = total_energy(SlowCarriage(mechanism.carriage, UP), moves)
    node, weight = np.polynomial.legendre.leggauss(3)
    places, _ = loop(mechanism, 9, 6000)
    for first, last in ((0, 2000), (2000, 5000)):
        a, b = places[:, first:last], places[:, first + 1 : last + 1]
        work = 0.0
        for x, w in zip(node, weight, strict=True):
            force = wrench(mechanism, (a + b) / 2.0 + x * (b - a) / 2.0, moves)
            work += w / 2.0 * float(np.einsum("in,in->", force, b - a))
        gained = energy.value(places[:, last]) - energy.value(places[:, first])
        highest = max(energy.value(x) for x in places.T[::100])
        assert work == pytest.approx(gained, abs=1e-8 * highest)


def away_from_corners(layout: str, arrangement: str, **more) -> tuple[Mechanism, Floats]:
    """Deviations at whose equilibrium no ball is about to touch or to let go: there the stiffness has a corner."""
    for seed in range(100):
        mechanism, moves = machine(layout, arrangement, seed, **more)
        found = solve(mechanism, moves[:, :, None]).displacement[:, :, 0]
        blocks = SlowCarriage(mechanism.carriage, UP).blocks
        gaps = [b.guide.preload_interference_um + approach(b, five) for b, five in zip(blocks, found, strict=True)]
        if np.abs(np.concatenate(gaps)).min() > 0.02:
            return mechanism, moves
    raise AssertionError("no such deviations")


@pytest.mark.parametrize("soft", [False, True])
@pytest.mark.parametrize(("layout", "arrangement"), CASES)
def test_reciprocity_of_the_solved_carriage(layout, arrangement, soft):
    """A rail that moves under one block presses another as that one, moving, would press the first."""
    mechanism, moves = away_from_corners(layout, arrangement, seat_stiffness=SEAT if soft else None)
    slow = SlowCarriage(mechanism.carriage, UP)
    size = moves.size
    step = np.tile([1e-3, 1e-3, 5e-5, 5e-5, 5e-5], len(mechanism.lines))
    each = np.concatenate([np.diag(step), -np.diag(step)], axis=1).reshape(*moves.shape, 2 * size)
    found = solve(mechanism, moves[:, :, None] + each).displacement
    pressed = np.array(
        [
            np.concatenate(
                [-b.in_own_axes(*b.force_and_moment(five)) for b, five in zip(slow.blocks, state, strict=True)]
            )
            for state in np.transpose(found, (2, 0, 1))
        ]
    )
    stiffness = (pressed[:size] - pressed[size:]).T / (2.0 * step)
    scale = np.sqrt(np.outer(np.diag(stiffness), np.diag(stiffness)))
    away = ~np.kron(np.eye(len(mechanism.lines), dtype=bool), np.ones((5, 5), dtype=bool))
    assert np.abs(stiffness / scale)[away].max() > 0.1  # blocks do feel each other
    # what Newton's method may leave, 3e-7 N, over a step of 0.001 µm at some 100 N/µm
    np.testing.assert_allclose(stiffness / scale, stiffness.T / scale, atol=1e-6)
