"""Friction, seal drag and seats fitted to pulls of simulated machines: the truth is found within the stated
uncertainty, what can't be told apart is left, and a frame takes the fitted values over."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from framevis.frame import Frame, SeatStiffness
from framevis.pulls.calibrate import Calibration, CantTell, Fitted, calibrate, calibrated
from framevis.pulls.pull_model import model_of
from framevis.pulls.say_calibration import calibration_lines
from framevis.report_json import assessment
from framevis.study import reassessed, work_through
from machines import rough
from pullkit import Truth, both_ways, drag, every, portal_frame, pulled, read, stage

CASES = 46
SEATED = 12


def random_truth(seed: int, seats: bool) -> Truth:
    random = np.random.default_rng([seed, 5])
    friction, seal, seat = random.uniform([0.003, 0.5, 0.5], [0.009, 2.0, 2.0])
    return Truth(friction, seal, seat if seats else 1.0)


def off(found: Calibration, truth: Truth) -> dict[str, float]:
    """By how many standard uncertainties each value is off; of a scale, its logarithm."""
    true = {"friction": truth.friction, "seal": truth.seal_n, "seat": truth.seat}
    return {
        each.kind: (each.value - true[each.kind]) / each.u
        if each.kind != "seat"
        else np.log(each.value / truth.seat) / (each.u / each.value)
        for each in found.fitted
    }


@pytest.fixture(scope="module")
def many() -> list[dict[str, float]]:
    """What is fitted on random machines with random truths: rigid seats first, then a carriage whose seats give."""
    results = []
    for seed in range(CASES):
        carriage = "wide" if seed >= CASES - SEATED else "small"
        truth = random_truth(seed, carriage == "wide")
        found = calibrate(pulled(carriage, truth, seed)[0])
        if isinstance(found, Calibration):
            results.append(off(found, truth))
    return results


def test_two_standard_uncertainties_cover_the_truth(many):
    assert len(many) >= 42  # a few pulls tell too little, and none of them is fitted
    values = np.concatenate([list(each.values()) for each in many])
    # 95.4 % expected; of some 100 values, not all independent, 88 % or more
    assert np.mean(np.abs(values) < 2.0) >= 0.88
    assert 0.7 < np.sqrt(np.mean(values**2)) < 1.4  # nor is the uncertainty far too large


def test_seats_are_fitted_where_they_give(many):
    assert sum("seat" in each for each in many) >= SEATED - 4
    assert not any("seat" in each for each in many[: CASES - SEATED - 1])


def test_the_truth_is_found_where_the_pull_is_fine():
    truth = Truth(0.007, 1.8)
    found = calibrate(pulled("small", truth, 8, bare=True)[0])
    assert isinstance(found, Calibration)
    by = {each.kind: each for each in found.fitted}
    assert by["friction"].value == pytest.approx(0.007, rel=0.08)
    assert by["seal"].value == pytest.approx(1.8, abs=0.25)
    assert (by["friction"].entered, by["seal"].entered) == (0.004, 1.0)
    assert found.readings == 17
    assert found.bare_blocks == 4
    assert found.rms_after < 0.25 * found.rms_before


def test_exact_readings_of_a_frame_known_exactly_give_the_exact_truth():
    """No noise and no doubt of the shape: the posterior is replaced by the truth. Seats, too, to 1e-5."""
    frame, truth = portal_frame(), Truth(0.0055, 1.4, 0.7)
    study, _ = pulled("wide", truth, 5)
    carriage = frame.carriage("wide")
    s = every(carriage, 50.0)
    force = drag(frame, truth.carriage(carriage), study.deviations, s)
    readings = replace(study.readings, pulls=(read(frame.pulls[1], s, force, force),))

    class Known:
        def draws(self, count: int, seed: int) -> np.ndarray:
            return np.repeat(study.posterior.mean[:, None], count, axis=1)

        layout = study.posterior.layout

    known = replace(study, readings=readings, posterior=Known())  # type: ignore[arg-type]
    found = calibrate(known)
    assert isinstance(found, Calibration)
    assert [each.kind for each in found.fitted] == ["friction", "seal", "seat"]
    values = np.array([each.value for each in found.fitted])
    assert values == pytest.approx(
        [0.0055, 1.4, 0.7], rel=4e-3
    )  # the polynomial over the seats' scale, the weak 1 of the scale
    assert found.rms_after < 0.03


def test_derivatives_against_differences():
    study, _ = pulled("wide", Truth(), 2, bare=True)
    model = model_of(study)
    assert model is not None
    theta = np.array([0.005, 1.3, 0.3])
    for at, step in enumerate((1e-6, 1e-4, 1e-4)):
        move = step * (np.arange(3) == at)
        difference = (model.predict(theta + move) - model.predict(theta - move)) / (2.0 * step)
        assert model.jacobian(theta)[:, at] == pytest.approx(difference, rel=1e-5, abs=1e-5)


def test_loads_between_the_nodes_of_the_seats_scale():
    """The polynomial over the seats' scale against equilibria worked out there."""
    study, _ = pulled("wide", Truth(), 6)
    model = model_of(study)
    assert model is not None
    for scale in (0.25, 0.8, 3.1):
        carriage = Truth(0.004, 1.0, scale).carriage(study.frame.carriage("wide"))
        exact = [
            drag(study.frame, carriage, replace(study.deviations, coefficients=each), model.pulled[0].station_mm)
            for each in model.drawn.T[:60]
        ]
        drawn = model._nodes(0)
        values = dict(zip(model.parameters, (0.004, 1.0, np.log(scale)), strict=True))
        mean, beyond = model._loads(0, values)
        loads = mean[..., None] + beyond
        assert len(drawn[0]) == 11
        predicted = 4.0 + 0.004 * loads.sum(axis=0)[:, :60]
        assert predicted == pytest.approx(np.array(exact).T, rel=5e-3)


def test_an_even_drag_tells_nothing_apart():
    frame = portal_frame()
    study, _ = pulled("small", Truth(), 0, size=0.0001)
    s = every(frame.carriage("small"), 50.0)[:12]
    even = replace(study, readings=replace(study.readings, pulls=(read(frame.pulls[0], s, 9.3 + 0.0 * s),)))
    found = calibrate(even)
    assert isinstance(found, CantTell)
    assert "seal drag and friction can't be told apart: the predicted drag varies by too little" in found.what


def test_too_few_and_none():
    frame = portal_frame()
    study, force = pulled("small", Truth(), 1)
    s = every(frame.carriage("small"), 50.0)
    few = replace(study, readings=replace(study.readings, pulls=(read(frame.pulls[0], s[:7], force[:7]),)))
    found = calibrate(few)
    assert isinstance(found, CantTell)
    assert found.what == "there are 7 running pull readings, and friction and seal drag need 8"
    none = calibrate(replace(study, readings=replace(study.readings, pulls=())))
    assert isinstance(none, CantTell)
    assert none.what == "there are no pull readings of a running force in this stage"


@pytest.mark.parametrize("seed", range(4))
def test_seats_that_the_pull_says_little_of(seed):
    """A mild frame: the seats' doubt is in friction's uncertainty, which still covers the truth."""
    truth = Truth(0.005, 1.2, 1.6)
    found = calibrate(pulled("wide", truth, seed, size=0.5)[0])
    if isinstance(found, CantTell):
        assert "seal drag, friction and the seats' give can't be told apart" in found.what
        return
    by = {each.kind: each for each in found.fitted}
    little = "the pull says little of the seats of carriage wide: mostly as entered, within a factor of two"
    assert found.kept == ((little,) if by["seat"].u / by["seat"].value > 0.7 * np.log(2.0) else ())
    assert max(abs(each) for each in off(found, truth).values()) < 3.0


def test_a_sweep_of_breakaway_alone_is_left_out_of_the_fit():
    study, _ = pulled("small", Truth(), 3)
    (pull,) = study.readings.pulls
    other = read(study.frame.pulls[1], np.array([300.0, 500.0]), np.array([9.0, 9.0]))
    other = replace(other, breakaway=np.ones(2, dtype=bool))
    found = calibrate(replace(study, readings=replace(study.readings, pulls=(other, pull))))
    alone = calibrate(study)
    assert isinstance(found, Calibration)
    assert isinstance(alone, Calibration)
    assert found.fitted == alone.fitted


def test_rigid_seats_are_named():
    found = calibrate(pulled("small", Truth(), 3)[0])
    assert isinstance(found, Calibration)
    assert found.kept == (
        "the seats of carriage small are entered as rigid: where they give, friction is really higher",
    )


def test_readings_that_scatter_widen_the_uncertainties():
    frame = portal_frame()
    study, force = pulled("small", Truth(), 8)
    s = every(frame.carriage("small"), 50.0)
    noise = np.random.default_rng(3).normal(0.0, 2.0, s.size)
    calm = calibrate(study)
    wild = calibrate(replace(study, readings=replace(study.readings, pulls=(read(frame.pulls[0], s, force + noise),))))
    assert isinstance(calm, Calibration)
    assert isinstance(wild, Calibration)
    assert calm.widening == 1.0
    assert wild.widening > 2.0
    assert wild.fitted[0].u > 2.0 * calm.fitted[0].u
    assert any("times as much as its u says" in line for line in calibration_lines(frame, wild))


def fitted(frame: Frame) -> Frame:
    values = (
        Fitted("friction", "g", 0.006, 0.0, 0.0),
        Fitted("seal", "g", 1.5, 0.0, 0.0),
        Fitted("seat", "wide", 0.5, 0.0, 1.0),
    )
    return calibrated(frame, Calibration(values, 0, 0, 0.0, 0.0, 1.0, ()))


def test_a_frame_takes_the_fitted_values_over_everywhere():
    frame = fitted(portal_frame())
    guides = [rail.guide for rail in frame.rails]
    guides += [block.rail.guide for carriage in frame.carriages for block in carriage.blocks]
    guides += [rail.guide for sweep in frame.sweeps for rail in sweep.rails]
    guides += [
        edge.rail.guide for sweep in frame.sweeps for edge in (*sweep.touches, sweep.feeler_at) if edge is not None
    ]
    assert len(guides) > 20
    assert {(guide.friction, guide.seal_drag_n) for guide in guides} == {(0.006, 1.5)}
    assert frame.carriage("wide").seat_stiffness == SeatStiffness(15.0, 30.0, 10.0, 10.0, 10.0)
    assert frame.carriage("small").seat_stiffness is None
    assert all(pull.carriage is frame.carriage(pull.carriage.name) for pull in frame.pulls)


def test_reassessed_is_as_worked_through_anew():
    frame = portal_frame()
    true = rough(frame, 4)
    s = every(frame.carriage("small"), 100.0)
    force = drag(frame, frame.carriage("small"), true, s)
    readings = stage(frame, true, (both_ways(frame.pulls[0], s, force, 4),), 4)
    study = work_through(frame, readings, draws=30)
    again = reassessed(study, fitted(frame))
    anew = work_through(fitted(frame), readings, draws=30)
    first, second = assessment(again), assessment(anew)
    assert first["carriages"] == second["carriages"]
    assert first["pull"] == second["pull"]
    assert first["carriages"] != assessment(study)["carriages"]
    assert first["calibration"] is None


def test_what_was_fitted_in_words():
    study, _ = pulled("small", Truth(0.006, 1.2), 2)
    assert study.carriages == ()
    found = calibrate(study)
    assert isinstance(found, Calibration)
    lines = calibration_lines(study.frame, found)
    assert lines[0].startswith("friction of guide g: 0.00")
    assert "(entered 0.0040)" in lines[0]
    assert lines[1].endswith("a block (entered 1.0 N)")
    assert lines[2].startswith("by 17 running forces: off by ")
