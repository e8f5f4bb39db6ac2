"""Pull forces held against the prediction: numbers against the slow ball-by-ball reference, sentences on cases made
for them, each with the case in which it must not be said."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
from slow_reference import SlowCarriage

from framevis.carriage import Mechanism
from framevis.deviations import Deviations
from framevis.frame import Floats, PullReadings, SweepReadings
from framevis.pulls.pull import Held, bare_drag, by_station, hold, preload_sum
from framevis.pulls.pull_period import can_show, sine_at
from framevis.pulls.say_pull import says
from framevis.report_json import forces
from framevis.ride import mean_ride
from framevis.say import unmeasured
from framevis.study import Study
from machines import rough, shape
from pullkit import PRELOAD_N, Truth, both_ways, drag, every, portal_frame, pulled, read, stage, studied

U = 0.2
KGF = 9.80665
SEEDS = range(8)


@lru_cache(maxsize=16)
def machine(seed: int, size: float = 1.0) -> tuple[Study, Deviations]:
    """A portal that was measured well, without a pull yet; `size` 0: as drawn."""
    frame = portal_frame()
    true = rough(frame, seed, size) if size else shape(frame, {})
    return studied(frame, stage(frame, true, (), seed)), true


def real(seed: int, size: float, stations_mm: Floats) -> Floats:
    study, true = machine(seed, size)
    return drag(study.frame, study.frame.carriage("small"), true, stations_mm)


def given(seed: int, size: float, readings: PullReadings) -> tuple[Study, Held]:
    study, _ = machine(seed, size)
    study = replace(study, readings=replace(study.readings, pulls=(readings,)))
    (held,) = hold(study)
    return study, held


def said(force_n: Floats, stations_mm: Floats, seed: int, size: float = 1.0, **changes: object) -> str:
    """What is said of a carriage pulled both ways, one sentence a line."""
    pull = replace(portal_frame().pulls[0], **changes)  # type: ignore[arg-type]
    return "\n".join(says(*given(seed, size, both_ways(pull, stations_mm, force_n, seed))))


def along(step_mm: float = 50.0) -> Floats:
    return every(portal_frame().carriage("small"), step_mm)


def test_predicted_drag_is_that_of_the_slow_reference():
    study, _ = machine(3)
    s = along(280.0)
    held = given(3, 1.0, read(study.frame.pulls[0], s, np.ones(s.size)))[1]
    carriage = study.frame.carriage("small")
    slow = SlowCarriage(carriage, study.frame.up, study.frame.shims_at("now"))
    moves = mean_ride(carriage, study.deviations, s)
    for at in range(s.size):
        _, displacements = slow.solve(moves[..., at])
        assert held.predicted[at] == pytest.approx(slow.drags(displacements).sum(), rel=1e-7)


def test_a_bare_block_feels_its_preload_and_nothing_else():
    frame = portal_frame()
    mechanism = Mechanism(frame.carriage("wide"), frame.up)
    slow = SlowCarriage(frame.carriage("wide"), frame.up).blocks
    loads = [block.loads(np.zeros(5)).sum() for block in slow]
    assert preload_sum(mechanism) == pytest.approx(loads, rel=1e-9)
    assert loads == pytest.approx([PRELOAD_N] * 4, rel=1e-5)
    assert bare_drag(mechanism) == pytest.approx([1.0 + 0.004 * load for load in loads], rel=1e-9)


def test_running_force_is_the_mean_of_both_ways_and_of_repeats():
    frame = portal_frame()
    pull, mechanism = frame.pulls[0], Mechanism(frame.carriage("small"), frame.up)
    no = np.zeros(5, dtype=bool)
    readings = PullReadings(
        pull, np.array([200.0, 200.0, 200.0, 100.0, 300.0]), np.array([5.0, 5.4, 4.0, 3.0, 9.0]),
        np.array([False, False, True, False, False]), no | (np.arange(5) == 4), (2, 2, 2, 3, 4),
    )  # fmt: skip
    taken = by_station(readings, mechanism)
    assert taken.station_mm.tolist() == [100.0, 200.0, 300.0]
    assert forces(taken.running) == [3.0, 5.2, None]
    assert forces(taken.running_back) == [None, 4.0, None]
    assert forces(taken.breakaway) == [None, None, 9.0]
    assert forces(taken.found) == [3.0, 4.6, None]
    assert forces(taken.uneven) == [None, 0.6, None]
    # GUM 5.1.2: (x̄ + y)/2 with u(x̄) = u/√2, u(y) = u
    assert taken.u[:2] == pytest.approx([U, U * np.sqrt(0.5 + 1.0) / 2.0])


def test_weight_along_a_climbing_travel_is_taken_off_one_way_only():
    frame = portal_frame()
    climbing = Mechanism(frame.carriage("small"), np.array([0.0, 0.6, 0.8]))  # 6 kg: 35.3 N along the travel
    weight = 6.0 * 9.80665 * 0.6
    s = np.array([100.0, 200.0])
    out = by_station(read(frame.pulls[0], s, np.array([40.0, 41.0])), climbing)
    assert out.found == pytest.approx(np.array([40.0, 41.0]) - weight)
    both = by_station(read(frame.pulls[0], s, 5.0 + weight + 0 * s, 5.0 - weight + 0 * s), climbing)
    assert both.found == pytest.approx([5.0, 5.0])
    assert both.uneven == pytest.approx([0.0, 0.0], abs=1e-9)


@pytest.mark.parametrize("seed", SEEDS)
def test_where_the_frame_is_the_cause_the_pull_follows(seed):
    s = along(50.0)
    text = said(real(seed, 1.0, s), s, seed)
    first = text.splitlines()[0]
    assert first.startswith("the pull follows the prediction: r ")
    assert "not the frame" not in text
    held = given(seed, 1.0, both_ways(portal_frame().pulls[0], s, real(seed, 1.0, s), seed))[1]
    assert held.compared is not None
    assert held.compared.correlation == pytest.approx(float(first.split("r ")[1].split(",")[0]), abs=0.006)


def test_standardised_residuals_scatter_by_one():
    """Readings and prediction scatter as their uncertainties say, over many machines."""
    squares = []
    for seed in SEEDS:
        s = along(50.0)
        held = given(seed, 1.0, both_ways(portal_frame().pulls[0], s, real(seed, 1.0, s), seed))[1]
        squares.append(np.mean(held.standardised**2))
    assert 0.5 < np.mean(squares) < 1.6


@pytest.mark.parametrize("seed", SEEDS)
def test_higher_all_along_is_not_the_frame(seed):
    s = along(50.0)
    text = said(real(seed, 1.0, s) + 6.0, s, seed)
    assert "follows the prediction along the travel (r " in text
    assert "all along: seals, grease, preload, friction or a cable, not the frame" in text
    by = float(text.split("higher by ")[1].split(" N")[0])
    compared = given(seed, 1.0, both_ways(portal_frame().pulls[0], s, real(seed, 1.0, s), seed))[1].compared
    assert compared is not None
    assert by == pytest.approx(6.0, abs=3.0 * compared.u_level + 0.05)


@pytest.mark.parametrize("seed", SEEDS)
def test_even_and_high_where_the_frame_predicts_bends_is_not_the_frame(seed):
    s = along(50.0)
    force = np.full(s.size, real(seed, 1.0, s).max() + 2.0)
    text = said(force, s, seed)
    assert text.startswith("the pull is even along the travel (")
    assert float(text.split("(")[1].split(" ±")[0]) == pytest.approx(force[0], abs=0.25)
    assert "high everywhere alike: what holds the carriage is seals, grease" in text
    assert "not the frame" in text


def test_even_and_no_higher_tells_of_the_seats():
    s = along(50.0)
    text = said(np.full(s.size, real(1, 1.0, s).min()), s, 1)
    assert "the frame's bends don't reach the blocks as predicted: seats softer than entered" in text
    assert "not the frame" not in text


def test_more_of_the_same_shape_is_friction():
    s = along(50.0)
    force = real(2, 1.0, s)
    text = said(force.mean() + 1.6 * (force - force.mean()), s, 2)
    assert "rises and falls where the frame makes it" in text
    gain = float(text.split("but ")[1].split(" times")[0])
    assert gain == pytest.approx(1.6, abs=0.1)
    assert "not the frame" not in text


def test_another_shape_does_not_follow():
    s = along(50.0)
    text = said(real(1, 1.0, s)[::-1].copy() * 1.0 + np.where(s > 700, 9.0, 0.0), s, 1)
    assert "does not follow the prediction" in text
    assert "farthest off at" in text


def test_an_even_frame():
    s = along(50.0)[:12]  # up to the shim under rail b
    plain = real(0, 0.0, s)
    assert np.ptp(plain) < 0.05
    assert said(plain, s, 0, 0.0).startswith("the pull is even along the travel, as predicted: ")
    high = said(plain + 4.0, s, 0, 0.0)
    assert "even along the travel and higher than predicted by " in high
    assert "not the frame" in high
    low = said(plain - 4.0, s, 0, 0.0)
    assert "even along the travel and lower than predicted by " in low
    assert "not the frame" not in low
    burr = said(plain + np.where(np.abs(s - 380.0) < 60.0, 5.0, 0.0), s, 0, 0.0)
    assert "where the frame predicts an even" in burr
    assert "look there for a burr" in burr


@pytest.mark.parametrize("seed", range(4))
def test_a_period_of_the_screw_pitch_is_told(seed):
    s = along(10.0)
    text = said(real(seed, 1.0, s) + 0.5 * np.sin(2.0 * np.pi * s / 40.0 + seed), s, seed)
    assert "the pull comes and goes by ± 0.5 N each 40 mm, the screw pitch" in text
    assert "not the frame's shape" in text


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("period_mm", [None, 33.0, 90.0])
def test_no_screws_are_blamed_for_the_frame_or_for_another_period(seed, period_mm):
    s = along(10.0)
    wave = 0.0 if period_mm is None else 0.8 * np.sin(2.0 * np.pi * s / period_mm)
    text = said(real(seed, 1.0, s) + wave, s, seed)
    assert "screw pitch" not in text


def test_stations_too_far_apart_for_the_screws():
    s = along(50.0)
    text = said(real(1, 1.0, s), s, 1)
    asked = "stations 50 mm apart can't show a period of the screw pitch (40 mm): to see one, pull along some screws"
    assert asked in text


def test_sine_by_least_squares_against_the_plain_sum():
    """Over whole periods of even stations the amplitude is |2/n Σ d exp(iωs)|, the Fourier coefficient."""
    study, _ = machine(0, 0.0)
    s = np.arange(100.0, 900.0, 10.0)
    random = np.random.default_rng(4)
    force = 8.0 + 0.7 * np.cos(2.0 * np.pi * s / 40.0 + 0.4) + random.normal(0.0, 0.05, s.size)
    held = given(0, 0.0, read(study.frame.pulls[0], s, force))[1]
    compared = replace(held.compared, predicted=np.zeros(s.size), covariance=np.zeros((s.size, s.size)))
    assert can_show(compared, 40.0)
    sine = sine_at(compared, 40.0)
    fourier = abs(2.0 / s.size * np.sum(force * np.exp(2j * np.pi * s / 40.0)))
    assert sine.amplitude == pytest.approx(fourier, rel=0.01)
    assert sine.u == pytest.approx(U * np.sqrt(2.0 / s.size), rel=0.01)
    assert sine.strongest
    assert sine.p < 1e-9


def test_bare_blocks_against_seals_and_preload():
    s = along(50.0)
    alone = 1.0 + 0.004 * PRELOAD_N
    dragging = said(real(1, 1.0, s) + 3.0, s, 1, bare_block_n=(alone + 3.0, alone, alone, alone))
    assert (
        f"a+ alone on the bare rail takes {alone + 3:.1f} N where seals and preload should take {alone:.1f} N: the blo"
        in (dragging)
    )
    assert "the blocks alone on the bare rail account for 3.0 N" in dragging
    assert "alone" not in said(real(1, 1.0, s), s, 1, bare_block_n=(alone, None, alone, alone + 0.2))
    light = said(real(1, 1.0, s), s, 1, bare_block_n=(alone, None, alone - 1.2, alone - 1.3))
    assert "alone on the bare rail, b+, b- take 0.7 to 0.8 N where 2.0 N is expected" in light
    assert "not the frame" not in light


def test_one_way_more_than_the_other():
    s = along(50.0)
    force, pull = real(1, 1.0, s), portal_frame().pulls[0]
    text = "\n".join(says(*given(1, 1.0, read(pull, s, force + 3.0, force - 3.0))))
    assert "pulling toward higher stations takes 6.0 N more than back: a cable, a scale out of line, or a slope" in text
    assert f"slope of {1000.0 * 3.0 / (6.0 * 9.80665):.1f} mm/m" in text
    assert "takes" not in "\n".join(says(*given(1, 1.0, read(pull, s, force + 0.1, force - 0.1))))
    one_way = "\n".join(says(*given(1, 1.0, read(pull, s, force))))
    assert "pulled one way only: a slope or a cable can't be told from drag; pull both ways" in one_way


@pytest.mark.parametrize(
    ("factor", "says_"), [(1.3, None), (2.5, "it sticks before it moves"), (0.8, "are the columns swapped?")]
)
def test_breakaway_is_told_apart(factor, says_):
    s = along(50.0)
    force, pull = real(1, 1.0, s), portal_frame().pulls[0]
    both = read(pull, s, force, factor * force)
    readings = replace(both, back=np.zeros(2 * s.size, dtype=bool), breakaway=both.back)
    text = "\n".join(says(*given(1, 1.0, readings)))
    assert f"breakaway {factor * force.mean():.1f} N in the mean, running {force.mean():.1f} N" in text
    assert ("columns swapped" in text, "it sticks" in text) == (factor < 1.0, factor > 2.0)
    assert says_ is None or says_ in text


def test_breakaway_alone_is_not_held_against_the_prediction():
    s = along(50.0)
    readings = read(portal_frame().pulls[0], s, real(1, 1.0, s))
    study, held = given(1, 1.0, replace(readings, breakaway=np.ones(s.size, dtype=bool)))
    assert held.compared is None
    assert says(study, held)[0].startswith("too few running forces to hold against the prediction")


def test_a_slip_of_the_unit_is_asked_about():
    s = along(50.0)
    force = real(1, 1.0, s)
    assert "the size of a kgf in N: is the column's unit right?" in said(force / KGF, s, 1)
    assert "the size of a lbf in N: is the column's unit right?" in said(force * 4.448, s, 1)
    assert "unit right" not in said(force * 2.0, s, 1)


def test_a_coupled_carriage_is_to_be_pulled_alone():
    study, held = given(1, 1.0, read(portal_frame().pulls[0], along(), real(1, 1.0, along())))
    beams = (replace(study.frame.beams[0], carried_by=("small", "wide")), *study.frame.beams[1:])
    text = "\n".join(says(replace(study, frame=replace(study.frame, beams=beams)), held))
    assert "predicted for carriage small alone: uncouple left from wide to pull it" in text
    assert "uncouple" not in "\n".join(says(study, held))


def test_inches_are_answered_in_lbf():
    study, held = given(1, 1.0, read(portal_frame().pulls[0], along(), real(1, 1.0, along())))
    text = "\n".join(says(replace(study, frame=replace(study.frame, length_unit="in")), held))
    assert " lbf" in text
    assert " in apart" in text
    assert " mm" not in text.replace("mm/m", "")


def test_a_pull_does_not_disturb_the_estimate():
    study, true = machine(2)
    s = along()
    again = studied(study.frame, stage(study.frame, true, (read(study.frame.pulls[0], s, 50.0 + s),), 2))
    assert np.array_equal(again.posterior.mean, study.posterior.mean)
    assert all(isinstance(each.readings, SweepReadings) for each in again.posterior.checked)


def test_pulls_not_taken_are_named():
    study, _ = pulled("wide", Truth(), 0, step_mm=200.0)
    missing = [text for text in unmeasured(study) if "pull" in text]
    assert missing == ["sweep pull_small was not taken in this stage"]
