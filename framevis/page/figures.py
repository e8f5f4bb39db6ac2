"""The still pictures as figures: pixels of the scene, and over them the labels, a scale bar and a caption as SVG.

Takes scenes of one frame's stages, drawn from the same place at the same magnification; gives HTML.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import ceil
from typing import Any

from framevis.page.embed import text
from framevis.page.marks import mark
from framevis.page.still import HEIGHT, WIDTH, Sight, data_uri, draw, label_places
from framevis.pictures.look import length as bar_length
from framevis.pictures.look import place, round_down, times
from framevis.pictures.plan_marks import Mark
from framevis.pictures.scene import Scene

TYPE_PX, LINE_PX, EDGE_PX = 15.0, 20.0, 12.0


def still_figures(
    scenes: Sequence[Scene], magnification: float, marks: Mapping[str, Sequence[Mark]] | None = None
) -> str:
    """`marks`: of a plan, by the name of the stage from which it starts."""
    shown = [scene.points(part, magnification) for scene in scenes for part in scene.parts]
    sight = Sight.of(scenes[0], shown)
    return "".join(_figure(scene, magnification, sight, (marks or {}).get(scene.stage, ())) for scene in scenes)


def _figure(scene: Scene, magnification: float, sight: Sight, marks: Sequence[Mark]) -> str:
    places = label_places(scene, magnification, sight)
    stands = ", ".join(f"{name} at {place(at, scene.frame.length_unit)}" for name, at in scene.positions.items())
    drawn = f"deviations drawn {times(magnification)}"
    caption = f"Stage {scene.stage}, {drawn}; carriages: {stands}. Thin lines: as drawn.{_marks_said(marks)}"
    verdicts = ", ".join(f"{p['name']} {p['verdict']}" for p in places)
    label = f"The machine, {drawn}, stage {scene.stage}. {verdicts}."
    image = f'<image width="{WIDTH}" height="{HEIGHT}" href="{data_uri(draw(scene, magnification, sight, marks))}"/>'
    over = _labels(places) + _bar(magnification, sight)
    return (
        f'<figure class="still"><svg viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{text(label)}">{image}{over}'
        f"</svg><figcaption>{text(caption)}</figcaption></figure>"
    )


def _marks_said(marks: Sequence[Mark]) -> str:
    """Which marks of a plan there are, by colour and form."""
    words = {
        "fit": "orange plates: shims to fit",
        "out": "white plates: shims to take out",
        "push": "arrows: rails to push",
    }
    said = [words[kind] for kind in words if any(mark.kind == kind for mark in marks)]
    return f" {'; '.join(said).capitalize()}." if said else ""


def _labels(places: list[dict[str, Any]]) -> str:
    """Names at the sides, each in the order of its block's height in the picture, with a line to the block."""
    left = sorted((p for p in places if p["x"] < WIDTH / 2), key=lambda p: p["y"])
    right = sorted((p for p in places if p["x"] >= WIDTH / 2), key=lambda p: p["y"])
    return "".join(_column(side, x, end) for side, x, end in ((left, EDGE_PX, False), (right, WIDTH - EDGE_PX, True)))


def _column(side: list[dict[str, Any]], x: float, end: bool) -> str:
    if not side:
        return ""
    heights = spaced([p["y"] for p in side], LINE_PX, LINE_PX, HEIGHT - 3.0 * LINE_PX)
    found = []
    for p, y in zip(side, heights, strict=True):
        words = f"{p['name']} {p['verdict']}"
        wide = ceil(len(words) * 0.56 * TYPE_PX) + 26
        edge = x - wide if end else x + wide
        at = x - 6 if end else x + 6
        inner = at - 16 if end else at + 16
        found.append(f'<path class="lead" d="M{edge:.0f} {y - 5:.0f}L{p["x"]:.0f} {p["y"]:.0f}"/>')
        found.append(mark(p["verdict"], p["x"], p["y"], 6.0) + mark(p["verdict"], at, y - 5, 6.0))
        anchor = "end" if end else "start"
        found.append(f'<text class="label {anchor}" x="{inner:.0f}" y="{y:.0f}">{text(words)}</text>')
    return "".join(found)


def spaced(wanted: Sequence[float], apart: float, low: float, high: float) -> list[float]:
    """Rising heights near those wanted (rising), at least `apart` from each other, kept inside where they fit."""
    made: list[float] = []
    for y in wanted:
        made.append(max(y, made[-1] + apart if made else low))
    over = made[-1] - high
    if over > 0.0:
        made[-1] -= over
        for i in range(len(made) - 2, -1, -1):
            made[i] = min(made[i], made[i + 1] - apart)
    return made


def _bar(magnification: float, sight: Sight) -> str:
    um = round_down(0.12 * WIDTH / sight.scale / magnification * 1000.0)
    long = um / 1000.0 * magnification * sight.scale
    y = HEIGHT - 18
    return (
        f'<path class="scale" d="M{EDGE_PX} {y - 5}V{y + 5}M{EDGE_PX} {y}H{EDGE_PX + long:.1f}m0 -5v10"/>'
        f'<text class="label start" x="{EDGE_PX}" y="{y - 10}">this bar = {text(bar_length(um))}</text>'
    )
