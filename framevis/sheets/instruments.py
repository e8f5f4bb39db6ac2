"""Instruments in the cut across: indicator with straightedge, wire or bar, level, feeler, calliper, scale.

Takes a sweep and where its rails lie in the view; gives what is drawn and how far it reaches. Where the sign of a
sweep can be shown by the side on which the indicator stands, it stands so that the stylus going in is plus.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from framevis.frame import Beam, Edge, Floats, PullSweep, Sweep
from framevis.sheets.cut import Cut, Placed, corners
from framevis.sheets.held import Held
from framevis.sheets.stations import AnySweep

DIAL = 0.19  # radius of an indicator / the block's width


def instrument(sweep: AnySweep, cut: Cut, own: Sequence[Placed]) -> Held:
    """What is put into the cut for a sweep. `own`: the sweep's rails as they lie there."""
    held = Held()
    if isinstance(sweep, PullSweep):
        _pull(held, own)
    elif sweep.kind == "indicator":
        _indicator(held, sweep, own[0])
    elif sweep.kind == "bridge":
        _bridge(held, sweep, own[0], own[1])
    elif sweep.kind == "gap":
        _gap(held, sweep, own)
    elif sweep.kind == "mouth":
        _mouth(held, sweep, cut)
    else:
        _level(held, sweep, cut, own)
    return held


def _dial(held: Held, tip: Floats, way: Floats, size: float) -> Floats:
    """An indicator whose stylus touches at `tip` and looks `way`; gives the middle of its dial."""
    middle = tip - 1.9 * size * way
    held.line([middle, tip], "stem")
    held.dot(middle, size, "dial")
    held.line([middle, middle + 0.75 * size * np.array([-way[1], way[0]])], "stem")
    held.dot(tip, 0.14 * size, "ink")
    return np.asarray(middle)


def _indicator(held: Held, sweep: Sweep, rail: Placed) -> None:
    """The stylus looks the way of plus, so that going in is plus; the reference stands beyond it."""
    guide = rail.rail.guide
    size, lateral = DIAL * guide.block_width_mm, sweep.direction == "lateral"
    way = sweep.sign * (rail.left if lateral else rail.up)
    if sweep.reversed:
        way = -way
    half = guide.block_width_mm / 2.0
    if lateral:
        toward = 1.0 if float(way @ rail.left) > 0.0 else -1.0
        foot = rail.place(toward * half, guide.ball_height_mm)
        tip = rail.place(toward * (half + 4.2 * size), guide.ball_height_mm)
    else:
        foot, tip = rail.place(-half, guide.block_height_mm), rail.place(-half - 1.4 * size, guide.block_height_mm)
        tip = tip + 3.0 * size * way
    if sweep.reference == "face":
        _on_the_face(held, sweep, rail, size)
    else:
        _reference(held, sweep, tip, way, size)
        middle = _dial(held, tip, way, size)
        held.line([foot, middle - size * way] if lateral else [foot, foot - 1.4 * size * rail.left, middle], "arm")
    if lateral:
        held.arrow(rail.place(0.0, 1.35 * guide.block_height_mm), sweep.sign * rail.left, "+")
    else:
        start = rail.place(1.5 * half, (0.2 if sweep.sign > 0.0 else 1.6) * guide.block_height_mm)
        held.arrow(start, sweep.sign * rail.up, "+")


def _reference(held: Held, sweep: Sweep, tip: Floats, way: Floats, size: float) -> None:
    """A straightedge with its working edge at the tip, or a wire."""
    side = np.array([-way[1], way[0]])
    if sweep.reference == "wire":
        held.dot(tip + 0.3 * size * way, 0.3 * size, "ink")
        held.text(tip + 0.6 * size * way, "wire", "middle", dy=-2.0)
        return
    outline = ((-1.3, 0.0), (1.3, 0.0), (1.3, 0.9), (-1.3, 0.9))
    bar = np.array([tip + a * size * side + b * size * way for a, b in outline])
    held.area(bar, "edge-bar")
    below = way[1] < -0.5
    edge = bar[:, 1].min() if below else bar[:, 1].max()
    held.text(np.array([bar[:, 0].mean(), edge]), "straightedge", dy=4.0 if below else -1.2)


def _on_the_face(held: Held, sweep: Sweep, rail: Placed, size: float) -> None:
    """The stylus on the beam's own side, on an arm over its edge."""
    guide, section = rail.rail.guide, rail.rail.beam.section
    if sweep.direction == "height":
        tip = rail.place(-0.5 * guide.block_width_mm - 1.4 * size, 0.0)
        middle = _dial(held, tip, -rail.up, size)
        held.line([rail.place(-0.5 * guide.block_width_mm, guide.block_height_mm), middle], "arm")
        return
    toward = -1.0 if sweep.sign > 0.0 else 1.0
    across = section.width_mm / 2.0 - toward * rail.rail.seat_mm
    tip = rail.place(toward * across, -1.2 * size)
    middle = _dial(held, tip, -toward * rail.left, size)
    held.line(
        [rail.place(0.0, guide.block_height_mm), middle + (guide.block_height_mm + 1.2 * size) * rail.up, middle], "arm"
    )


def _bridge(held: Held, sweep: Sweep, a: Placed, b: Placed) -> None:
    """A bar from the block on A; the stylus touches the block on B so that plus presses it in."""
    guide = b.rail.guide
    size, lateral = DIAL * guide.block_width_mm, sweep.direction == "lateral"
    way = sweep.sign * (a.left if lateral else a.up)  # of plus
    half = guide.block_width_mm / 2.0
    over = max(a.rail.guide.block_height_mm, guide.block_height_mm) * 2.3
    if lateral:
        toward = 1.0 if float(way @ b.left) > 0.0 else -1.0
        tip = b.place(toward * half, guide.ball_height_mm)
    else:
        tip = b.place(0.0, guide.block_height_mm)
    middle = _dial(held, tip, -way if lateral else -b.up, size)
    above = a.place(0.0, over if lateral else over + 2.0 * size)
    along = float((middle - a.at) @ a.left)
    held.line([a.top, above, above + along * a.left, middle], "bar")
    aside = 0.0 if lateral else -1.3 * half
    held.arrow(b.place(aside, (1.6 if lateral else 0.6) * guide.block_height_mm), way, "+", 5.5)


def _edge_at(edge: Edge, own: Sequence[Placed], span_mm: float | None) -> Floats:
    rail = next(each for each in own if each.rail.name == edge.rail.name)
    half = (rail.rail.guide.block_width_mm if span_mm is None else span_mm) / 2.0
    return rail.place(half if edge.side == "left" else -half, rail.rail.guide.block_height_mm)


def _gap(held: Held, sweep: Sweep, own: Sequence[Placed]) -> None:
    """The straightedge across both tops, marks where it touches, the feeler where it goes in."""
    assert sweep.feeler_at is not None
    one, other = (_edge_at(edge, own, sweep.span_mm) for edge in sweep.touches)
    feeler = _edge_at(sweep.feeler_at, own, sweep.span_mm)
    along, up = (other - one) / max(float(np.linalg.norm(other - one)), 1e-9), own[0].up
    size = 0.3 * own[0].rail.guide.block_height_mm
    share = sorted(float((each - one) @ along) for each in (one, other, feeler))
    lift, high = size * up, 2.6 * size * up
    ends = one + (share[0] - 2.0 * size) * along + lift, one + (share[-1] + 2.0 * size) * along + lift
    held.area([ends[0], ends[1], ends[1] + high, ends[0] + high], "edge-bar")
    held.text((ends[0] + ends[1]) / 2.0 + high, "straightedge, on two points", dy=-1.2)
    for at in (one, other):
        held.area([at, at + lift + 0.6 * size * along, at + lift - 0.6 * size * along], "ink")
    rail = next(each for each in own if each.rail.name == sweep.feeler_at.rail.name)
    inward = -rail.left if sweep.feeler_at.side == "left" else rail.left
    from_side = feeler - 3.2 * size * inward + 0.5 * lift
    held.between(from_side, feeler + 0.5 * lift)
    held.text(from_side, "feeler", dy=4.0)


def _mouth(held: Held, sweep: Sweep, cut: Cut) -> None:
    """A dimension line between the flanges, as deep inside as the calliper sits."""
    beam = sweep.station_beam
    section = beam.section
    half, middle = section.width_mm / 2.0 - section.wall_mm, beam.length_mm / 2.0
    depth = sweep.depth_at_mm
    up = -depth if section.mouth == "toward_rails" else -section.depth_mm + depth
    left, right = (cut.of(beam.point(middle, side, up), beam) for side in (half, -half))
    across = right - left
    held.around.append(cut.of(corners(beam), beam))
    held.between(left + 0.5 * across, left)
    held.between(left + 0.5 * across, right)
    held.text(left + 0.5 * across, "calliper: wider = more", dy=-1.5)


def _level(held: Held, sweep: Sweep, cut: Cut, own: Sequence[Placed]) -> None:
    """A level on the block, across both blocks, or on the beam's face; along, only its end is seen."""
    if own:
        feet = [each.top for each in own]
        up, left, wide = own[0].up, own[0].left, own[0].rail.guide.block_width_mm
    else:
        beam = sweep.station_beam
        feet = [cut.of(beam.point(beam.length_mm / 2.0), beam)]
        up, left, wide = cut.axes @ beam.axes[2], cut.axes @ beam.axes[1], _level_on(beam)
    high = 0.28 * wide
    along = sweep.kind == "level_along"
    reach = 0.25 * wide if along else 0.55 * wide
    at = sorted(float(each @ left) for each in feet)
    low = max(feet, key=lambda each: float(each @ up))
    ends = [low + (end - float(low @ left)) * left for end in (at[0] - reach, at[-1] + reach)]
    right_end, left_end = ends
    held.area([right_end, left_end, left_end + high * up, right_end + high * up], "edge-bar")
    middle = (right_end + left_end) / 2.0 + high * up / 2.0
    bubble = min(0.2 * float(np.linalg.norm(left_end - right_end)), 0.5 * wide)
    held.line([middle - bubble * left, middle + bubble * left], "vial")
    if along:
        held.text(middle + high * up, "level, along the rail", "middle", dy=-1.5)
        return
    raised = left_end if sweep.sign > 0.0 else right_end
    held.arrow(raised + high * up, up, "+")


def _level_on(beam: Beam) -> float:
    """How wide a level on a beam's own face is drawn: over an open mouth it reaches from flange to flange."""
    return (0.85 if beam.section.mouth == "toward_rails" else 0.6) * beam.section.width_mm


def _pull(held: Held, own: Sequence[Placed]) -> None:
    """The carriage's plate over the blocks, and the place in its middle where the scale is hooked in."""
    tops = [each.top for each in own]
    left, up = own[0].left, own[0].up
    wide, thick = own[0].rail.guide.block_width_mm, 0.6 * own[0].rail.guide.block_height_mm
    at = sorted(float(each @ left) for each in tops)
    low = max(tops, key=lambda each: float(each @ up))
    right_end, left_end = (low + (end - float(low @ left)) * left for end in (at[0] - wide / 2.0, at[-1] + wide / 2.0))
    held.area([right_end, left_end, left_end + thick * up, right_end + thick * up], "edge-bar")
    hook = (right_end + left_end) / 2.0 + thick * up / 2.0
    held.dot(hook, 0.45 * thick, "dial")
    held.dot(hook, 0.14 * thick, "ink")
    held.text(hook + thick * up, "pull here, along the rails, both ways", "middle", dy=-2.0)
