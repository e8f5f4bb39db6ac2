"""The estimate against known true shapes: coverage, exactness without noise, extremes of few and many readings."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from framevis import priors
from framevis.carriage import Mechanism
from framevis.curves import stations_of
from framevis.deviations import Deviations, Layout, rail_weights
from framevis.equilibrium import solve
from framevis.estimate import Posterior, estimate
from framevis.frame import Floats, Frame, Stage, SweepReadings
from framevis.observe import Part
from framevis.rail_shims import known_functions
from framevis.reading.frame_file import read_frame
from framevis.ride import mean_ride, positions_of
from framevis.risk import effects
from framevis.rows import part_design
from machines import Readings, measure, portal, rough, write


@pytest.fixture(scope="module")
def frame(tmp_path_factory: pytest.TempPathFactory) -> Frame:
    return read_frame(write(tmp_path_factory.mktemp("portal"), portal(), {}))


def stage(frame: Frame, readings: Readings, u_factor: float = 1.0) -> Stage:
    taken = []
    for sweep in frame.sweeps:
        if sweep.name in readings and readings[sweep.name][0].size:
            s, values = readings[sweep.name]
            order, lines = np.arange(s.size, dtype=float), tuple(range(2, s.size + 2))
            taken.append(SweepReadings(sweep, s, values, np.full(s.size, sweep.u * u_factor), order, lines))
    return Stage("now", tuple(taken))


def fit(frame: Frame, taken: Stage) -> tuple[Posterior, Deviations]:
    layout, known = Layout.of(frame), known_functions(frame.rails, frame.shims_at("now"))
    posterior = estimate(layout, known, taken)
    return posterior, Deviations(layout, posterior.mean, known)


def without_line(s: Floats, degree: int) -> Floats:
    """Operator that takes a constant (0) or a straight line (1) off: what no sweep can see."""
    basis = np.vander(s - s.mean(), degree + 1)
    return np.eye(s.size) - basis @ np.linalg.pinv(basis)


def covered(frame: Frame, true: Deviations, posterior: Posterior, mean: Deviations) -> list[float]:
    """Share of places at which two standard uncertainties cover the truth, for every rail's three curves."""
    shares = []
    for rail in frame.rails:
        s = stations_of(rail.beam)[::4]
        for component, degree in (("lateral", 1), ("height", 1), ("roll", 0)):
            weights, off = rail_weights(rail, component), without_line(s, degree)
            u = posterior.sd(off @ part_design(mean.layout, Part(weights, s)))
            error = off @ (mean.along(weights, s) - true.along(weights, s))
            shares.append(float(np.mean(np.abs(error) <= 2.0 * u)))
    return shares


def strip_like(frame: Frame, seed: int) -> Deviations:
    """A random elastic frame: free strips bent at random, each kind more or less than the tolerance class."""
    random, layout = np.random.default_rng(seed), Layout.of(frame)
    spread, kind = priors.spread(layout), priors.scale_group(layout)
    scale = 0.5 * np.exp(random.normal(0.0, 0.7, len(priors.SCALED)))
    coefficients = random.standard_normal(layout.size) * spread * np.where(kind >= 0, scale[kind], 0.3)
    return Deviations(layout, coefficients, known_functions(frame.rails, frame.shims_at("now")))


def test_two_standard_uncertainties_cover_the_truth(frame: Frame) -> None:
    """200 random frames, half bent like elastic strips (about 95.5 %), half sums of sine waves (smoother than
    strips, so covered a little more often). About 9 independent curves a frame of some 5 independent places each:
    the share's own standard error is about 0.3 points."""
    random, shares = np.random.default_rng(11), dict[str, list[float]](strips=[], waves=[])
    for seed in range(100):
        for family in shares:
            true = strip_like(frame, seed) if family == "strips" else rough(frame, seed, random.uniform(0.5, 2.0))
            readings = measure(frame, true, float(random.choice([60.0, 80.0, 100.0])), seed=seed)
            readings.pop("ab_tops")  # only gaps that are there get read: their noise isn't normal
            shares[family] += covered(frame, true, *fit(frame, stage(frame, readings)))
    assert 0.93 < np.mean(shares["strips"] + shares["waves"]) < 0.97
    assert 0.94 < np.mean(shares["strips"]) < 0.97
    assert 0.93 < np.mean(shares["waves"]) < 0.99


@pytest.mark.parametrize("seed", range(4))
def test_readings_without_noise_give_the_drag_of_the_true_shape(frame: Frame, seed: int) -> None:
    """Stations 50 mm apart, instruments said to be good to 0.03 µm: every block's drag ratio within 3 % all along."""
    true = rough(frame, 100 + seed)
    readings = measure(frame, true, 50.0, noise=0.0, seed=seed)
    _, mean = fit(frame, stage(frame, readings, u_factor=0.02))
    for carriage in frame.carriages:
        mechanism, positions = Mechanism(carriage, frame.up, frame.shims_at("now")), positions_of(carriage)
        ratio = [effects(mechanism, solve(mechanism, mean_ride(carriage, d, positions))).ratio for d in (true, mean)]
        assert ratio[0].max() > 1.3  # not a frame on which everything runs free anyway
        np.testing.assert_allclose(ratio[1], ratio[0], rtol=0.03)


def test_one_sweep_of_three_readings(frame: Frame) -> None:
    s = np.array([100.0, 500.0, 900.0])
    posterior, mean = fit(frame, stage(frame, {"a_height": (s, np.array([0.0, 12.0, 0.0]))}))
    assert np.all(np.isfinite(posterior.draws(50, 0)))
    rail = frame.rail("a")
    sag = without_line(s, 1) @ mean.along(rail_weights(rail, "height"), s)
    np.testing.assert_allclose(sag, without_line(s, 1) @ np.array([0.0, 12.0, 0.0]), atol=1.5)
    lateral = part_design(mean.layout, Part(rail_weights(rail, "lateral"), s))
    np.testing.assert_allclose(posterior.sd(lateral), posterior.prior_sd(lateral), rtol=0.01)
    assert not posterior.is_seen(("own_lateral", "c"))


def test_ten_thousand_readings(frame: Frame) -> None:
    true = rough(frame, 3)
    readings = {name: taken for name, taken in measure(frame, true, 0.9).items() if name in ("a_lateral", "a_height")}
    many = {name: (np.tile(s, 5), np.tile(v, 5)) for name, (s, v) in readings.items()}
    many = {name: (s, v + 1.5 * np.random.default_rng(1).normal(size=s.size)) for name, (s, v) in many.items()}
    assert sum(s.size for s, _ in many.values()) > 10_000
    posterior, mean = fit(frame, stage(frame, many))
    s = stations_of(frame.beams[0])
    weights = rail_weights(frame.rail("a"), "height")
    s = s[1:-1]  # readings begin 20 mm from the ends
    off = without_line(s, 1)
    u = posterior.sd(off @ part_design(mean.layout, Part(weights, s)))
    assert u.max() < 0.2
    assert np.abs(off @ (mean.along(weights, s) - true.along(weights, s))).max() < 1.0


def test_a_gross_error_is_named_and_set_aside(frame: Frame) -> None:
    true = rough(frame, 8)
    readings = measure(frame, true, 50.0)
    clean, _ = fit(frame, stage(frame, readings))
    readings["a_lateral"][1][7] += 60.0
    posterior, mean = fit(frame, stage(frame, readings))
    named = [
        (taken.sweep.name, float(taken.station_mm[i]))
        for solved, aside in zip(posterior.groups, posterior.aside, strict=True)
        for taken, start in zip(solved.reduced.rows.sweeps, _starts(solved.reduced.rows.sweeps), strict=True)
        for i in np.flatnonzero(aside[start : start + taken.values.size])
    ]
    assert named == [("a_lateral", readings["a_lateral"][0][7])]
    assert not any(aside.any() for aside in clean.aside)
    assert max(np.abs(solved.standardised).max() for solved in posterior.groups) > 10.0
    s, weights = stations_of(frame.beams[0]), rail_weights(frame.rail("a"), "lateral")
    assert np.abs(without_line(s, 1) @ (mean.along(weights, s) - true.along(weights, s))).max() < 5.0


def _starts(sweeps: tuple[SweepReadings, ...]) -> Floats:
    return np.concatenate([[0], np.cumsum([taken.values.size for taken in sweeps])[:-1]])


def test_drift_is_taken_out_where_the_first_station_is_repeated(frame: Frame) -> None:
    """Out on every other station, back on those between: a drift then looks like a zigzag of the rail."""
    s = np.concatenate([np.arange(50.0, 951.0, 100.0), np.arange(900.0, 99.0, -100.0), [50.0]])
    true = rough(frame, 21)
    weights = rail_weights(frame.rail("a"), "height")
    values = true.along(weights, s) + np.linspace(0.0, 30.0, s.size)
    grid = stations_of(frame.beams[0])[2:-2]
    error = {}
    for name, keep in (("closed", slice(None)), ("open", slice(None, -1))):
        _, mean = fit(frame, stage(frame, {"a_height": (s[keep], values[keep])}))
        off = without_line(grid, 1) @ (mean.along(weights, grid) - true.along(weights, grid))
        error[name] = np.abs(off).max()
    assert error["closed"] < 1.0
    assert error["open"] > 3.0


def test_a_straightedge_turned_over_shows_its_error(frame: Frame) -> None:
    """The mean of the run and the run with the straightedge turned over is free of its error (common practice)."""
    sweep = next(sweep for sweep in frame.sweeps if sweep.name == "a_height")
    run = replace(sweep, reference="straightedge")
    turned = replace(run, name="turned", reversed=True)
    both = replace(frame, sweeps=(run, turned))
    s = np.arange(50.0, 951.0, 50.0)
    weights = rail_weights(frame.rail("a"), "height")
    true = rough(frame, 22).along(weights, s)
    bent = 25.0 * np.sin(np.pi * s / 1000.0) + 6.0 * np.sin(9.0 * s / 1000.0)
    taken = {"a_height": (s, true - bent), "turned": (s, true + bent)}
    _, mean = fit(both, stage(both, taken))
    off = without_line(s, 1)
    np.testing.assert_allclose(off @ mean.along(weights, s), off @ true, atol=1.0)
    _, fooled = fit(both, stage(both, {"a_height": taken["a_height"]}))
    assert np.abs(off @ (fooled.along(weights, s) - true)).max() > 5.0


def test_a_run_counts_though_its_turned_run_was_not_taken(frame: Frame) -> None:
    """Declared only, a run with the straightedge turned over must not take the other run's readings away."""
    sweep = next(sweep for sweep in frame.sweeps if sweep.name == "a_height")
    run = replace(sweep, reference="straightedge")
    both = replace(frame, sweeps=(run, replace(run, name="turned", reversed=True)))
    s, weights = np.arange(50.0, 951.0, 50.0), rail_weights(frame.rail("a"), "height")
    true = rough(frame, 22).along(weights, s)
    posterior, mean = fit(both, stage(both, {"a_height": (s, true)}))
    off = without_line(s, 1)
    np.testing.assert_allclose(off @ mean.along(weights, s), off @ true, atol=1.5)
    assert np.abs(posterior.groups[0].standardised).max() > 0.01


def test_both_runs_count_at_different_stations(frame: Frame) -> None:
    sweep = next(sweep for sweep in frame.sweeps if sweep.name == "a_height")
    run = replace(sweep, reference="straightedge")
    both = replace(frame, sweeps=(run, replace(run, name="turned", reversed=True)))
    weights = rail_weights(frame.rail("a"), "height")
    s, other = np.arange(50.0, 951.0, 50.0), np.arange(60.0, 951.0, 50.0)
    shape = rough(frame, 22)
    bent = lambda at: 25.0 * np.sin(np.pi * at / 1000.0)  # noqa: E731
    taken = {
        "a_height": (s, shape.along(weights, s) - bent(s)),
        "turned": (other, shape.along(weights, other) + bent(other)),
    }
    _, mean = fit(both, stage(both, taken))
    off = without_line(s, 1)
    np.testing.assert_allclose(off @ mean.along(weights, s), off @ shape.along(weights, s), atol=1.5)


def test_readings_on_shimmed_rails_leave_the_rails_own_alone(frame: Frame, tmp_path: Path) -> None:
    """What shims are known to do is no deviation of the rail: the total is read, the shims' part is taken off."""
    tree = portal()
    tree["shim"] = [{"stage": "now", "spot": f"a@{k}/full", "thickness_um": 40.0} for k in range(10, 16)]
    shimmed = read_frame(write(tmp_path / "shimmed", tree, {}))
    known = known_functions(shimmed.rails, shimmed.shims_at("now"))
    layout = Layout.of(shimmed)
    flat = Deviations(layout, np.zeros(layout.size), known)
    _, mean = fit(shimmed, stage(shimmed, measure(shimmed, flat, 50.0, noise=0.0)))
    s = stations_of(shimmed.beams[0])
    assert np.ptp(flat.along(rail_weights(shimmed.rail("a"), "height"), s)) > 35.0
    assert np.abs(without_line(s, 1) @ mean.value(("own_height", "a"), s)).max() < 0.5
