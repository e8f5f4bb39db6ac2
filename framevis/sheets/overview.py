"""The whole frame in outline, seen from behind the zero end of one beam: which rail it is, where 0 is, which way.

Takes a frame and a sweep; gives SVG. Near faces cover what lies behind: bodies are painted in the order in which
they are stacked, and each body's faces from far to near.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, radians, sin

import numpy as np

from framevis.frame import Beam, Floats, Frame, PullSweep, Rail
from framevis.pictures.geometry import rail_ends
from framevis.sheets.bodies import Body, bodies, stands
from framevis.sheets.order import beam_of
from framevis.sheets.paper import Paper, path, svg
from framevis.sheets.stations import AnySweep
from framevis.sheets.words import length, title

WIDTH, HEIGHT, MARGIN = 88.0, 62.0, 7.0
ASIDE, DOWN = radians(32.0), radians(28.0)  # from where one looks: beside the beam's axis, from above
STEEP = 0.85  # cosine: a beam this near to upright is looked at from in front
BEHIND_MM = 5.0  # on paper, from the beam's end to its mark


@dataclass(frozen=True, eq=False)
class Camera:
    """Unit vectors (3,) of a view without perspective: to the right, up, and away from who looks."""

    right: Floats
    up: Floats
    forward: Floats

    def view(self, points: Floats) -> Floats:
        """Points (N, 3) mm as seen, (N, 2)."""
        return np.stack([points @ self.right, points @ self.up], axis=-1)


@dataclass(frozen=True, eq=False)
class Overview:
    """The frame drawn once; all sweeps along beams that run and face the same way share it."""

    camera: Camera
    paper: Paper
    drawn: str


def camera_for(beam: Beam, frame: Frame) -> Camera:
    """From behind the beam's start, beside it and above, so that its mounting face is seen."""
    s, _, n = beam.axes
    up = frame.up
    ahead = s if abs(float(s @ up)) < STEEP else -n
    ahead = _unit(ahead - up * float(ahead @ up)) if abs(float(ahead @ up)) < STEEP else _unit(np.cross(up, s))
    side = np.cross(ahead, up)
    aside = -ASIDE if float(n @ side) > 0.3 else ASIDE  # a face that looks to the side is looked at
    down = -DOWN if float(n @ up) < -0.5 else DOWN
    forward = cos(down) * (cos(aside) * ahead + sin(aside) * side) - sin(down) * up
    right = _unit(np.cross(forward, up))
    return Camera(right, np.cross(right, forward), forward)


def _unit(vector: Floats) -> Floats:
    return np.asarray(vector / np.linalg.norm(vector))


def overview(frame: Frame, beam: Beam) -> Overview:
    camera, found = camera_for(beam, frame), bodies(frame)
    paper = Paper.fitted(camera.view(np.concatenate([each.solid.vertices for each in found])), WIDTH, HEIGHT, MARGIN)

    def place(body: Body) -> tuple[float, float]:
        faces_us = float(body.normal @ camera.forward) < 0.05
        return (body.storey if faces_us else -body.storey), -float(body.solid.vertices.mean(axis=0) @ camera.forward)

    return Overview(camera, paper, "".join(_painted(body, camera, paper) for body in sorted(found, key=place)))


def _painted(body: Body, camera: Camera, paper: Paper) -> str:
    """The visible faces of a body, each over those behind it, with the feature edges that border it."""
    points, faces = body.solid.vertices, body.solid.faces
    corners = points[faces]
    normal = np.cross(corners[:, 2] - corners[:, 0], corners[:, 3] - corners[:, 1])
    seen = np.flatnonzero(normal @ camera.forward < 0.0)
    depth = corners.mean(axis=1) @ camera.forward
    sharp = {frozenset((int(a), int(b))) for a, b in body.solid.edges}
    on_paper, parts = paper.on(camera.view(points)), []
    for face in seen[np.argsort(-depth[seen], kind="stable")]:
        ring = faces[face]
        sides = [(int(a), int(b)) for a, b in zip(ring, np.roll(ring, -1), strict=True)]
        edges = "".join(path(on_paper[list(side)]) for side in sides if frozenset(side) in sharp)
        parts.append(f'<path class="face" d="{path(on_paper[ring])}Z"/>')
        parts.append(f'<path class="edge" d="{edges}"/>' if edges else "")
    return "".join(parts)


def same_look(one: Beam, other: Beam) -> bool:
    """Whether one overview serves the sweeps along both beams."""
    return bool(np.allclose(one.axes, other.axes, atol=1e-6))


def marked(frame: Frame, sweep: AnySweep, base: Overview, symbol: str) -> str:
    """The overview with what this sweep is about: heavy lines, letters, 0, the far end, and the way of counting."""
    paper, view, beam = base.paper, base.camera.view, beam_of(sweep)
    by = stands(frame, beam)
    start, end = view(np.array([beam.start_mm + by, beam.end_mm + by]))
    parts = [f'<use href="#{symbol}"/>']
    for rail, letter, share in zip(rails_of(sweep), "AB", (0.62, 0.8), strict=False):
        ends = _top_line(frame, rail)
        parts.append(paper.line(view(ends), "heavy" if letter == "A" else "heavy dashed"))
        parts.append(paper.letter(view(ends[0] + share * (ends[1] - ends[0])), letter))
    if not rails_of(sweep):
        edges = _face_edges(beam) + by
        parts.append(paper.lines([view(edges[:2]), view(edges[2:])], "heavy"))
    way = end - start
    on_paper = np.array([way[0], -way[1]]) / max(float(np.hypot(*way)), 1e-9)
    dx, dy = -BEHIND_MM * on_paper
    parts.append(paper.letter(start, "0", dx, dy))
    parts.append(paper.arrow(start + 0.06 * way, way, 11.0))
    parts.append(paper.text(end, length(frame, beam.length_mm), "middle", -0.8 * dx, -0.8 * dy + 1.0))
    says = f"The frame from behind the start of beam {beam.name}. {title(sweep)}. 0 marks the start."
    return svg(WIDTH, HEIGHT, says, "".join(parts))


def rails_of(sweep: AnySweep) -> tuple[Rail, ...]:
    """The rails that a sweep is about; of a pull, the two outermost that its carriage rides."""
    if isinstance(sweep, PullSweep):
        return tuple({block.rail.name: block.rail for block in sweep.carriage.blocks}.values())[:2]
    return sweep.rails


def _top_line(frame: Frame, rail: Rail) -> Floats:
    """The two ends (2, 3) of the middle of a rail's top."""
    by = stands(frame, rail.beam)
    return np.array([rail.point(at, rail.guide.rail_height_mm) + by for at in rail_ends(rail)])


def _face_edges(beam: Beam) -> Floats:
    """Both edges of a beam's mounting face, (4, 3): one's ends, then the other's."""
    half = beam.section.width_mm / 2.0
    return np.array([beam.point(at, side) for side in (half, -half) for at in (0.0, beam.length_mm)])
