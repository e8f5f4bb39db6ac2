"""What is said about a block: shares that add up, the next reading that does what it promises, stretches."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from framevis.advice import next_reading
from framevis.explain import doubt, reason, spans
from framevis.frame import Stage, SweepReadings
from framevis.reading.frame_file import read_frame
from framevis.study import Study, work_through
from machines import measure, portal, rough, study_of, write


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Study:
    frame = read_frame(write(tmp_path_factory.mktemp("drawn"), portal(), {}))
    return study_of(write(tmp_path_factory.mktemp("read"), portal(), measure(frame, rough(frame, 4), 100.0)))


def test_causes_add_up_to_the_misfit_of_the_linear_carriage(study: Study) -> None:
    from framevis.carriage import COMPONENTS
    from framevis.ride import mean_ride

    for carriage in study.carriages:
        mechanism = study.mechanisms[carriage.name]
        for index, block in enumerate(carriage.blocks):
            why = reason(study, carriage, block)
            ride = mean_ride(carriage.carriage, study.deviations, np.array([why.position_mm]))
            wanted = ride - mechanism.block_shims[:, :, None]
            plate = mechanism.rigid_fit @ wanted.reshape(-1)
            misfit = mechanism.leverage[index] @ plate - wanted[index, :, 0]
            whole = misfit[COMPONENTS.index(why.component)]
            if why.component == "roll":  # of a roll the sentence names what lies between the pair, and so do the shares
                whole = why.relative
            assert sum(why.shares.values()) == pytest.approx(whole, abs=1e-9)
            assert why.position_mm == block.worst_station_mm


def test_the_next_reading_narrows_the_misfit_as_promised(study: Study) -> None:
    """Take it: with the scales unchanged the standard uncertainty falls by the share that was said."""
    from framevis.rows import assemble, reduce
    from framevis.solved import Solved

    carriage = study.carriages[0]
    block = carriage.blocks[0]
    best = next_reading(study, carriage, block)
    assert best is not None
    target = doubt(study, carriage, block).row
    sweeps = tuple(_with_one_more(taken, best.station_mm) if taken.sweep in best.sweeps else taken
                   for taken in study.readings.sweeps)  # fmt: skip
    layout, known = study.posterior.layout, study.deviations.known
    rows = assemble(layout, known, sweeps)
    solved = Solved(reduce(rows, np.zeros(rows.values.size, dtype=bool)), study.posterior.prior[rows.columns])
    after = np.sqrt(solved.variance_given_zero(target[None, rows.columns])[0])
    before = study.posterior.sd(target[None, :])[0]
    assert 1.0 - after / before == pytest.approx(best.gain, rel=1e-6)
    assert best.gain > 0.02


def _with_one_more(taken: SweepReadings, station: float) -> SweepReadings:
    one = lambda array, value: np.append(array, value)  # noqa: E731
    return SweepReadings(
        taken.sweep, one(taken.station_mm, station), one(taken.values, 0.0), one(taken.u, taken.sweep.u),
        one(taken.order, taken.order[list(taken.station_mm).index(station)]), (*taken.line, 99),
    )  # fmt: skip


def test_spans() -> None:
    s = np.arange(0.0, 60.0, 10.0)
    assert spans(s, np.array([1, 1, 0, 0, 0, 1], dtype=bool)) == [(0.0, 15.0), (45.0, 50.0)]
    assert spans(s, np.zeros(6, dtype=bool)) == []
    assert spans(s, np.ones(6, dtype=bool)) == [(0.0, 50.0)]


def test_a_stage_with_one_sweep_says_what_was_not_measured(tmp_path: Path) -> None:
    from framevis.say import warnings

    tree = portal()
    frame = read_frame(write(tmp_path / "drawn", tree, {}))
    readings = measure(frame, rough(frame, 4), 100.0)
    folder = write(tmp_path / "read", tree, {"a_height": readings["a_height"]})
    said = "\n".join(warnings(study_of(folder)))
    assert "not measured: lateral and roll of rail a" in said
    assert "not measured: lateral and height and roll of rail c" in said
    assert "not measured: opening of beam left" in said
    assert "sweep b_roll was not taken in this stage" in said


def test_an_empty_stage_is_the_prior(study: Study) -> None:
    """No readings at all: nothing is known, so nothing is called free."""
    empty = work_through(study.frame, Stage("now", ()), draws=200)
    assert "free" not in {block.verdict for carriage in empty.carriages for block in carriage.blocks}


def test_an_overload_is_called_one(tmp_path: Path) -> None:
    """Too much weight on a straight frame: static safety fails where the drag ratio doesn't."""
    from framevis.say import suffers

    tree = portal()
    del tree["carriage"]["wide"]
    tree["shim"] = []
    tree["carriage"]["small"] |= {"mass_kg": 4000.0, "centre": [0.0, 0.0, 0.0]}
    flat = {"a_height": (np.arange(50.0, 951.0, 50.0), np.zeros(19))}
    study = study_of(write(tmp_path / "heavy", tree, flat))
    carriage = study.carriages[0]
    for block in carriage.blocks:
        assert block.verdict == "binding"
        assert block.static_safety.min() < 2.0
        assert "overloaded rather than out of line" in suffers(study, reason(study, carriage, block))


def test_a_sweep_with_the_wrong_sign_is_named_first_and_its_neighbours_are_left_alone(tmp_path: Path) -> None:
    from framevis.say import mistaken, suspects, warnings

    frame = read_frame(write(tmp_path / "drawn", portal(), {}))
    readings = measure(frame, rough(frame, 4), 60.0)
    readings.pop("ab_tops")
    assert mistaken(study_of(write(tmp_path / "right", portal(), readings))) == []
    s, values = readings["ac_height"]
    study = study_of(write(tmp_path / "turned", portal(), {**readings, "ac_height": (s, -values)}))
    assert sum(np.count_nonzero(checked.suspect) for checked in study.posterior.checked) > 3
    (said,) = suspects(study)
    assert said.startswith("ac_height reads as if its sign were turned round: so the other sweeps say")
    assert "Settle it by touching the stylus, then set sign = -1" in said
    assert said in warnings(study)
    assert not any(text.startswith("suspect reading") for text in warnings(study))


def test_a_sweep_in_the_wrong_unit_is_named_with_both_units(tmp_path: Path) -> None:
    from framevis.say import mistaken

    frame = read_frame(write(tmp_path / "drawn", portal(), {}))
    readings = measure(frame, rough(frame, 4), 60.0)
    s, values = readings["a_height"]
    (said,) = mistaken(study_of(write(tmp_path / "thou", portal(), {**readings, "a_height": (s, values / 25.4)})))
    assert said.startswith("a_height reads as if thou had been entered as µm, or in as mm (times 25.4)")
    assert "correct the heading" in said


def test_a_gross_error_is_named_beside_a_mistaken_sweep(tmp_path: Path) -> None:
    """What no mistake explains is said as ever."""
    from framevis.say import suspects

    frame = read_frame(write(tmp_path / "drawn", portal(), {}))
    readings = measure(frame, rough(frame, 4), 60.0)
    readings["ab_lateral"][1][5] += 60.0
    s, values = readings["ac_height"]
    said = suspects(study_of(write(tmp_path / "both", portal(), {**readings, "ac_height": (s, -values)})))
    assert said[0].startswith("ac_height reads as if")
    assert said[1].startswith("ab_lateral at")
