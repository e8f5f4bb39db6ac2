"""The likeliest shape after readings to come is the one that the estimate itself finds once they are entered."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from framevis.advising.candidates import Candidate, candidates
from framevis.advising.expected_error import Trial, error_now, is_tight, likeliest, open_of, told
from framevis.estimate import Posterior
from framevis.frame import Floats, Stage, SweepReadings
from framevis.further import planned
from framevis.observe import corrected, view
from framevis.rail_shims import known_at
from framevis.reading.frame_file import read_frame
from framevis.rows import known_part, reduce, rows_of
from framevis.solved import Solved, together
from framevis.study import Study, reassessed
from machines import measure, portal, rough, study_of, write

DRAWS, SEED = 4, 7


def machine(folder: Path, without: tuple[str, ...]) -> Study:
    tree = portal()
    frame = read_frame(write(folder / "drawn", tree, {}))
    taken = {name: found for name, found in measure(frame, rough(frame, 1, 0.1), 100.0).items() if name not in without}
    return study_of(write(folder / "machine", tree, taken), 60)


def entered(study: Study, candidate: Candidate, read: Floats) -> Stage:
    """The stage with readings (N,) entered that are `read` less what the study expects of them."""
    expects = candidate.seen.design @ study.posterior.mean + candidate.seen.level + read
    sweeps, start = {each.sweep.name: each for each in study.readings.sweeps}, 0
    for sweep in candidate.sweeps:
        taken = sweeps.get(sweep.name)
        if candidate.station_mm is not None:
            stations = np.array([candidate.station_mm])
        else:
            stations = np.unique(taken.station_mm) if taken is not None else planned(study, sweep).station_mm
        zero = SweepReadings(sweep, stations, np.zeros(stations.size), np.full(stations.size, sweep.u),
                             np.arange(stations.size, dtype=float), (0,) * stations.size)  # fmt: skip
        known = known_at(study.frame, study.stage)
        shims = np.sum([known_part(known, part) for part in view(sweep, stations).parts], axis=0)
        more = replace(zero, values=expects[start : start + stations.size] + shims - corrected(zero))
        start += stations.size
        sweeps[sweep.name] = more if taken is None else joined(taken, more)
    return Stage(study.stage, tuple(sweeps.values()))


def joined(one: SweepReadings, other: SweepReadings) -> SweepReadings:
    """Both as readings of the same rows where they stand at the same stations, so that nothing counts as drift."""
    order = np.array([one.order[int(np.argmin(np.abs(one.station_mm - s)))] for s in other.station_mm])
    ends = {name: np.concatenate([getattr(one, name), getattr(other, name)]) for name in ("station_mm", "values", "u")}
    return replace(one, **ends, order=np.concatenate([one.order, order]), line=one.line + other.line)


def estimated(study: Study, stage: Stage) -> Study:
    """The same priors, other readings."""
    layout = study.posterior.layout
    rows = rows_of(layout, known_at(study.frame, stage.name), stage.sweeps)
    aside = tuple(np.zeros(part.values.size, dtype=bool) for part in rows)
    groups = together(
        [Solved(reduce(part, out), study.posterior.prior[part.columns]) for part, out in zip(rows, aside, strict=True)]
    )
    posterior = Posterior(layout, groups, aside, study.posterior.scales, study.posterior.prior)
    return reassessed(replace(study, readings=stage, posterior=posterior), study.frame)


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Study:
    found = machine(tmp_path_factory.mktemp("machine"), ("a_roll", "ab_roll", "ab_lateral", "mouth"))
    assert all(not np.any(aside) for aside in found.posterior.aside)
    return found


@pytest.mark.parametrize("how", ["one more", "again", "not taken", "new"])
def test_the_shape_is_the_estimates_own(study: Study, how: str) -> None:
    draws = study.posterior.draws(study.draws, study.seed)[:, :DRAWS]
    opened = [open_of(study, draws, carriage, block) for carriage in study.carriages for block in carriage.blocks]
    offered = [each for each in candidates(study, np.concatenate([one.rows for one in opened])) if each.how == how]
    assert offered
    for candidate in offered[:4]:
        readings = told(study, candidate)
        own = candidate.seen.own
        q = own.shape[1]
        kept = np.linalg.qr(own, mode="complete")[0][:, q:] if q else np.eye(len(own))
        random = np.random.default_rng(SEED).standard_normal((len(readings.noise), DRAWS))
        noise = np.linalg.cholesky(readings.noise) @ random
        trials = {one.carriage.name: Trial.of(study, [two for two in opened if two.carriage is one.carriage])
                  for one in opened}  # fmt: skip
        for j in range(2):
            read = kept @ (readings.design @ (draws[:, j] - study.posterior.mean) + noise[:, j])
            after = estimated(study, entered(study, candidate, read))
            for trial in trials.values():
                shape = likeliest(study, readings, draws, SEED, trial.rides)[:, j]
                assert shape == pytest.approx(after.posterior.mean[trial.rides.columns], abs=1e-4)


def test_the_chance_is_counted_with_the_verdicts_of_these_shapes(study: Study) -> None:
    draws = study.posterior.draws(study.draws, study.seed)[:, :DRAWS]
    opened = [open_of(study, draws, study.carriages[0], block) for block in study.carriages[0].blocks]
    candidate = next(each for each in candidates(study, opened[0].rows) if each.how == "not taken")
    readings = told(study, candidate)
    q = candidate.seen.own.shape[1]
    kept = np.linalg.qr(candidate.seen.own, mode="complete")[0][:, q:] if q else np.eye(candidate.readings)
    noise = np.linalg.cholesky(readings.noise) @ np.random.default_rng(SEED).standard_normal(
        (len(readings.noise), DRAWS)
    )
    wrong = np.zeros(len(opened))
    for j in range(DRAWS):
        read = kept @ (readings.design @ (draws[:, j] - study.posterior.mean) + noise[:, j])
        after = estimated(study, entered(study, candidate, read))
        for i, each in enumerate(opened):
            said = is_tight(after, after.carriages[0].blocks[i])
            wrong[i] += (said != each.tight[j]) / DRAWS
    found = Trial.of(study, opened).errors(readings, draws, SEED)
    for each, chance, expected in zip(opened, found, wrong, strict=True):
        assert chance == pytest.approx(np.clip(each.error + expected - each.tried_error, 0.0, 1.0), abs=1e-9)


def test_the_chance_now_is_that_of_the_draws_that_contradict_the_likeliest_shape(study: Study) -> None:
    for carriage in study.carriages:
        for block in carriage.blocks:
            p = block.p_tight
            assert np.mean(block.tight_draws) == pytest.approx(p)
            tight = block.drag_ratio.max() >= 1.5 or block.static_safety.min() < 2.0
            assert error_now(study, block) == pytest.approx(1.0 - p if tight else p)
