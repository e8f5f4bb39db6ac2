"""Blocks bolted while their screws gave sideways: what the rails have beyond the plate's own pose costs nothing."""

from __future__ import annotations

import numpy as np
import pytest

from framevis.carriage import Mechanism
from framevis.deviations import Deviations, Layout, beam_keys, rail_keys
from framevis.equilibrium import solve
from framevis.ride import mean_ride, positions_of, ride_rows
from framevis.risk import effects
from framevis.strip import Strip
from mechanics.sample_machines import GUIDES, LAYOUTS, UP, carriage

BOLTED_MM = 400.0


def layout_of(rails) -> Layout:
    beams = {rail.beam.name: rail.beam for rail in rails}.values()
    strips = {key: Strip(beam.length_mm) for beam in beams for key in beam_keys(beam)}
    return Layout(strips | {key: Strip(rail.beam.length_mm) for rail in rails for key in rail_keys(rail)})


def drag_ratio(layout: str, functions: dict[str, tuple[float, float]]) -> np.ndarray:
    """Of the blocks (blocks, S), for offset and end-to-end slope of functions of the first rail's beam."""
    rails = LAYOUTS[layout](GUIDES["gothic"])
    on = carriage(rails, bolted_at_mm=BOLTED_MM)
    whole = layout_of(rails)
    coefficients = np.zeros(whole.size)
    for kind, values in functions.items():
        start = whole.places[kind, rails[0].beam.name].start
        coefficients[start : start + 2] = values
    deviations = Deviations(whole, coefficients, {})
    mechanism, positions = Mechanism(on, UP), positions_of(on)
    ride = mean_ride(on, deviations, positions)
    rows = ride_rows(whole, {}, on, positions).of(coefficients[:, None])[..., 0]
    np.testing.assert_allclose(rows, ride, atol=1e-9)
    return effects(mechanism, solve(mechanism, ride)).ratio


@pytest.mark.parametrize("layout", ["one beam", "faces", "under"])
@pytest.mark.parametrize("kind", ["bow_lateral", "bow_height"])
def test_a_straight_beam_out_of_line_costs_nothing_on_whatever_faces_its_rails_lie(layout: str, kind: str) -> None:
    np.testing.assert_allclose(drag_ratio(layout, {kind: (300.0, 500.0)}), 1.0, atol=1e-6)


def test_blocks_keep_what_their_rails_had_where_they_were_bolted() -> None:
    """Two beams that stand 300 µm apart cost nothing all along; if they run together, nothing there."""
    np.testing.assert_allclose(drag_ratio("antiparallel", {"bow_lateral": (300.0, 0.0)}), 1.0, atol=1e-6)
    ratio = drag_ratio("antiparallel", {"bow_lateral": (0.0, 60.0)}).max(axis=0)
    positions = np.linspace(100.0, 900.0, ratio.size)
    assert ratio[np.argmin(np.abs(positions - BOLTED_MM))] < 1.3
    assert ratio[0] > 1.5
    assert ratio[-1] > 1.5
