"""A GIF shows the whole travel, there and back, small enough to send; who travels is as asked."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from framevis.errors import BadInput
from framevis.pictures import picture
from framevis.pictures.film import FRAMES, stops, travelling
from framevis.pictures.look import VERDICT_COLOUR
from framevis.pictures.picture import write_picture
from framevis.pictures.scene import moved
from framevis.pictures.travel import travel_groups
from picture.fake_study import make_study


def frames_of(path):
    with Image.open(path) as film:
        for i in range(film.n_frames):
            film.seek(i)
            yield np.asarray(film.convert("RGB")).astype(int)


@pytest.fixture(scope="module")
def film(tmp_path_factory):
    """A GIF, what its progress was told, and its folder."""
    folder, told = tmp_path_factory.mktemp("film"), []
    path = write_picture(make_study(), folder / "travel.gif", size=(480, 320), progress=lambda *n: told.append(n))
    return path, told


def test_a_gif_goes_there_and_back_for_ever(film):
    path, told = film
    with Image.open(path) as image:
        assert (image.n_frames, image.size, image.info["loop"]) == (FRAMES, (480, 320), 0)
        assert image.info["duration"] * FRAMES == pytest.approx(4000, rel=0.1)  # ms
    assert told == [(i + 1, FRAMES // 2 + 1) for i in range(FRAMES // 2 + 1)]
    assert [file.name for file in path.parent.iterdir()] == ["travel.gif"]
    assert path.stat().st_size < 2_000_000


def test_its_frames_move_and_come_back(film):
    frames = list(frames_of(film[0]))
    differ = [int((np.abs(frame - frames[0]).max(axis=2) > 60).sum()) for frame in frames]
    assert differ[FRAMES // 2] > 2000
    assert max(differ[1 : FRAMES // 2]) > 2000
    assert differ[-1] < 0.2 * differ[FRAMES // 2]
    np.testing.assert_array_equal(frames[5], frames[-5])


def test_every_frame_keeps_the_colours_of_the_verdicts(film):
    for frame in list(frames_of(film[0]))[:: FRAMES // 4]:
        for verdict in ("binding", "tight", "free", "unsure"):
            assert (np.abs(frame - np.array(VERDICT_COLOUR[verdict])).max(axis=2) <= 2).sum() > 10, verdict


def test_positions_go_from_end_to_end_with_carriers_together():
    frame = make_study().frame
    places = stops(travel_groups(frame))
    assert len(places) == FRAMES // 2 + 1
    assert places[0] == pytest.approx({"left": 80.0, "right": 80.0, "tool": 120.0})
    assert places[-1] == pytest.approx({"left": 1420.0, "right": 1420.0, "tool": 940.0})
    steps = np.diff([place["left"] for place in places])
    assert (steps > 0.0).all()
    assert steps[0] < 0.3 * steps.max()  # slow where it turns round


def test_only_those_asked_for_travel():
    frame = make_study().frame
    assert [g.name for g in travelling(frame, (), {})] == ["left + right", "tool"]
    assert [g.name for g in travelling(frame, ("right",), {})] == ["left + right"]
    assert [g.name for g in travelling(frame, (), {"left": 300.0})] == ["tool"]
    with pytest.raises(BadInput, match='--travel: no carriage is called "lift": did you mean "left"'):
        travelling(frame, ("lift",), {})
    with pytest.raises(BadInput, match="no carriage is left that travels"):
        travelling(frame, (), {"left": 300.0, "tool": 300.0})


def test_a_wrong_carriage_is_said_before_anything_is_drawn(tmp_path, monkeypatch):
    monkeypatch.setattr(picture, "probe", lambda: pytest.fail("too late"))
    with pytest.raises(BadInput, match="no carriage is called"):
        write_picture(make_study(), tmp_path / "x.gif", travel=["nobody"])
    assert list(tmp_path.iterdir()) == []


def test_placed_carriages_stand_while_others_travel(tmp_path, monkeypatch):
    stood = []

    def seen(scene, study, positions):
        stood.append(positions["left"])
        return moved(scene, study, positions)

    monkeypatch.setattr("framevis.pictures.film.moved", seen)
    monkeypatch.setattr("framevis.pictures.film.FRAMES", 6)
    write_picture(make_study(), tmp_path / "x.gif", positions={"left": 300.0}, size=(200, 200))
    assert stood == [300.0] * 4
    with Image.open(tmp_path / "x.gif") as image:
        assert image.n_frames == 6
