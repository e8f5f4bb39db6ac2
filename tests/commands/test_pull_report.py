"""Pull forces in what a user gets: the text, the JSON, and the way through the files to a calibrated study."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from framevis.errors import BadInput
from framevis.frame import Frame
from framevis.job import study_of
from framevis.pulls.calibrate import Calibration, calibrated_study
from framevis.reading.frame_file import read_frame
from framevis.report import print_assessment
from framevis.report_json import assessment
from framevis.study import Study
from machines import measure, portal, rough, toml_of
from pullkit import Truth, drag, every, portal_frame, read

TRUTH = Truth(0.006, 1.4)
DRAWS = 60


def written(folder: Path, forces: str | None, seed: int = 2) -> Frame:
    """A portal measured in one stage; `forces` the text of the pull's CSV."""
    tree = portal()
    tree["name"] = "[red]portal"
    tree["sweep"]["pull"] = {"kind": "pull", "carriage": "small", "u_n": 0.2}
    (folder / "readings" / "now").mkdir(parents=True)
    (folder / "frame.toml").write_text(toml_of(tree), encoding="utf-8")
    frame = read_frame(folder)
    for name, (s, values) in measure(frame, rough(frame, seed), 50.0, 1.0, seed).items():
        unit = "mrad" if tree["sweep"][name]["kind"].startswith("level") else "um"
        rows = "\n".join(f"{a:.3f},{b:.3f}" for a, b in zip(s, values, strict=True))
        (folder / "readings" / "now" / f"{name}.csv").write_text(f"station_mm,reading_{unit}\n{rows}\n")
    if forces is not None:
        (folder / "readings" / "now" / "pull.csv").write_text(forces)
    return frame


def pull_text(seed: int = 2, count: int | None = None) -> str:
    frame = portal_frame()
    carriage = TRUTH.carriage(frame.carriage("small"))
    s = every(carriage, 50.0)[:count]
    true, random = drag(frame, carriage, rough(frame, seed), s), np.random.default_rng(seed)
    rows = [
        f"{at:.0f},{1.2 * force:.2f},{force + random.normal(0, 0.2):.2f},{force + random.normal(0, 0.2):.2f}"
        for at, force in zip(s, true, strict=True)
    ]
    return "station_mm,breakaway_n,running_n,running_back_n\n" + "\n".join(rows) + "\n"


@pytest.fixture(scope="module")
def calibrated(tmp_path_factory: pytest.TempPathFactory) -> tuple[Study, Study, Calibration]:
    frame = written(tmp_path_factory.mktemp("pulled"), pull_text())
    study = study_of(frame, draws=DRAWS)
    again, found = calibrated_study(frame, draws=DRAWS)
    return study, again, found


def text_of(study: Study, calibration: Calibration | None = None) -> str:
    out = io.StringIO()
    print_assessment(study, Console(file=out, width=400, highlight=False), calibration)
    return out.getvalue()


def test_the_text_has_a_section_of_the_pull(calibrated):
    study, again, found = calibrated
    plain, fitted = text_of(study), text_of(again, found)
    assert "Pull, carriage small (pull)\n" in plain
    assert "the pull rises and falls where the frame makes it" in plain
    assert "Fitted to the pull" not in plain
    assert "breakaway" in plain
    assert "the pull follows the prediction: r " in fitted
    assert "Fitted to the pull, and used for all of the above" in fitted
    assert "friction of guide g: 0.006" in fitted
    assert "seal drag of guide g: 1." in fitted


def test_json_of_the_pull(calibrated):
    study, again, found = calibrated
    plain, fitted = (
        json.loads(json.dumps(each, allow_nan=False)) for each in (assessment(study), assessment(again, found))
    )
    assert plain["calibration"] is None
    (pull,) = plain["pull"]
    assert {"sweep", "carriage", "stations_mm", "found_n", "found_back_n", "breakaway_n", "predicted_n",
            "predicted_p05_n", "predicted_p95_n", "correlation", "residual_rms_n", "says"} <= set(pull)  # fmt: skip
    assert (pull["sweep"], pull["carriage"], len(pull["stations_mm"])) == ("pull", "small", 17)
    assert all(len(pull[key]) == 17 for key in pull if key.endswith("_n") and key != "residual_rms_n")
    assert pull["breakaway_back_n"] == [None] * 17
    assert pull["running_n"] == pytest.approx((np.array(pull["found_n"]) + pull["found_back_n"]) / 2.0)
    low, middle, high = (np.array(pull[f"predicted{part}_n"]) for part in ("_p05", "", "_p95"))
    assert np.all(low < high)
    assert np.mean((low <= middle) & (middle <= high)) > 0.8
    assert pull["residual_rms_n"] == pytest.approx(np.sqrt(np.mean((pull["running_n"] - middle) ** 2)), rel=1e-5)
    assert pull["correlation"] == pytest.approx(np.corrcoef(pull["running_n"], middle)[0, 1], abs=1e-4)
    assert fitted["pull"][0]["residual_rms_n"] < 0.5 * pull["residual_rms_n"]
    by = {each["what"]: each for each in fitted["calibration"]["fitted"]}
    assert abs(by["friction"]["value"] - TRUTH.friction) < 3.0 * by["friction"]["u"]
    assert abs(by["seal"]["value"] - TRUTH.seal_n) < 3.0 * by["seal"]["u"]
    assert fitted["calibration"]["running_forces"] == 17


def test_predicted_is_the_sum_of_the_blocks_drags(calibrated):
    study, _, _ = calibrated
    (small,) = [carriage for carriage in study.carriages if carriage.name == "small"]
    pulls = (read(study.frame.pulls[0], small.stations_mm, np.ones(small.stations_mm.size)),)
    (pull,) = assessment(replace(study, readings=replace(study.readings, pulls=pulls)))["pull"]
    total = np.sum([block.drag_n for block in small.blocks], axis=0)
    assert pull["predicted_n"] == pytest.approx(total.tolist(), abs=1e-5)


def test_calibration_changes_drags_and_leaves_the_frames_shape(calibrated):
    study, again, _ = calibrated
    before, after = assessment(study), assessment(again)
    assert before["deviations"] == after["deviations"]
    assert before["residuals"] == after["residuals"]
    assert before["carriages"] != after["carriages"]


def test_nothing_is_said_of_a_pull_that_was_not_taken(calibrated):
    study, _, _ = calibrated
    without = replace(study, readings=replace(study.readings, pulls=()))
    assert assessment(without)["pull"] == []
    assert "Pull, carriage" not in text_of(without)
    assert "sweep pull was not taken in this stage" in text_of(without)
    assert "sweep pull was not taken" not in text_of(study)


@pytest.mark.parametrize(
    ("forces", "says"),
    [
        (None, "readings/now: there are no pull readings of a running force in this stage: pull a carriage and add"),
        (
            pull_text(count=5),
            "readings/now: there are 5 running pull readings, and friction and seal drag need 8: pull at more stations",
        ),
    ],
    ids=["none", "five"],
)
def test_calibration_without_enough_pulls_is_refused_in_a_sentence(tmp_path, forces, says):
    frame = written(tmp_path, forces)
    with pytest.raises(BadInput) as bad:
        calibrated_study(frame, draws=20)
    assert len(bad.value.problems) == 1
    assert str(bad.value).startswith(says)
