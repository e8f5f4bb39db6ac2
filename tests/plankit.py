"""Small gantries for tests of shim plans, as records: a beam, a pair of rails, a carriage of four blocks or two."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from framevis.deviations import Deviations, Key
from framevis.frame import (
    Beam,
    Block,
    Carriage,
    Floats,
    Frame,
    Guide,
    Limits,
    Material,
    Rail,
    SeatStiffness,
    Section,
    Shim,
    ShimStock,
    Sweep,
    locked,
)
from framevis.study import Study, work_through
from guides import GUIDE_15
from later import stage
from machines import measure, rough, shape

CHANNEL = Section("channel", "channel", 120.0, 60.0, 5.0, "toward_rails", Material("aluminium", 70.0, 23.6e-6))
BOX = Section("box", "box", 100.0, 70.0, 4.0, None, Material("aluminium", 70.0, 23.6e-6))
STOCK = ShimStock((20.0, 40.0), None, 3)
Function = Callable[[Floats], Floats]


def beam(length: float, section: Section = CHANNEL, name: str = "left", x: float = 0.0) -> Beam:
    return Beam(name, section, locked([x, 0, 0]), locked([x, length, 0]), locked([0, 0, 1]))


def pair(on: Beam, guide: Guide = GUIDE_15, screws: int | None = None) -> tuple[Rail, Rail]:
    """Two rails on a beam with as many screws as fit, or so many."""
    fit = int((on.length_mm - 20.0) // guide.screw_pitch_mm) + 1 if screws is None else screws
    return Rail("outer", on, guide, 57.5, 20.0, fit), Rail("inner", on, guide, -57.5, 20.0, fit)


def four(rails: Sequence[Rail], name: str = "left", along: float = 45.0, middle: float = 0.0) -> tuple[Block, ...]:
    return tuple(
        Block(f"{end}_{rail.name}", rail, middle + sign * along)
        for rail in rails
        for end, sign in (("front", 1.0), ("rear", -1.0))
    )


def gantry(
    length: float = 600.0,
    stock: ShimStock | None = STOCK,
    guide: Guide = GUIDE_15,
    section: Section = CHANNEL,
    shims: Sequence[Shim] = (),
    screws: int | None = None,
    **of_carriage: Any,
) -> Frame:
    """A beam with a pair of rails and one carriage, and sweeps that see all of it."""
    rails = pair(beam(length, section), guide, screws)
    travel = of_carriage.pop("travel_mm", (80.0, length - 80.0))
    blocks = of_carriage.pop("blocks", four(rails))
    ridden = Carriage("left", blocks, travel, **{"bolted_at_mm": travel[0], **of_carriage})
    return frame_of(rails, (ridden,), stock, shims)


def frame_of(
    rails: tuple[Rail, ...], carriages: tuple[Carriage, ...], stock: ShimStock | None, shims: Sequence[Shim] = ()
) -> Frame:
    beams = tuple({rail.beam.name: rail.beam for rail in rails}.values())
    return Frame(
        "test", "mm", ("now", "after"), Limits(), stock, locked([0, 0, 1]), beams, rails, carriages, sweeps(rails),
        tuple(shims),
    )  # fmt: skip


def sweeps(rails: Sequence[Rail]) -> tuple[Sweep, ...]:
    """Every rail's roll and that of each pair by one level, the first rail's lateral and height, the others' to it."""
    first, *others = rails
    made = [Sweep(f"{rail.name}_roll", "level_across", 0.003, (rail,), instrument="level") for rail in rails]
    made += [Sweep(f"{first.name}_{way}", "indicator", 0.3, (first,), None, way) for way in ("lateral", "height")]
    for rail in others:
        made += [Sweep(f"{rail.name}_across", "level_across", 0.003, (first, rail), instrument="level")]
        made += [Sweep(f"{rail.name}_lateral", "bridge", 0.3, (first, rail), None, "lateral")]
        made += [Sweep(f"{rail.name}_height", "bridge", 0.3, (first, rail), None, "height", absolute=True)]
    return tuple(made)


def study(
    frame: Frame, true: Deviations, draws: int = 100, noise: float = 0.3, seed: int = 0, step: float = 40.0
) -> Study:
    """The stage `now` of a frame with a true shape, measured and worked through."""
    return work_through(frame, stage(frame, "now", measure(frame, true, step, noise, seed)), draws)


def shaped(frame: Frame, functions: Mapping[Key, Function], **how: Any) -> Study:
    """A study of a frame whose functions of x = station / length are given."""
    return study(frame, shape(frame, functions), **how)


def random_study(frame: Frame, seed: int, size: float, **how: Any) -> Study:
    return study(frame, rough(frame, seed, size), seed=seed, **how)


def constant(value: float) -> Function:
    return lambda x: np.full_like(x, value)


def with_shims(frame: Frame, shims: Sequence[Shim]) -> Frame:
    return replace(frame, shims=tuple(shims))


def portal_of(
    stock: ShimStock | None, guide: Guide = GUIDE_15, shims: Sequence[Shim] = (), seats: SeatStiffness | None = None
) -> Frame:
    """Two beams side by side with a rail on the middle of each, and a carriage that spans them."""
    length, left = 800.0, beam(800.0, BOX)
    right = beam(length, BOX, "right", 300.0)
    rails = Rail("outer", left, guide, 0.0, 20.0, 20), Rail("inner", right, guide, 0.0, 20.0, 20)
    ridden = Carriage("left", four(rails), (80.0, length - 80.0), bolted_at_mm=80.0, seat_stiffness=seats)
    return frame_of(rails, (ridden,), stock, shims)
