"""A sweep with the wrong sign or in the wrong unit is found where other sweeps contradict it, and only there."""

from __future__ import annotations

import numpy as np
import pytest

from framevis.frame import Frame
from framevis.mistaken import candidates, find_mistake
from framevis.reading.frame_file import read_frame
from framevis.units import MRAD_PER_UNIT
from independent.frames import fit, random_readings
from machines import measure, portal, rough, write

RIGHT_FRAMES = 40  # 200 of these, and 250 up to six times as crooked, were tried: none is doubted, and one in 250
THOU, ARCSEC, DEGREES = 25.4, MRAD_PER_UNIT["arcsec"], MRAD_PER_UNIT["deg"]

# sweep, true readings over those entered; every one of these sees what several others see too
WRONG = [
    ("a_height", -1.0, 3),
    ("ac_roll", -1.0, 5),
    ("c_along", -1.0, 7),
    ("b_roll", -1.0, 16),
    ("a_height", THOU, 8),
    ("ac_height", 1.0 / THOU, 9),
    ("ac_roll", 1.0 / DEGREES, 11),
    ("c_along", ARCSEC, 13),
]


@pytest.fixture(scope="module")
def frame(tmp_path_factory: pytest.TempPathFactory) -> Frame:
    return read_frame(write(tmp_path_factory.mktemp("portal"), portal(), {}))


@pytest.mark.parametrize(("name", "factor", "seed"), WRONG)
def test_a_wrong_sweep_is_named_with_its_factor(frame, name, factor, seed):
    readings = random_readings(frame, seed)
    s, values = readings[name]
    doubt = find_mistake(fit(frame, {**readings, name: (s, values / factor)}))
    assert doubt is not None
    assert (doubt.mistakes[0].sweep.name, doubt.mistakes[0].factor) == (name, pytest.approx(factor, rel=1e-6))
    put_right = np.abs(np.concatenate(doubt.standardised))
    assert put_right.max() < 4.0  # of some 150 that are normal
    assert 0.5 < np.median(put_right) < 0.85  # 0.67


def test_no_right_frame_is_doubted(frame):
    doubted = [seed for seed in range(RIGHT_FRAMES) if find_mistake(fit(frame, random_readings(frame, 500 + seed)))]
    assert doubted == []


@pytest.mark.parametrize("factor", [-1.0, THOU, 1.0 / THOU, 1000.0])
def test_where_no_other_sweep_sees_the_same_nothing_is_said(frame, factor):
    """One height along one rail, once with the roll of another beam's rail beside it."""
    readings = measure(frame, rough(frame, 6), 50.0, seed=6)
    s, values = readings["a_height"]
    wrong = (s, values / factor)
    assert find_mistake(fit(frame, {"a_height": wrong})) is None
    assert find_mistake(fit(frame, {"a_height": wrong, "c_roll": readings["c_roll"]})) is None


def test_two_sweeps_that_contradict_each_other_are_both_named(tmp_path):
    """Of two runs along one rail either may be turned round: nothing tells which."""
    tree = portal()
    tree["sweep"]["a_height_again"] = tree["sweep"]["a_height"]
    both = read_frame(write(tmp_path / "both", tree, {}))
    readings = measure(both, rough(both, 12), 60.0, seed=12)
    s, values = readings["a_height"]
    doubt = find_mistake(fit(both, {"a_height": (s, -values), "a_height_again": readings["a_height_again"]}))
    assert doubt is not None
    assert {mistake.sweep.name for mistake in doubt.mistakes} == {"a_height", "a_height_again"}
    assert {mistake.factor for mistake in doubt.mistakes} == {-1.0}


def test_a_sweep_that_only_scatters_is_not_called_mistaken(frame):
    """Six times its u: no sign and no unit mends that."""
    random = np.random.default_rng(1)
    for seed, name in ((20, "a_height"), (21, "ac_roll"), (22, "c_along"), (23, "ac_height")):
        readings = random_readings(frame, seed)
        u = next(sweep.u for sweep in frame.sweeps if sweep.name == name)
        s, values = readings[name]
        scattered = (s, values + 6.0 * u * random.normal(size=s.size))
        assert find_mistake(fit(frame, {**readings, name: scattered})) is None


def test_candidates_are_those_that_make_sense(frame):
    """A gap has no sign; a thou is 25.4 µm, a micrometre is no angle."""
    sweeps = {sweep.name: sweep for sweep in frame.sweeps}
    assert min(each.factor for each in candidates(sweeps["ab_tops"])) > 0.0
    thou = next(each for each in candidates(sweeps["a_height"]) if each.factor == THOU)
    assert ("thou", "um") in thou.units
    assert all("um" not in pair for each in candidates(sweeps["a_roll"]) for pair in each.units)
