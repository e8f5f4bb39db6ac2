"""From draws of the deviations to a verdict per block.

Takes a carriage, the posterior and its draws, gives drag, pressure, safety along the travel and the chances that
the worst station is tight or binding. The 5 % below which a block counts as free is the guard band in the sense
of ISO 14253-1: conformity is claimed only where the readings leave little doubt.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from framevis.carriage import Mechanism
from framevis.contact import pressure_of
from framevis.equilibrium import Equilibrium, Near, on_perfect_frame, solve
from framevis.frame import Floats, Limits
from framevis.verdicts import BlockAssessment, CarriageAssessment, Verdict

GUARD_BAND = 0.05
LEAST_DRAG_N = 0.01  # a block that floats in its clearance on a perfect frame has no drag to compare with


@dataclass(frozen=True, eq=False)
class Effects:
    """What a solved state means for each block: drag (blocks, N) N, drag ratio, static safety."""

    drag_n: Floats
    ratio: Floats
    safety: Floats


def drag_of(mechanism: Mechanism, solved: Equilibrium) -> Floats:
    """seal drag + friction · ΣQ, (blocks, N) N."""
    guides = [line.guide for line in mechanism.lines]
    seal = np.array([guide.seal_drag_n for guide in guides])[:, None]
    friction = np.array([guide.friction for guide in guides])[:, None]
    return np.asarray(seal + friction * solved.load_sum_n)


def perfect_drag(mechanism: Mechanism) -> Floats:
    """Drag of each block on a perfect frame, under the same weight and without shims, (blocks, 1) N."""
    return np.maximum(drag_of(mechanism, on_perfect_frame(mechanism)), LEAST_DRAG_N)


def effects(mechanism: Mechanism, solved: Equilibrium) -> Effects:
    drag = drag_of(mechanism, solved)
    static = np.array([line.static_n for line in mechanism.lines])[:, None]
    safety = static / np.maximum(solved.peak_n, 1e-9 * static)
    return Effects(drag, drag / perfect_drag(mechanism), safety)


def verdict_of(p_tight: float, p_binding: float) -> Verdict:
    """Section 5 of the design."""
    if p_binding >= 0.5:
        return "binding"
    if p_tight >= 0.5:
        return "tight"
    return "free" if p_tight <= GUARD_BAND else "unsure"


def only_unsafe(ratio: Floats, safety: Floats, limits: Limits) -> bool:
    """Whether a block fails its static safety but, along the whole travel, not its drag ratio (arrays (S,))."""
    return bool(safety.min() < limits.static_safety and ratio.max() < limits.binding_drag_ratio)


def _worst(ratio: Floats, safety: Floats, limits: Limits) -> int:
    """Where a block suffers most: where its drag ratio is highest, or its safety lowest if only that fails."""
    return int(np.argmin(safety) if only_unsafe(ratio, safety, limits) else np.argmax(ratio))


def assess(
    mechanism: Mechanism, limits: Limits, positions_mm: Floats, mean: Floats, draws: Floats
) -> CarriageAssessment:
    """Assess a carriage at positions (S,) for the mean ride (blocks, 5, S) and its draws (blocks, 5, S, D)."""
    blocks, _, stations, count = draws.shape
    solved = solve(mechanism, mean)
    misfit = solved.displacement
    if mechanism.carriage.seat_stiffness is not None:
        misfit = solve(mechanism, mean, rigid_seats=True).displacement
    here = effects(mechanism, solved)
    near = Near(solved, mean).repeated(count)
    solved_draws = solve(mechanism, draws.reshape(blocks, 5, stations * count), near=near)
    drawn = effects(mechanism, solved_draws)
    ratio = drawn.ratio.reshape(blocks, stations, count)
    unsafe = drawn.safety.reshape(blocks, stations, count).min(axis=1) < limits.static_safety
    worst = ratio.max(axis=1)
    p_binding = np.mean((worst >= limits.binding_drag_ratio) | unsafe, axis=1)
    tight = (worst >= limits.tight_drag_ratio) | unsafe
    p_tight = np.mean(tight, axis=1)
    p05, p95 = np.quantile(ratio, (0.05, 0.95), axis=2)
    assessed = [
        BlockAssessment(
            block=block,
            verdict=verdict_of(float(p_tight[i]), float(p_binding[i])),
            p_tight=float(p_tight[i]),
            p_binding=float(p_binding[i]),
            worst_station_mm=float(positions_mm[_worst(here.ratio[i], here.safety[i], limits)]),
            misfit=misfit[i],
            drag_n=here.drag_n[i],
            drag_ratio=here.ratio[i],
            drag_ratio_p95=p95[i],
            drag_ratio_p05=p05[i],
            peak_pressure_mpa=pressure_of(solved.peak_n[i], mechanism.lines[i].static_n),
            static_safety=here.safety[i],
            tight_draws=tight[i],
        )
        for i, block in enumerate(mechanism.carriage.blocks)
    ]
    residual = max(float(solved.residual.max()), float(solved_draws.residual.max()))
    return CarriageAssessment(mechanism.carriage, positions_mm, tuple(assessed), residual)
