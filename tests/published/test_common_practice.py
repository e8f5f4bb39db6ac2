"""Common practice, no source: what a 15 mm four-point guide of light preload does on blocks 32 mm wide.

Each value goes from a deviation function of the frame through the ride and the equilibrium to the drag ratio; the
limits between free, tight and binding are the default ones.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from ledger import Range, Source, at_least, below, check
from practice_gantry import UP, carriage, rail_pair

from framevis.carriage import Mechanism
from framevis.deviations import Deviations, Key, Layout
from framevis.equilibrium import solve
from framevis.frame import BlockSpot, Carriage, Frame, Limits, SeatStiffness, Shim
from framevis.ride import mean_ride, positions_of
from framevis.risk import effects

SOURCE = Source(
    "Common practice of those who build gantries",
    "Facts of the trade",
    "No source. A 15 mm four-point guide of light preload, two blocks 32 mm wide on each rail. The channel has "
    "opened by the same angle all along; the blocks were bolted down on it, so they stand at the rails' own "
    "spacing and only the roll between the two rails is left. Listed is the highest drag of any block over the "
    "travel, as a multiple of that on a perfect frame: free below 1.5, binding from 3. Bows sideways: plate, "
    "screws and beam walls give some 20 N/µm a block.",
)
LIMITS = Limits()
START_MM, LENGTH_MM = 80.0, 1500.0
BLOCK_WIDTH_MM = 32.0

# Plate, screws and the walls of a beam give sideways, some 20 N/µm a block; roll, height and the angles stay rigid
SIDEWAYS = SeatStiffness(lateral_n_per_um=20.0)
LOOSE = SeatStiffness(*(0.01,) * 5)


def worst_drag_ratio(ridden: Carriage, key: Key, function, shims: tuple[Shim, ...] = ()) -> float:
    """Highest drag ratio of any block over the travel where one function deviates."""
    outer, inner = rail_pair()
    frame = Frame("", "mm", ("now",), LIMITS, None, UP, (outer.beam,), (outer, inner), (ridden,), (), shims)
    layout = Layout.of(frame)
    deviations = Deviations(layout, np.zeros(layout.size), {key: function})
    mechanism = Mechanism(ridden, UP, shims)
    solved = solve(mechanism, mean_ride(ridden, deviations, positions_of(ridden)))
    assert solved.residual.max() < 1e-6
    return float(effects(mechanism, solved).ratio.max())


def opened(ridden: Carriage, um_across_block: float, shims: tuple[Shim, ...] = ()) -> float:
    """The channel has opened so far that each block is rolled by so much across its width against the plate."""
    angle_mrad = um_across_block / BLOCK_WIDTH_MM

    def opening(s, derivative):
        return np.full(np.shape(s), angle_mrad if derivative == 0 else 0.0)

    return worst_drag_ratio(ridden, ("opening", "left"), opening, shims)


def bowed_sideways(ridden: Carriage, bow_um: float) -> float:
    """One rail of the pair has a parabolic bow over its whole length."""

    def bow(s, derivative):
        along = np.asarray(s) / LENGTH_MM
        return 4.0 * bow_um * (along * (1.0 - along) if derivative == 0 else (1.0 - 2.0 * along) / LENGTH_MM)

    return worst_drag_ratio(ridden, ("own_lateral", "outer"), bow)


def layers(thickness_um: float, count: int, edges: dict[str, str]) -> tuple[Shim, ...]:
    """Shims between plate and block, at an edge of every block."""
    ridden = carriage()
    spots = [BlockSpot(ridden.name, block.name, edges[block.rail.name]) for block in ridden.blocks]
    return tuple(Shim("now", spot, thickness_um) for spot in spots for _ in range(count))


OUTER_EDGES = {"outer": "left", "inner": "right"}  # flanges that splay let the outer edges down: there is the gap
INNER_EDGES = {"outer": "right", "inner": "left"}


def free(what: str, ratio: float) -> Range:
    return below(what, "1", LIMITS.tight_drag_ratio, ratio, "common practice")


def tight(what: str, ratio: float) -> Range:
    return Range(what, "1", LIMITS.tight_drag_ratio, LIMITS.binding_drag_ratio, ratio, "common practice")


def not_free(what: str, ratio: float) -> Range:
    return at_least(what, "1", LIMITS.tight_drag_ratio, ratio, "common practice")


def binding(what: str, ratio: float, times: float = 1.0) -> Range:
    return at_least(what, "1", times * LIMITS.binding_drag_ratio, ratio, "common practice")


def of_an_opened_channel(ridden: Carriage) -> list[Range]:
    loose = carriage(LOOSE, START_MM)  # loose screws: a seat that gives a hundred µm for a newton
    return [
        binding("80 µm across the blocks lock the carriage", opened(ridden, 80.0), times=2.0),
        binding("40 µm still bind", opened(ridden, 40.0)),
        tight("a remainder of 20 µm sticks a little", opened(ridden, 20.0)),
        free("10 µm are free", opened(ridden, 10.0)),
        free("80 µm with the bolts loose move freely", opened(loose, 80.0)),
    ]


def of_shims(ridden: Carriage) -> list[Range]:
    return [
        free("80 µm, two layers of 40 µm cure it", opened(ridden, 80.0, layers(40.0, 2, OUTER_EDGES))),
        free("40 µm, one layer of 40 µm cures it", opened(ridden, 40.0, layers(40.0, 1, OUTER_EDGES))),
        binding("80 µm, one layer too few leaves it binding", opened(ridden, 80.0, layers(40.0, 1, OUTER_EDGES))),
        *(worse_at_the_wrong_edges(ridden, um) for um in (80.0, 40.0, 20.0)),
    ]


def worse_at_the_wrong_edges(ridden: Carriage, um: float) -> Range:
    times = opened(ridden, um, layers(40.0, 1, INNER_EDGES)) / opened(ridden, um)
    return at_least(f"{um:g} µm, shims at the wrong edges: times the drag without", "1", 1.3, times, "common practice")


def of_a_sideways_bow() -> list[Range]:
    giving, rigid = carriage(SIDEWAYS, START_MM), carriage(None, START_MM)
    return [
        not_free("a sideways bow of 0.1 mm is felt", bowed_sideways(giving, 100.0)),
        free("a sideways bow of 0.03 mm is acceptable", bowed_sideways(giving, 30.0)),
        # rigid seats are the safe side: framevis's answer without stiffness
        not_free("0.03 mm where seats don't give at all: no longer free", bowed_sideways(rigid, 30.0)),
    ]


@cache
def values() -> tuple[Range, ...]:
    ridden = carriage(bolted_at_mm=START_MM)
    return (*of_an_opened_channel(ridden), *of_shims(ridden), *of_a_sideways_bow())


def test_values() -> None:
    check(values())
