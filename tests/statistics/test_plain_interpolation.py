"""The interpolation by hand that framevis is held against must itself be right: exact readings, 10 mm apart."""

from __future__ import annotations

from itertools import count, islice

import numpy as np
import pytest
from plain_interpolation import interpolated_ride
from trial import measured_frame

from framevis.carriage import Mechanism
from framevis.equilibrium import solve
from framevis.frame import Stage, SweepReadings
from framevis.ride import mean_ride, positions_of
from framevis.risk import effects
from machines import measure

PLAIN = list(islice((here for here in map(measured_frame, count(), count()) if here.of.measuring == "plain"), 4))


@pytest.mark.parametrize("here", PLAIN, ids=lambda here: f"{here.of.arrangement}, {here.of.roughness}")
def test_exact_readings_give_the_drag_of_the_true_shape(here) -> None:
    taken = []
    for name, (s, values) in measure(here.frame, here.true, 10.0, noise=0.0).items():
        sweep = next(sweep for sweep in here.frame.sweeps if sweep.name == name)
        taken.append(SweepReadings(sweep, s, values, np.full(s.size, sweep.u), np.arange(s.size, dtype=float), ()))
    carriage = here.frame.carriages[0]
    mechanism, positions = Mechanism(carriage, here.frame.up), positions_of(carriage)[2:-2]  # readings end there
    by_hand = interpolated_ride(here.frame, carriage, Stage("now", tuple(taken)), positions)
    rides = (by_hand, mean_ride(carriage, here.true, positions))
    ratio = [effects(mechanism, solve(mechanism, ride)).ratio for ride in rides]
    assert ratio[1].max() > 1.05  # not a frame on which everything runs free anyway
    np.testing.assert_allclose(ratio[0], ratio[1], rtol=0.03)  # slopes are taken over a block's length
