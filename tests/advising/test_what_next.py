"""What is proposed: sweeps that were not taken, by how much they help, enough when nothing helps."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import pytest
from rich.console import Console

from framevis.advising.advise import SHORT_LIST, WORTH, Advice, advise
from framevis.advising.new_sweeps import new_sweeps, toml_lines
from framevis.advising.say_advice import advice_object, print_advice
from framevis.reading.frame_file import read_frame
from machines import Tree, measure, portal, rough, study_of, write


def advice(
    folder: Path, without: tuple[str, ...] = (), step: float = 100.0, noise: float = 1.0, **more: object
) -> Advice:
    tree = portal()
    tree["shim"] = []
    tree |= more
    frame = read_frame(write(folder / "drawn", tree, {}))
    found = measure(frame, rough(frame, 1, 0.05), step, noise)
    return advise(study_of(write(folder / "machine", tree, {n: r for n, r in found.items() if n not in without}), 300))


def text_of(found: Advice) -> str:
    out = io.StringIO()
    print_advice(found, Console(file=out, width=120, highlight=False))
    return " ".join(out.getvalue().split())


def test_a_sweep_left_out_comes_first_and_settles_the_blocks_that_hang_on_it(tmp_path: Path) -> None:
    found = advice(tmp_path, ("ab_lateral",))
    first = found.offers[0]
    assert {sweep.name for sweep in first.candidate.sweeps} == {"ab_lateral"}
    assert first.candidate.how == "not taken"
    assert found.saves(first) > 0.1
    assert any(each.carriage.name == "small" and after < 0.5 * each.error
               for each, after in zip(found.open, first.after, strict=True))  # fmt: skip
    text = text_of(found)
    assert "ab_lateral: not taken yet (11 readings)" in text
    assert "settles (chance of a wrong verdict) small/" in text


def test_enough_when_everything_is_known_well(tmp_path: Path) -> None:
    found = advice(tmp_path, step=25.0, noise=0.3)
    assert found.enough
    assert text_of(found).count("Enough") == 1
    assert advice_object(found)["enough"] is True


def test_the_list_is_short_ordered_and_worth_it(tmp_path: Path) -> None:
    found = advice(tmp_path, ("ab_lateral", "a_roll", "ab_roll", "b_roll", "ab_tops"))
    assert 1 < len(found.offers) <= SHORT_LIST
    saved = [found.saves(offer) for offer in found.offers]
    assert saved == sorted(saved, reverse=True)
    assert min(saved) >= WORTH
    names = [tuple(sweep.name for sweep in offer.candidate.sweeps) for offer in found.offers]
    assert len(set(names)) == len(names)


def test_sweeps_that_frame_toml_lacks_are_proposed_and_their_lines_load(tmp_path: Path) -> None:
    tree: Tree = portal()
    kept = {name: tree["sweep"][name] for name in ("a_lateral", "a_height", "ac_height")}
    found = advice(tmp_path, sweep=kept)
    new = [offer for offer in found.offers if offer.candidate.how == "new"]
    assert new
    assert {sweep.kind for offer in new for sweep in offer.candidate.sweeps} & {"bridge", "level_across"}
    folder = tmp_path / "machine"
    lines = [
        line
        for sweeps in new_sweeps(found.study.frame)
        for sweep in sweeps
        for line in toml_lines(found.study.frame, sweep)
    ]
    with (folder / "frame.toml").open("a", encoding="utf-8") as file:
        file.write("\n".join(["", *lines, ""]))
    again = read_frame(folder)
    asked = {sweep.name: sweep for sweeps in new_sweeps(found.study.frame) for sweep in sweeps}
    for name, sweep in asked.items():
        entered = next(each for each in again.sweeps if each.name == name)
        assert (entered.kind, entered.direction, entered.absolute, entered.instrument) == (
            sweep.kind, sweep.direction, sweep.absolute, sweep.instrument)  # fmt: skip
        assert entered.u == pytest.approx(sweep.u)
        assert [rail.name for rail in entered.rails] == [rail.name for rail in sweep.rails]
    assert new_sweeps(again) == []  # nothing is proposed that is there


def test_every_unsure_verdict_names_its_reading(tmp_path: Path) -> None:
    found = advice(tmp_path, ("ab_lateral", "a_roll", "ab_roll"), shim=portal()["shim"])
    unsure = [(each, best) for each, best in zip(found.open, found.best, strict=True) if each.block.verdict == "unsure"]
    assert unsure
    text = text_of(found)
    for each, best in unsure:
        assert best is not None
        assert f"{each.carriage.name}/{each.block.name}, tight in {100 * each.block.p_tight:.0f} %" in text
    said = {(block["carriage"], block["name"]) for block in advice_object(found)["blocks"]}
    assert {(each.carriage.name, each.block.name) for each in found.open} == said


def test_the_same_advice_twice(tmp_path: Path) -> None:
    one = advice_object(advice(tmp_path / "one", ("ab_lateral",)))
    assert one == advice_object(advice(tmp_path / "two", ("ab_lateral",)))


def test_new_sweeps_state_their_u_in_the_frames_own_unit(tmp_path: Path) -> None:
    frame = read_frame(write(tmp_path / "frame", portal() | {"sweep": {}}, {}))
    spacing = next(sweep for sweeps in new_sweeps(frame) for sweep in sweeps if sweep.absolute)
    assert toml_lines(frame, spacing)[-1].startswith("u_um = 3 ")
    assert toml_lines(replace(frame, length_unit="in"), spacing)[-1].startswith("u_thou = 0.118 ")  # 3 / 25.4
