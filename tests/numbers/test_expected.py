"""What sweeps should read after a correction: against plain normal equations and the truth of random frames."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from framevis import priors
from framevis.comparing.held import Held, hold
from framevis.deviations import Deviations, Known, Layout
from framevis.estimate import Posterior, estimate
from framevis.expected import expected
from framevis.frame import Floats, Frame, Stage, SweepReadings
from framevis.further import planned
from framevis.observe import view
from framevis.rail_shims import known_at
from framevis.reading.frame_file import read_frame
from framevis.rows import known_part, part_design
from framevis.study import Study, work_through
from later import measured_after, read_before, stage, two_stages
from machines import measure, portal, rough, write

SETTLED = {  # what each sweep of the portal leaves open: name of the unknown → its column at stations s
    "a_lateral": ("offset", "slope"), "a_height": ("offset", "slope"), "ab_lateral": ("offset",),
    "ac_lateral": ("offset",), "ac_height": (), "a_roll": ("level",), "b_roll": ("level",), "c_roll": ("level",),
    "ab_roll": ("level",), "ac_roll": ("level",), "c_along": ("offset",), "ab_tops": (), "mouth": ("offset",),
}  # fmt: skip


@pytest.fixture(scope="module")
def frame(tmp_path_factory: pytest.TempPathFactory) -> Frame:
    return two_stages(tmp_path_factory.mktemp("two") / "portal")


@pytest.fixture(scope="module")
def study(frame: Frame) -> Study:
    return work_through(frame, read_before(frame, 3), 20)


def plain_rows(frame: Frame, known: Known, sweeps: tuple[SweepReadings, ...]) -> tuple[Floats, Floats, Floats]:
    """Design (N, size), unknowns (N, q) and what is known (N,) of readings, put together by hand."""
    layout = Layout.of(frame)
    names = sorted({(r.sweep.name, n) if n != "level" else ("", n) for r in sweeps for n in SETTLED[r.sweep.name]})
    designs, opens, constants = [], [], []
    for readings in sweeps:
        seen = view(readings.sweep, readings.station_mm)
        designs.append(np.sum([part_design(layout, part) for part in seen.parts], axis=0))
        constants.append(np.sum([known_part(known, part) for part in seen.parts], axis=0) + seen.constant)
        column = np.zeros((readings.values.size, len(names)))
        for n in SETTLED[readings.sweep.name]:
            place = names.index((readings.sweep.name, n) if n != "level" else ("", n))
            column[:, place] = (readings.station_mm - 500.0) / 500.0 if n == "slope" else 1.0
        opens.append(column)
    return np.concatenate(designs), np.concatenate(opens), np.concatenate(constants)


def normal_equations(posterior: Posterior, frame: Frame, taken: Stage) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Mean (size + q,) and covariance of coefficients and unknowns by plain normal equations; the rows beside."""
    design, opened, constant = plain_rows(frame, known_at(frame, taken.name), taken.sweeps)
    u = np.concatenate([readings.u for readings in taken.sweeps])
    values = np.concatenate([readings.values for readings in taken.sweeps]) - constant
    both = np.hstack([design, opened]) / u[:, None]
    precision = both.T @ both
    size = design.shape[1]
    precision[np.arange(size), np.arange(size)] += 1.0 / posterior.prior**2
    scale = 1.0 / np.sqrt(np.diag(precision))
    covariance = np.linalg.inv(precision * np.outer(scale, scale)) * np.outer(scale, scale)
    return covariance @ (both.T @ (values / u)), covariance, design, opened, u


def test_expected_readings_are_those_of_plain_normal_equations(frame: Frame, study: Study) -> None:
    """Every sweep with its zero, offset and slope of the stage before: H m + F f + shims, (H, F) Σ (H, F)ᵀ + u²."""
    mean, covariance, design, opened, u = normal_equations(study.posterior, frame, study.readings)
    _, _, constant = plain_rows(frame, known_at(frame, "after"), study.readings.sweeps)
    both = np.hstack([design, opened])
    reading = both @ mean + constant
    spread = np.sqrt(np.sum((both @ covariance) * both, axis=1) + u**2)
    found = expected(study, known_at(frame, "after"))
    assert [each.sweep.name for each in found] == [readings.sweep.name for readings in study.readings.sweeps]
    start = 0
    for each in found:
        part = slice(start, start + each.station_mm.size)
        wanted = np.maximum(reading[part], 0.0) if each.sweep.kind == "gap" else reading[part]
        np.testing.assert_allclose(each.reading, wanted, atol=1e-6)
        np.testing.assert_allclose(each.u, spread[part], rtol=1e-6)
        assert not each.from_first
        start = part.stop


def test_without_a_change_the_expected_reading_is_the_fitted_one(frame: Frame, study: Study) -> None:
    for each in expected(study, known_at(frame, "now")):
        checked = next(c for c in study.posterior.checked if c.readings.sweep.name == each.sweep.name)
        if each.sweep.kind != "gap":
            np.testing.assert_allclose(each.reading, checked.readings.values - checked.residual, atol=1e-7)


def test_a_change_is_the_shims_seen_through_the_sweep(frame: Frame, study: Study) -> None:
    """20 µm under the right edge of a 15 mm rail: −1.333 mrad of roll, 10 µm of height where screws 8 to 13 stand."""
    before = {each.sweep.name: each for each in expected(study, known_at(frame, "now"))}
    after = {each.sweep.name: each for each in expected(study, known_at(frame, "after"))}
    change = {name: after[name].reading - before[name].reading for name in after}
    at = np.searchsorted(after["a_roll"].station_mm, 420.0)  # between screws 10 (380 mm) and 13 (500 mm)
    assert change["a_roll"][at] == pytest.approx(-20.0 / 15.0, abs=1e-9)
    at = np.searchsorted(after["a_height"].station_mm, 420.0)
    assert change["a_height"][at] == pytest.approx(10.0, abs=0.5)  # a beam through the screws overshoots a little
    np.testing.assert_allclose(change["c_roll"], 0.0, atol=1e-9)


def test_two_standard_uncertainties_cover_what_is_read(frame: Frame) -> None:
    """60 random frames; the instruments set as before. 95.4 % for normal errors; frames of sine waves are a little
    smoother than the prior's strips, and the share's own standard error is some 0.3 points."""
    layout, inside = Layout.of(frame), []
    for seed in range(60):
        true = rough(frame, seed)
        taken = stage(frame, "now", measure(frame, true, 100.0, seed=seed))
        study = _bare(frame, taken)
        after = Deviations(layout, true.coefficients, known_at(frame, "after"))
        settings = measure(frame, after, 100.0, noise=0.0, seed=seed)  # the same offsets and slopes as before
        random = np.random.default_rng(seed + 5000)
        for each in expected(study, known_at(frame, "after")):
            if each.sweep.kind != "gap":
                read = settings[each.sweep.name][1] + each.sweep.u * random.standard_normal(each.station_mm.size)
                inside.append(np.abs(read - each.reading) <= 2.0 * each.u)
    assert 0.94 <= np.mean(np.concatenate(inside)) <= 0.98


def _bare(frame: Frame, taken: Stage) -> Study:
    """A study without its carriages: what is expected needs the estimate alone."""
    posterior = estimate(Layout.of(frame), known_at(frame, taken.name), taken)
    deviations = Deviations(posterior.layout, posterior.mean, known_at(frame, taken.name))
    return Study(frame, taken, posterior, deviations, {}, (), 0, 0)


def test_a_sweep_not_taken_counts_from_its_ends(frame: Frame) -> None:
    """Straightedge set to read 0 at both ends, bridge and level counted from the first station; covered likewise."""
    inside = []
    for seed in range(40):
        true = rough(frame, seed)
        readings = measure(frame, true, 100.0, seed=seed)
        left = {"a_height", "ab_lateral", "c_along"}
        study = _bare(frame, stage(frame, "now", {k: v for k, v in readings.items() if k not in left}))
        after = Deviations(study.posterior.layout, true.coefficients, known_at(frame, "after"))
        random = np.random.default_rng(seed + 9000)
        for sweep in (sweep for sweep in frame.sweeps if sweep.name in left):
            (each,) = expected(study, known_at(frame, "after"), [planned(study, sweep)])
            assert each.from_first
            zero = [0, -1] if sweep.name == "a_height" else [0]
            np.testing.assert_allclose(each.reading[zero], 0.0, atol=1e-9)
            np.testing.assert_allclose(each.u[zero], 0.0, atol=1e-5)
            s, parts = each.station_mm, view(sweep, each.station_mm).parts
            read = np.sum([after.along(part.weights, part.station_mm) for part in parts], axis=0)
            read = read + sweep.u * random.standard_normal(s.size)
            line = np.interp(s, s[[0, -1]], read[[0, -1]]) if len(zero) == 2 else read[0]
            inside.append((np.abs(read - line - each.reading) <= 2.0 * each.u)[1:-1])
    assert 0.93 <= np.mean(np.concatenate(inside)) <= 0.99


def test_a_gap_is_never_expected_below_zero(tmp_path: Path) -> None:
    """100 µm under the whole width of rail a where the feeler goes in: the surfaces would overlap, a feeler reads 0."""
    frame = two_stages(tmp_path / "lifted", [(f"a@{screw}/right", 100.0) for screw in range(1, 25)])
    study = _bare(frame, read_before(frame, 3))
    tops = next(each for each in expected(study, known_at(frame, "after")) if each.sweep.name == "ab_tops")
    assert np.all(tops.reading >= 0.0)
    # what a feeler then finds counts neither for nor against
    held = hold(study.posterior, known_at(frame, "after"), stage(frame, "after", {"ab_tops": _no_gap()}).sweeps)
    assert np.any(tops.reading == 0.0)
    assert np.count_nonzero(~held.counts) > 0


def _no_gap() -> tuple[Floats, Floats]:
    s = np.arange(100.0, 901.0, 100.0)
    return s, np.zeros(s.size)


def test_drift_is_not_expected_again(tmp_path: Path) -> None:
    """The first station read again at the end, 12 µm later: the next run is expected as in the middle of this one."""
    frame = read_frame(write(tmp_path / "drifting", portal(), {}))
    s = np.concatenate([np.arange(50.0, 951.0, 100.0), [50.0]])
    drift = np.linspace(-6.0, 6.0, s.size)
    (each,) = expected(_bare(frame, stage(frame, "now", {"ab_lateral": (s, drift)})), known_at(frame, "now"))
    assert each.station_mm.tolist() == sorted(set(s.tolist()))
    assert np.abs(each.reading).max() < 2.0


def held_later(frame: Frame, seed: int) -> tuple[Posterior, Stage, Held]:
    posterior = estimate(Layout.of(frame), known_at(frame, "now"), read_before(frame, seed))
    later = stage(frame, "after", measured_after(frame, seed, frame.shims_at("after")))
    return posterior, later, hold(posterior, known_at(frame, "after"), later.sweeps)


def test_held_readings_are_those_of_plain_generalised_least_squares(frame: Frame) -> None:
    posterior, whole, _ = held_later(frame, 5)
    later = Stage("after", tuple(r for r in whole.sweeps if r.sweep.kind != "gap"))
    held = hold(posterior, known_at(frame, "after"), later.sweeps)
    mean, covariance, *_ = normal_equations(posterior, frame, read_before(frame, 5))
    design, opened, constant = plain_rows(frame, known_at(frame, "after"), later.sweeps)
    size = design.shape[1]
    u = np.concatenate([readings.u for readings in later.sweeps])
    off = np.concatenate([readings.values for readings in later.sweeps]) - constant - design @ mean[:size]
    v = design @ covariance[:size, :size] @ design.T + np.diag(u**2)
    assert np.all(held.counts)
    v, o, e = v / np.outer(u, u), opened / u[:, None], off / u  # in units of u: µm and mrad mixed don't invert well
    weight = np.linalg.inv(v)
    left = np.eye(off.size) - o @ np.linalg.solve(o.T @ weight @ o, o.T @ weight)
    np.testing.assert_allclose(held.residual, u * (left @ e), atol=1e-6)
    np.testing.assert_allclose(held.u, u * np.sqrt(np.diag(left @ v @ left.T)), rtol=1e-6)
    assert held.fit.chi2 == pytest.approx(e @ weight @ left @ e, rel=1e-6)
    assert held.fit.freedom == off.size - opened.shape[1]


def test_a_reading_set_aside_is_as_if_it_had_not_been_taken(frame: Frame) -> None:
    posterior, later, held = held_later(frame, 6)
    aside = held.without(4)
    first = later.sweeps[0]
    keep = np.arange(first.values.size) != 4
    order, lines = np.arange(keep.sum(), dtype=float), tuple(range(int(keep.sum())))
    short = SweepReadings(first.sweep, first.station_mm[keep], first.values[keep], first.u[keep], order, lines)
    fewer = hold(posterior, known_at(frame, "after"), (short, *later.sweeps[1:]))
    assert aside.fit.chi2 == pytest.approx(fewer.fit.chi2, rel=1e-7)
    assert aside.fit.freedom == fewer.fit.freedom
    others = np.arange(held.off.size) != 4
    np.testing.assert_allclose(aside.residual[others], fewer.residual, atol=1e-6)
    assert aside.sweep_fit(held.parts[0][1]).freedom == held.sweep_fit(held.parts[0][1]).freedom - 1


def test_chi_squared_is_what_chance_brings_where_the_model_holds(frame: Frame) -> None:
    """Frames drawn from the prior with known scales: χ² over its degrees of freedom has mean 1, and p is uniform."""
    random, layout = np.random.default_rng(17), Layout.of(frame)
    spread = priors.spread(layout)
    ratios, small, agree = [], [], []
    for seed in range(120):
        true = Deviations(layout, random.standard_normal(layout.size) * spread * 0.5, known_at(frame, "now"))
        before = stage(frame, "now", measure(frame, true, 100.0, seed=seed))
        after = Deviations(layout, true.coefficients, known_at(frame, "after"))
        later = stage(frame, "after", measure(frame, after, 100.0, seed=seed + 1000))
        taken = tuple(readings for readings in later.sweeps if readings.sweep.kind != "gap")  # cut off at no gap
        held = hold(estimate(layout, known_at(frame, "now"), before), known_at(frame, "after"), taken)
        ratios.append(held.fit.chi2 / held.fit.freedom)
        small += [held.sweep_fit(part).p < 0.05 for _, part in held.parts]
        agree.append(np.abs(held.residual) <= 2.0 * held.u)
    assert np.mean(ratios) == pytest.approx(1.0, abs=0.05)
    assert np.mean(small) == pytest.approx(0.05, abs=0.02)
    assert np.mean(np.concatenate(agree)) == pytest.approx(0.954, abs=0.01)
