"""Deviation curves of each rail with uncertainty, readings and suspects, and the ribbon of risk below them.

Takes a study, gives SVG figures: lateral, height and roll of every rail.
"""

from __future__ import annotations

import numpy as np

from framevis.curves import Curve, RailCurves, rail_curves
from framevis.deviations import Component
from framevis.frame import Rail
from framevis.page.chart import HEIGHT, WIDTH, Axes, around, band, chart, grid, line
from framevis.page.embed import text
from framevis.page.fitted import Point, points
from framevis.report import iso_symbols
from framevis.ribbon import LEVELS, ribbons
from framevis.say import length, printable, small
from framevis.study import Study
from framevis.units import MM_PER_LENGTH_UNIT, UM_PER_UNIT

RIBBON_HEIGHT, RIBBON_FOOT = (2.0, 5.0, 9.0, 13.0), 14.0
COMPONENTS: tuple[Component, ...] = ("lateral", "height", "roll")
LEAST = {"lateral": 10.0, "height": 10.0, "roll": 0.2}


def rail_figures(study: Study, is_measured: bool = True) -> str:
    """`is_measured`: no, where the study is what a plan should bring. Then only rails that it touches are drawn, and no
    readings, which say nothing of it."""
    known = {name for _, name in study.deviations.known}
    shown = [rail for rail in study.frame.rails if is_measured or rail.name in known]
    return "".join(_rail(study, rail, is_measured) for rail in shown)


def _rail(study: Study, rail: Rail, is_measured: bool) -> str:
    curves = rail_curves(study, rail)
    figures = "".join(_figure(study, curves, component, is_measured) for component in COMPONENTS)
    return (
        f"<h4>Rail {text(rail.name)}</h4>{_straightness(study, curves)}"
        f'<div class="charts">{figures}{_ribbon(study, rail)}</div>'
    )


def _straightness(study: Study, curves: RailCurves) -> str:
    """In words, by the three reference lines, under the standard's symbols where the rail lies along an axis."""
    said = []
    for symbol, component in zip(iso_symbols(curves.rail), ("lateral", "height"), strict=True):
        curve = curves.lateral if component == "lateral" else curves.height
        name = f"{component} {symbol}".strip()
        if not curve.is_measured:
            said.append(f"{name} not measured")
            continue
        lines = curves.straightness("lateral" if component == "lateral" else "height")
        three = (lines.end_point, lines.least_squares, lines.minimum_zone)
        said.append(f"{name} {' / '.join(small(study.frame, one.straightness) for one in three)}")
    return f"<p>Straightness by end points / least squares / minimum zone: {text('; '.join(said))}.</p>"


def _figure(study: Study, curves: RailCurves, component: Component, is_measured: bool) -> str:
    frame, rail = study.frame, curves.rail
    curve = {"lateral": curves.lateral, "height": curves.height, "roll": curves.roll}[component]
    read = points(study, curves, component) if curve.is_measured and is_measured else []
    low, high = curve.mean - 2.0 * curve.u, curve.mean + 2.0 * curve.u
    values = np.array([p.value for p in read])
    axes = Axes((0.0, rail.beam.length_mm), around([low, high, values], LEAST[component]))
    inch = frame.length_unit == "in"
    unit = "mrad" if component == "roll" else "thou" if inch else "µm"
    factor = 1.0 / UM_PER_UNIT["thou"] if unit == "thou" else 1.0
    parts = [
        grid(axes, f"station, {frame.length_unit}", unit, 1.0 / MM_PER_LENGTH_UNIT[frame.length_unit], factor),
        band(axes, curves.stations_mm, low, high, "band"),
        line(axes, curves.stations_mm, curve.mean, "line" if curve.is_measured else "line guessed"),
        *_points(axes, read),
    ]
    if not curve.is_measured:
        parts.append(f'<text class="missing middle" x="{WIDTH / 2}" y="{HEIGHT / 2 - 8}">not measured</text>')
    said = _said(study, curve, component, read if is_measured else None)
    label = f"{component.capitalize()} of rail {rail.name}, stage {study.stage}. {said}"
    caption = f"<figcaption><b>{component}</b>: {text(said)}</figcaption>"
    return f"<figure>{chart(label, parts)}{caption}</figure>"


def _points(axes: Axes, read: list[Point]) -> list[str]:
    """Readings as small dots with their standard uncertainty; suspects as crosses with the word beside."""
    bars, dots, found = [], [], []
    for p in read:
        x, y = axes.px(p.station_mm), axes.py(p.value)
        if p.suspect:
            found.append(f'<path class="suspect" d="M{x - 4:.1f} {y - 4:.1f}l8 8m0-8l-8 8"/>')
            anchor = ("end", -7) if x > WIDTH / 2 else ("start", 7)
            found.append(f'<text class="suspect {anchor[0]}" x="{x + anchor[1]:.1f}" y="{y + 4:.1f}">suspect</text>')
        else:
            bars.append(f"M{x:.1f} {axes.py(p.value - p.u):.1f}V{axes.py(p.value + p.u):.1f}")
            dots.append(f"M{x:.1f} {y:.1f}h0")
    if dots:
        found[:0] = [f'<path class="bar" d="{"".join(bars)}"/>', f'<path class="dot" d="{"".join(dots)}"/>']
    return found


def _said(study: Study, curve: Curve, component: Component, read: list[Point] | None) -> str:
    if not curve.is_measured:
        return "not measured: only an ordinary tolerance is assumed."
    spread, u = float(np.ptp(curve.mean)), 2.0 * float(curve.u.max())
    sizes = (f"{spread:.2f} mrad", f"{u:.2f} mrad") if component == "roll" else None
    range_, two_u = sizes or (small(study.frame, spread), small(study.frame, u))
    if read is None:
        return f"ranges over {range_}, band ± {two_u} at most (2 u): expected, not read."
    suspects = sum(p.suspect for p in read)
    tail = f", {suspects} of them suspect" if suspects else ""
    many = f"{len(read)} readings{tail}" if read else "told by other sweeps' readings"
    return f"ranges over {range_}, band ± {two_u} at most (2 u), {many}."


def _ribbon(study: Study, rail: Rail) -> str:
    """Where along the rail a carriage's blocks run free, open, tight or bind: the higher, the worse."""
    found = []
    for ribbon in (r for r in ribbons(study) if r.rail.name == rail.name):
        axes = Axes((0.0, rail.beam.length_mm), (0.0, 1.0))
        edges = np.concatenate([ribbon.station_mm[:1], _middles(ribbon.station_mm), ribbon.station_mm[-1:]])
        bars, start = [], 0
        for i in range(1, len(ribbon.level) + 1):
            if i == len(ribbon.level) or ribbon.level[i] != ribbon.level[start]:
                a, b, worst = float(edges[start]), float(edges[i]), ribbon.level[start]
                bars.append((a, b, worst))
                start = i
        said = ", ".join(f"{LEVELS[w]} {length(study.frame, a)} to {length(study.frame, b)}" for a, b, w in bars)
        rects = "".join(
            f'<rect class="level{w}" x="{axes.px(a):.1f}" width="{axes.px(b) - axes.px(a):.1f}" '
            f'y="{RIBBON_FOOT - RIBBON_HEIGHT[w]}" height="{RIBBON_HEIGHT[w]}"/>'
            for a, b, w in bars
        )
        words = f"Blocks of carriage {printable(ribbon.carriage)} along this rail: {said}."
        svg = f'<svg class="ribbon" viewBox="0 0 {WIDTH} 16" aria-hidden="true">{rects}</svg>'
        found.append(f'<figure class="risk">{svg}<figcaption>{text(words)}</figcaption></figure>')
    return "".join(found)


def _middles(stations: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> list[float]:
    return [float(value) for value in (stations[1:] + stations[:-1]) / 2.0]
