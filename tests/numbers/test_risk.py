"""From draws to verdicts: the table of limits, static safety, misfit with rigid seats; the words' left and right."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from framevis.carriage import HEIGHT, LATERAL, ROLL, Mechanism
from framevis.explain import reason
from framevis.frame import Limits
from framevis.observe import corrected
from framevis.reading.frame_file import read_frame
from framevis.ride import mean_ride, positions_of
from framevis.risk import assess, verdict_of
from framevis.say import suffers, suspects
from machines import measure, portal, rough, shape, study_of, write


@pytest.mark.parametrize(
    ("p_tight", "p_binding", "verdict"),
    [
        (1.0, 0.5, "binding"),
        (1.0, 0.49, "tight"),
        (0.5, 0.0, "tight"),
        (0.49, 0.49, "unsure"),
        (0.051, 0.0, "unsure"),
        (0.05, 0.0, "free"),  # the guard band of ISO 14253-1
        (0.0, 0.0, "free"),
    ],
)
def test_verdicts(p_tight: float, p_binding: float, verdict: str) -> None:
    assert verdict_of(p_tight, p_binding) == verdict


@pytest.fixture(scope="module")
def frame(tmp_path_factory: pytest.TempPathFactory):
    return read_frame(write(tmp_path_factory.mktemp("portal"), portal(), {}))


def assessed(frame, limits: Limits, roll_mrad: float, seats: bool = True):
    """The wide carriage with its blocks rolled against each other, in three equal draws."""
    carriage = frame.carriage("wide")
    carriage = carriage if seats else replace(carriage, seat_stiffness=None)
    mean = np.zeros((4, 5, 2))
    mean[:2, ROLL], mean[2:, ROLL] = roll_mrad, -roll_mrad
    mechanism = Mechanism(carriage, frame.up)
    return assess(mechanism, limits, np.array([200.0, 300.0]), mean, np.repeat(mean[..., None], 3, axis=3))


def test_the_chances_count_the_draws_beyond_the_limits(frame) -> None:
    ratio = max(block.drag_ratio.max() for block in assessed(frame, Limits(), 1.0).blocks)
    assert ratio > 1.2
    beyond = assessed(frame, Limits(tight_drag_ratio=1.01, binding_drag_ratio=1.02), 1.0)
    within = assessed(frame, Limits(tight_drag_ratio=ratio + 1.0, binding_drag_ratio=ratio + 2.0), 1.0)
    assert [(b.p_tight, b.p_binding) for b in beyond.blocks] == [(1.0, 1.0)] * 4
    assert [(b.p_tight, b.p_binding) for b in within.blocks] == [(0.0, 0.0)] * 4


def test_too_little_static_safety_counts_as_binding(frame) -> None:
    safety = min(block.static_safety.min() for block in assessed(frame, Limits(), 0.5).blocks)
    far = {"tight_drag_ratio": 50.0, "binding_drag_ratio": 60.0}
    unsafe = assessed(frame, Limits(static_safety=2.0 * safety, **far), 0.5)
    safe = assessed(frame, Limits(static_safety=0.5 * safety, **far), 0.5)
    assert "binding" in {block.verdict for block in unsafe.blocks}
    assert all(b.p_tight == b.p_binding for b in unsafe.blocks)
    assert {block.verdict for block in safe.blocks} == {"free"}


def test_misfit_is_that_with_rigid_seats_and_drag_is_not(frame) -> None:
    soft, rigid = assessed(frame, Limits(), 1.0), assessed(frame, Limits(), 1.0, seats=False)
    for a, b in zip(soft.blocks, rigid.blocks, strict=True):
        np.testing.assert_allclose(a.misfit, b.misfit, rtol=1e-9, atol=1e-9)
        assert a.drag_ratio.max() < b.drag_ratio.max()


def test_a_references_calibrated_error_is_taken_off(frame) -> None:
    """The straightedge stands out to the left by 5 µm at 500 mm: the indicator, carried by the rail, reads 5 less."""
    from framevis.frame import ErrorCurve, SweepReadings

    sweep = next(sweep for sweep in frame.sweeps if sweep.name == "a_lateral")
    curve = ErrorCurve(np.array([0.0, 500.0, 1000.0]), np.array([0.0, 5.0, 0.0]))
    s = np.array([0.0, 250.0, 500.0])
    read = SweepReadings(replace(sweep, error=curve), s, np.array([0.0, 10.0 - 2.5, 10.0 - 5.0]), s, s, (2, 3, 4))
    np.testing.assert_allclose(corrected(read), [0.0, 10.0, 10.0])
    turned = replace(read, sweep=replace(read.sweep, reversed=True), values=np.array([0.0, 12.5, 15.0]))
    np.testing.assert_allclose(corrected(turned), [0.0, 10.0, 10.0])


@pytest.mark.parametrize("turned", [False, True])
def test_left_right_and_spacing_are_named_rightly(tmp_path: Path, turned: bool) -> None:
    """Rail c, to the right of a, bows 40 µm to the right beyond 500 mm: the spacing grows, whatever way c's beam runs.

    The carriage then lies to the right on rail a: its block is pushed to the right there, to the left on c.
    """
    tree = portal()
    del tree["carriage"]["small"]
    tree["shim"] = []
    if turned:
        beam = tree["beam"]["right"]
        beam["start"], beam["end"] = beam["end"], beam["start"]
        tree["rail"]["c"]["seat"] *= -1.0
    frame = read_frame(write(tmp_path / "drawn", tree, {}))

    def away(x):
        """To the right seen along a: −t of a's beam, +t of c's own beam where that runs the other way."""
        return 40.0 * np.clip(1.0 - 2.0 * x, 0.0, 1.0) if turned else -40.0 * np.clip(2.0 * x - 1.0, 0.0, 1.0)

    true = shape(frame, {("own_lateral", "c"): away})
    study = study_of(write(tmp_path / "read", tree, measure(frame, true, 50.0, noise=0.1)))
    carriage = study.carriages[0]
    said = {block.name: reason(study, carriage, block) for block in carriage.blocks}
    for name, why in said.items():
        assert why.component == "lateral"
        text = suffers(study, why)
        side = "right" if name.startswith("a") or turned else "left"  # on c, seen along c's own beam
        assert f"to the {side} on its rail" in text
        assert 15.0 < abs(why.relative) < 42.0
        assert (why.relative > 0.0) == (name.startswith("a") or turned)


def test_block_shims_are_part_of_what_lies_between_a_pair(tmp_path: Path) -> None:
    tree = portal()
    del tree["carriage"]["wide"]
    tree["shim"] = [{"stage": "now", "spot": f"small/{name}/left", "thickness_um": 40.0} for name in ("a+", "a-")]
    frame = read_frame(write(tmp_path / "drawn", tree, {}))
    flat = shape(frame, {})
    study = study_of(write(tmp_path / "read", tree, measure(frame, flat, 50.0, noise=0.05)))
    carriage = study.carriages[0]
    why = reason(study, carriage, carriage.blocks[0])
    assert why.component == "roll"
    assert abs(why.relative) == pytest.approx(40.0 / 32.0, abs=0.1)
    assert why.across_um == pytest.approx(40.0, abs=3.0)


def test_a_stated_uncertainty_that_is_too_small_is_said(tmp_path: Path, frame) -> None:
    readings = measure(frame, rough(frame, 5), 40.0, noise=4.0)
    said = "\n".join(suspects(study_of(write(tmp_path / "noisy", portal(), readings))))
    assert "scatters about" in said
    assert "state a larger u" in said
    assert len(said.splitlines()) < 30


def test_height_and_lateral_are_where_the_ride_says(frame) -> None:
    flat = shape(frame, {("bow_height", "left"): lambda x: 10.0 * x, ("bow_lateral", "left"): lambda x: -20.0 * x})
    small = replace(frame.carriage("small"), bolted_at_mm=None)
    ride = mean_ride(small, flat, positions_of(small))
    station = positions_of(small) + 45.0
    np.testing.assert_allclose(ride[0, HEIGHT], 10.0 * station / 1000.0, atol=1e-6)
    np.testing.assert_allclose(ride[0, LATERAL], -20.0 * station / 1000.0, atol=1e-6)


@pytest.mark.parametrize("name", ["small", "wide"])  # rigid seats, and seats that give
def test_starting_near_a_solved_state_ends_in_the_same_equilibrium(frame, name: str) -> None:
    from framevis.equilibrium import Near, solve

    random = np.random.default_rng(3)
    mechanism = Mechanism(frame.carriage(name), frame.up, frame.shims_at("now"))
    mean = random.normal(size=(4, 5, 6)) * np.array([5.0, 5.0, 0.5, 0.05, 0.05])[:, None]
    draws = np.repeat(mean, 3, axis=2) + random.normal(size=(4, 5, 18)) * np.array([2.0, 2.0, 0.2, 0.02, 0.02])[:, None]
    near = solve(mechanism, draws, near=Near(solve(mechanism, mean), mean).repeated(3))
    plain = solve(mechanism, draws)
    assert near.residual.max() < 1e-6
    np.testing.assert_allclose(near.load_sum_n, plain.load_sum_n, rtol=1e-9)
    np.testing.assert_allclose(near.displacement, plain.displacement, atol=1e-8)
