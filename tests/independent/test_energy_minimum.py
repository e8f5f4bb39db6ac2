"""The equilibrium as what it is by the principle of least potential energy: a minimum, found by a general minimiser.

Independent: the energy ball by ball (`total_energy`), and `scipy.optimize.minimize`'s trust region, which knows nothing
of lines, seats in series or Newton steps. Shared with framevis: the frame's records, and that motions are small.
`tests/mechanics` holds forces and moments against each other; here neither is solved for.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.optimize import minimize

from framevis.carriage import Mechanism
from framevis.equilibrium import solve
from framevis.frame import BlockSpot, SeatStiffness, Shim
from independent.total_energy import TotalEnergy, total_energy
from mechanics.sample_machines import GUIDES, LAYOUTS, UP, carriage
from mechanics.slow_reference import SlowCarriage

SCALE = np.array([8.0, 8.0, 0.3, 0.3, 0.3])  # µm, µm, mrad
STATES = 2
SOME_SOFT = SeatStiffness(20.0, 60.0, None, 2.0, None)
ALL_SOFT = SeatStiffness(5.0, 20.0, 0.3, 0.5, 0.4)
PARTS = (("full", 10.0), ("left", 20.0), ("right", 25.0), ("left", 10.0))


@dataclass(frozen=True)
class Case:
    layout: str
    arrangement: str
    preload_um: float = 1.5
    seat: SeatStiffness | None = None
    shims: bool = False

    def __str__(self) -> str:
        seat = {None: "rigid", SOME_SOFT: "some soft", ALL_SOFT: "all soft"}[self.seat]
        return f"{self.layout}, {self.arrangement}, {self.preload_um:g} um, {seat}{', shims' if self.shims else ''}"


CASES = [
    Case("one beam", "gothic"),
    Case("faces", "O"),
    Case("antiparallel", "X"),
    Case("one beam", "gothic", -2.0),
    Case("one beam", "O", 0.0),
    Case("faces", "X", -1.0, SOME_SOFT),
    Case("one beam", "gothic", 1.5, ALL_SOFT),
    Case("antiparallel", "O", 2.5, SOME_SOFT, shims=True),
    Case("under", "X", 1.0, shims=True),
    Case("one beam", "X", -2.0, ALL_SOFT, shims=True),
]


def mechanism_of(case: Case) -> Mechanism:
    guide = replace(GUIDES[case.arrangement], preload_interference_um=case.preload_um)
    ridden = carriage(LAYOUTS[case.layout](guide), seat_stiffness=case.seat, mass_kg=9.0, centre_mm=(5.0, -12.0, 60.0))
    names = [block.name for block in ridden.blocks] if case.shims else []
    shims = (Shim("now", BlockSpot("c", name, part), um) for name, (part, um) in zip(names, PARTS, strict=False))
    return Mechanism(ridden, UP, tuple(shims))


def least(energy: TotalEnergy) -> np.ndarray:
    """Where a general minimiser finds the energy least, from the plate as drawn (seats as drawn).

    Unknowns are scaled by the stiffness that every ball would have at 1 µm, as a trust region is a ball.
    """
    scale = 1.0 / np.sqrt(np.sum(energy.stiffness[:, None] * energy.approach**2, axis=0) + energy.springs)
    found = minimize(
        lambda z: energy.value(scale * z),
        np.zeros(scale.size),
        jac=lambda z: scale * energy.gradient(scale * z),
        hess=lambda z: np.outer(scale, scale) * energy.hessian(scale * z),
        method="trust-exact",
        options={"gtol": 1e-10, "maxiter": 2000, "max_trust_radius": 1e4},
    )
    return np.asarray(scale * found.x)


@pytest.mark.parametrize("case", CASES, ids=str)
def test_framevis_finds_the_minimum(case):
    """Pose within 1e-5 µm at the blocks, ΣQ and highest load within 1e-6 of the largest."""
    mechanism = mechanism_of(case)
    moves = np.random.default_rng(sum(str(case).encode())).normal(size=(STATES, len(mechanism.lines), 5)) * SCALE
    found = solve(mechanism, np.transpose(moves, (1, 2, 0)))
    slow = SlowCarriage(mechanism.carriage, UP, mechanism.shims)
    for k in range(STATES):
        energy = total_energy(slow, moves[k])
        x = least(energy)
        loads = [energy.loads(x)[energy.block == b] for b in range(len(slow.blocks))]
        total, peak = np.array([each.sum() for each in loads]), np.array([each.max() for each in loads])
        lever = np.array([1.0, 1.0, mechanism.span_mm, mechanism.span_mm, mechanism.span_mm])
        np.testing.assert_allclose(found.plate[:, k] * lever, x[:5] * lever, atol=1e-5)
        np.testing.assert_allclose(found.load_sum_n[:, k], total, atol=1e-6 * total.max())
        np.testing.assert_allclose(found.peak_n[:, k], peak, atol=1e-6 * peak.max())
