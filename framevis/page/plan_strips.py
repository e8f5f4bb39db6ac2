"""A plan drawn flat: each rail with its screws numbered, and bars as high as the shims at each screw are thick.

Takes a plan, gives SVG. Seen from above, the rail's start at the left: bars above the rail lie under its left edge,
bars below it under its right edge; what lies under the full width shows on both sides.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from framevis.frame import Frame, Part, Rail, RailSpot, Shim
from framevis.page.embed import text
from framevis.pictures.geometry import rail_ends
from framevis.plan import Plan
from framevis.planning.plan_runs import push_said, runs, todo, where
from framevis.say import length, printable, thickness
from framevis.units import UM_PER_UNIT

WIDTH, HIGH, BAND, MARGIN = 1000.0, 52.0, 26.0, 12.0  # the whole, the highest bar, the rail itself, beside it
TITLE, FIGURES, PUSH_HIGH = 18.0, 16.0, 40.0
LEAST_PX = 17.0  # a screw takes at least so much where its number is written
SIDES: tuple[Part, Part] = ("left", "right")


@dataclass(frozen=True)
class Stack:
    """Thickness (µm) at one edge of one screw that stays, comes in, goes out."""

    stays: float
    comes: float
    goes: float


@dataclass(frozen=True)
class Strip:
    """One rail with what lies at each screw and edge."""

    rail: Rail
    stacks: dict[tuple[int, Part], Stack]
    pushes: dict[int, float]

    @property
    def highest_um(self) -> float:
        return max((s.stays + s.comes + s.goes for s in self.stacks.values()), default=0.0)

    def x(self, station_mm: float) -> float:
        low, high = rail_ends(self.rail)
        return MARGIN + (station_mm - low) / (high - low) * (WIDTH - 2.0 * MARGIN)

    def room(self, side: Part) -> float:
        """What bars at one edge, with their figures, take."""
        return HIGH + FIGURES if any(key[1] == side for key in self.stacks) else 0.0

    @property
    def pitch_px(self) -> float:
        low, high = rail_ends(self.rail)
        return self.rail.guide.screw_pitch_mm / (high - low) * (WIDTH - 2.0 * MARGIN)


def strips_of(plan: Plan) -> list[Strip]:
    """A strip for each rail at which something is done."""
    frame = plan.before.frame
    touched = {f.spot.rail for f in plan.fittings if isinstance(f.spot, RailSpot)} | {p.rail for p in plan.pushes}
    now = plan.before.frame.shims_at(plan.before.stage)
    then = plan.after.frame.shims_at(plan.after.stage)
    return [_strip(plan, rail, now, then) for rail in frame.rails if rail.name in touched]


def _strip(plan: Plan, rail: Rail, now: Iterable[Shim], then: Iterable[Shim]) -> Strip:
    before, after = _thickness(rail, now), _thickness(rail, then)
    stacks = {}
    for key in before.keys() | after.keys():
        a, b = before.get(key, 0.0), after.get(key, 0.0)
        stacks[key] = Stack(min(a, b), max(b - a, 0.0), max(a - b, 0.0))
    return Strip(rail, stacks, {push.screw: push.push_um for push in plan.pushes if push.rail == rail.name})


def _thickness(rail: Rail, shims: Iterable[Shim]) -> dict[tuple[int, Part], float]:
    found: dict[tuple[int, Part], float] = {}
    for shim in shims:
        if isinstance(shim.spot, RailSpot) and shim.spot.rail == rail.name:
            for side in SIDES if shim.spot.part == "full" else (shim.spot.part,):
                key = shim.spot.screw, side
                found[key] = found.get(key, 0.0) + shim.thickness_um
    return found


def strip_figures(plan: Plan) -> str:
    strips = strips_of(plan)
    highest = max((strip.highest_um for strip in strips), default=0.0)
    return "".join(_figure(plan, strip, highest) for strip in strips)


def _figure(plan: Plan, strip: Strip, highest_um: float) -> str:
    frame, rail = plan.before.frame, strip.rail
    middle = TITLE + strip.room("left") + BAND / 2.0
    foot = middle + BAND / 2.0 + strip.room("right") + TITLE
    tall = foot + (PUSH_HIGH if strip.pushes else 0.0)
    parts = [_band(frame, strip, middle, foot)]
    parts += [_stack(frame, strip, key, stack, middle, highest_um) for key, stack in sorted(strip.stacks.items())]
    parts += [_push(frame, strip, screw, um, foot) for screw, um in strip.pushes.items()]
    said = _said(plan, strip)
    words = f"Rail {printable(rail.name)} from its start (left) to its end: {said}."
    svg = (
        f'<svg class="strip" viewBox="0 0 {WIDTH:.0f} {tall:.0f}" role="img" aria-label="{text(words)}">'
        f"{''.join(parts)}</svg>"
    )
    return (
        f'<figure class="wide" tabindex="0" role="group" aria-label="{text(f"Strip of rail {rail.name}")}">{svg}'
        f"<figcaption>{text(words)}</figcaption></figure>"
    )


def _band(frame: Frame, strip: Strip, middle: float, foot: float) -> str:
    """The rail with its screws and their numbers."""
    rail, top = strip.rail, middle - BAND / 2.0
    found = [f'<rect class="strip-rail" x="{MARGIN}" y="{top}" width="{WIDTH - 2.0 * MARGIN}" height="{BAND}"/>']
    every = max(1, -int(-LEAST_PX // strip.pitch_px))
    for i, station in enumerate(rail.screw_stations_mm.tolist()):
        x = strip.x(station)
        if i % every == 0 or i + 1 == rail.screws:
            found.append(f'<text class="middle" x="{x:.1f}" y="{middle + 4.0}">{i + 1}</text>')
    for y, words in ((13.0, "left edge"), (foot - 5.0, "right edge")):
        found.append(f'<text class="name" x="{MARGIN}" y="{y}">{words}</text>')
    ends = (f"start, {length(frame, rail_ends(rail)[0])}", f"end, {length(frame, rail_ends(rail)[1])}")
    found.append(f'<text class="name end" x="{WIDTH - MARGIN}" y="13">{text(f"{ends[0]}; {ends[1]}")}</text>')
    return "".join(found)


def _stack(frame: Frame, strip: Strip, key: tuple[int, Part], stack: Stack, middle: float, highest_um: float) -> str:
    """What lies under one edge at one screw: what stays next to the rail, then what comes or goes."""
    screw, side = key
    way = -1.0 if side == "left" else 1.0
    x = strip.x(float(strip.rail.screw_stations_mm[screw - 1]))
    wide, at, found = 0.76 * strip.pitch_px, middle + way * BAND / 2.0, []
    for um, kind in ((stack.stays, "stays"), (stack.comes, "fit"), (stack.goes, "out")):
        if um > 0.0:
            long = um / highest_um * HIGH
            y = at - long if way < 0.0 else at
            box = f'x="{x - wide / 2.0:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{long:.1f}"'
            found.append(f'<rect class="{kind}" {box}/>')
            at += way * long
    if strip.stacks.get((screw - 1, side)) != stack:
        y = at - 4.0 if way < 0.0 else at + 13.0
        found.append(f'<text class="middle" x="{x:.1f}" y="{y:.1f}">{_figures(frame, stack)}</text>')
    return "".join(found)


def _figures(frame: Frame, stack: Stack) -> str:
    """10, or −40 for what goes out, in µm or thou."""
    um = stack.comes or -stack.goes or stack.stays
    value = um if frame.length_unit == "mm" else um / UM_PER_UNIT["thou"]
    return f"{value:.3g}".replace("-", "−")


def _push(frame: Frame, strip: Strip, screw: int, um: float, top: float) -> str:
    """An arrow up for left, down for right, and how far."""
    x, way = strip.x(float(strip.rail.screw_stations_mm[screw - 1])), -1.0 if um > 0.0 else 1.0
    y, half = top + 10.0, 0.3 * min(strip.pitch_px, 26.0)
    tip = y + 9.0 * way
    shaft = f"M{x:.1f} {y - 9.0 * way:.1f}V{y:.1f}"
    head = f"M{x - half:.1f} {y:.1f}H{x + half:.1f}L{x:.1f} {tip:.1f}Z"
    value = abs(um) if frame.length_unit == "mm" else abs(um) / UM_PER_UNIT["thou"]
    words = f'<text class="middle" x="{x:.1f}" y="{top + 31.0}">{value:.0f}</text>' if strip.pitch_px > LEAST_PX else ""
    return f'<path class="push-line" d="{shaft}"/><path class="push" d="{head}"/>{words}'


def _said(plan: Plan, strip: Strip) -> str:
    """In words, for whoever doesn't see the drawing."""
    frame, rail = plan.before.frame, strip.rail
    those = [f for f in plan.fittings if isinstance(f.spot, RailSpot) and f.spot.rail == rail.name]
    said = [f"{todo(frame, run)} under the {where(run)[2]} at {_at(run.screws)}" for run in runs(those)]
    pushes = [push for push in plan.pushes if push.rail == rail.name]
    if pushes:
        largest = max(pushes, key=lambda push: abs(push.push_um)).push_um
        said.append(f"to be pushed at {len(pushes)} screws, at most {push_said(frame, largest)}")
    stays = max((stack.stays for stack in strip.stacks.values()), default=0.0)
    if stays > 0.0:
        said.append(f"shims up to {thickness(frame, stays)} stay (grey)")
    return "; ".join(said)


def _at(screws: tuple[int, int]) -> str:
    low, high = screws
    return f"screw {low}" if low == high else f"screws {low}–{high}"
