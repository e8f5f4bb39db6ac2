"""Where readings of a sweep are to be taken: over the whole travel of its blocks, in round steps or at the screws.

Takes a frame and a sweep; gives stations in the frame's own unit, in the order in which they are read.
"""

from __future__ import annotations

from math import ceil, floor
from typing import Literal

import numpy as np

from framevis.errors import BadInput, problem
from framevis.frame import Beam, Frame, PullSweep, Rail, Sweep
from framevis.pictures.geometry import rail_ends
from framevis.reading.door import quoted
from framevis.units import MM_PER_LENGTH_UNIT

AnySweep = Sweep | PullSweep
Every = float | Literal["screw"] | None  # mm; None: what is usual
Span = tuple[float, float]
USUAL = {"mm": 100.0, "in": 4.0}  # common practice; in the frame's own unit
ROUND = {"mm": 1.0, "in": 0.05}
NEAR = 0.25  # of a step: a station nearer than this to an end gives way to it
MOST = 500
OUT_AND_BACK = frozenset({"indicator", "bridge"})


def run(frame: Frame, sweep: AnySweep, every: Every = None) -> tuple[float, ...]:
    """Stations row by row: for indicators and bridges out and back, the turning point once."""
    out = stations(frame, sweep, every)
    goes_back = isinstance(sweep, Sweep) and sweep.kind in OUT_AND_BACK
    return (*out, *reversed(out[:-1])) if goes_back else out


def stations(frame: Frame, sweep: AnySweep, every: Every = None) -> tuple[float, ...]:
    """Stations one way, both ends of the travel among them. Raises `BadInput` where there can't be any."""
    mm, grain = MM_PER_LENGTH_UNIT[frame.length_unit], ROUND[frame.length_unit]
    low_mm, high_mm = reach_mm(frame, sweep)
    low = _rounded(ceil(low_mm / mm / grain - 1e-6) * grain)
    high = _rounded(floor(high_mm / mm / grain + 1e-6) * grain)
    if high <= low:
        return (_rounded((low_mm + high_mm) / 2.0 / mm),)
    screws = _screws(frame, sweep, low, high) if every == "screw" else ()
    if screws:
        return screws
    step = _step(frame, sweep) if every is None or every == "screw" else every / mm
    if (high - low) / step > MOST:
        what = f"{(high - low) / step:.0f} stations for sweep {quoted(sweep.name)}"
        raise BadInput(problem("--every", what, f"give a step with which there are at most {MOST}"))
    first = low if _is_stepped(sweep) else ceil(low / step) * step
    between = (_rounded(first + i * step) for i in range(int((high - first) / step + 1e-6) + 1))
    return (low, *(at for at in between if at - low > NEAR * step and high - at > NEAR * step), high)


def _rounded(value: float) -> float:
    return round(value, 4)


def _is_stepped(sweep: AnySweep) -> bool:
    """A level that is stepped along goes by its own length, foot on mark."""
    return isinstance(sweep, Sweep) and sweep.kind == "level_along"


def _step(frame: Frame, sweep: AnySweep) -> float:
    if isinstance(sweep, Sweep) and _is_stepped(sweep) and sweep.base_mm is not None:
        return sweep.base_mm / MM_PER_LENGTH_UNIT[frame.length_unit]
    return USUAL[frame.length_unit]


def reach_mm(frame: Frame, sweep: AnySweep) -> Span:
    """From where to where (mm) there is something to read: what blocks reach, within the beams."""
    if isinstance(sweep, PullSweep):
        return sweep.carriage.travel_mm
    beam = sweep.station_beam
    half = (sweep.base_mm or 0.0) / 2.0 if sweep.kind == "level_along" else 0.0
    allowed = _common((half, beam.length_mm - half), *(_seen_from(beam, rail.beam) for rail in sweep.rails))
    if allowed is None:
        what = f"the rails of sweep {quoted(sweep.name)} have no stations beside each other"
        raise BadInput(problem("frame.toml", what, "correct the rails of the sweep, or the ends of their beams"))
    if sweep.rails:
        wanted = _common(*(_blocks_on(frame, rail, beam) for rail in sweep.rails))
    else:
        own = [_blocks_on(frame, rail, beam) for rail in frame.rails if rail.beam is beam]
        wanted = (min(low for low, _ in own), max(high for _, high in own)) if own else (0.0, beam.length_mm)
    return (_common(allowed, wanted) if wanted is not None else None) or allowed


def _common(*spans: Span) -> Span | None:
    low, high = max(each[0] for each in spans), min(each[1] for each in spans)
    return (low, high) if low <= high else None


def _seen_from(beam: Beam, other: Beam) -> Span:
    """The ends of another beam as stations of this one."""
    if other is beam:
        return 0.0, beam.length_mm
    ends = sorted(beam.station_of(other.point(at)) for at in (0.0, other.length_mm))
    return ends[0], ends[1]


def _blocks_on(frame: Frame, rail: Rail, beam: Beam) -> Span:
    """How far the blocks on a rail get, as stations of a beam; of a rail without blocks, all of it."""
    reached: list[float] = []
    for carriage in frame.carriages:
        for block in carriage.blocks:
            if block.rail.name == rail.name:
                reached += [carriage.station(block, at) for at in carriage.travel_mm]
    reached = reached or list(rail_ends(rail))
    seen = sorted(beam.station_of(rail.beam.point(at)) for at in (min(reached), max(reached)))
    return seen[0], seen[1]


def _screws(frame: Frame, sweep: AnySweep, low: float, high: float) -> tuple[float, ...]:
    """Every screw within the reach, and an end where the last screw is more than half a pitch from it."""
    rail = _rail_of(frame, sweep)
    if rail is None:
        return ()
    mm, half = MM_PER_LENGTH_UNIT[frame.length_unit], 0.5 * rail.guide.screw_pitch_mm
    at = np.asarray(rail.screw_stations_mm) / mm
    inside = [_rounded(float(each)) for each in at if low <= each <= high][: MOST + 1]
    if len(inside) > MOST:
        raise BadInput(problem("--every", f"{len(at)} screws on rail {quoted(rail.name)}", "give a step instead"))
    if not inside:
        return ()
    before = [low] if inside[0] - low > half / mm else []
    after = [high] if high - inside[-1] > half / mm else []
    return (*before, *inside, *after)


def _rail_of(frame: Frame, sweep: AnySweep) -> Rail | None:
    """The rail whose screws are taken as stations."""
    if isinstance(sweep, PullSweep):
        return sweep.carriage.blocks[0].rail
    if sweep.rails:
        return sweep.rails[0]
    return next((rail for rail in frame.rails if rail.beam is sweep.beam), None)
