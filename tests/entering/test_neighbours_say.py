"""What neighbours say of a reading: smooth rails are left alone, slips of the hand are asked about."""

from math import sin

import numpy as np
import pytest

from framevis.entering.neighbours import Point, expected

U = 2.0


def asked(values, back=()):
    """Places of readings at 100 mm steps that would be asked about, each kept as it is."""
    places, here, out = [], [], [Point(100.0 * i, v) for i, v in enumerate(values)]
    for i, value in enumerate(values):
        awaited = expected(100.0 * i, U, here)
        if awaited and not any(each.fits(value) for each in awaited):
            places.append(i)
        here.append(Point(100.0 * i, value))
    here = []
    for i, value in zip(reversed(range(len(values) - 1)), back, strict=False):
        awaited = expected(100.0 * i, U, here, out, 10.0)
        if not any(each.fits(value) for each in awaited):
            places.append(-i)
        here.append(Point(100.0 * i, value))
    return places


SHAPES = {
    "sag of 0.3 mm": [300.0 * (1.0 - (i / 7.5 - 1.0) ** 2) for i in range(16)],
    "s of 50 µm": [50.0 * sin(0.4 * i) for i in range(16)],
    "slope of 1 mm/m": [100.0 * i for i in range(16)],
}


@pytest.mark.parametrize("shape", SHAPES)
def test_a_smooth_rail_is_hardly_ever_asked_about(shape):
    noise = np.random.default_rng(1).normal(0.0, U, (200, 16))
    questions = sum(len(asked([a + b for a, b in zip(SHAPES[shape], row, strict=True)])) for row in noise)
    assert questions < 0.01 * noise.size


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("slip", [100.0, -100.0, 254.0])  # a tenth of a millimetre, thou for hundredths
def test_a_slip_is_asked_about_and_its_neighbours_are_not(shape, slip):
    for place in range(4, 15):
        values = list(SHAPES[shape])
        values[place] += slip
        assert asked(values) == [place]


def test_the_first_three_can_be_anything():
    assert expected(200.0, U, [Point(0.0, 0.0), Point(100.0, 500.0)]) == ()
    assert expected(0.0, U, []) == ()


def test_the_way_back_is_held_against_the_way_out_and_its_drift():
    values = SHAPES["s of 50 µm"]
    returned = [value + 8.0 for value in reversed(values[:-1])]
    assert asked(values, returned) == []
    returned[6] += 20.0
    assert asked(values, returned) == [-(len(values) - 2 - 6)]


def test_a_level_of_other_steps_is_carried_on():
    (one, *_) = expected(700.0, 0.02, [Point(s, 1e-6 * s * s) for s in (0.0, 100.0, 300.0)])
    assert one.value == pytest.approx(0.49)  # a parabola stays one
    noise = 0.02 * ((1.0 + 3.0**2 + 2.0**2) * 2.0) ** 0.5  # GUM 5.1.2: weights 1, 3, 2, and one triple for the bend
    assert one.within == pytest.approx(3.5 * noise)
