"""A still picture of a scene by our own arithmetic: for print, and where a browser can't draw in three dimensions.

Takes points, faces and lines seen from somewhere, gives pixels (H, W, 3). Hidden surfaces by a depth buffer; drawn
at twice the size and averaged, so that edges are smooth. Needs no OpenGL.
"""

from __future__ import annotations

import base64
import struct
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from framevis.frame import Floats
from framevis.pictures.camera import view_axes
from framevis.pictures.geometry import Ints
from framevis.pictures.look import EDGE, GHOST, PART_COLOUR, VERDICT_COLOUR, Colour
from framevis.pictures.plan_marks import MARK_COLOUR, Mark, nearer_mm
from framevis.pictures.scene import Part, Scene

Pixels = NDArray[np.uint8]
WIDTH, HEIGHT, FINER = 1240, 700, 2
MARGIN = 0.06
GROUND: Colour = (250, 250, 248)
LIGHTS = ((np.array([-0.42, 0.76, 0.50]), 0.34), (np.array([0.62, 0.10, 0.78]), 0.24))
AMBIENT = 0.50
LINE_NEARER_MM = 1.2


@dataclass(frozen=True, eq=False)
class Sight:
    """A parallel view: `axes` rows right, up, toward the eye; pixels = middle + scale · (seen − centre)."""

    axes: Floats
    centre: Floats
    scale: float
    size: tuple[int, int]

    @staticmethod
    def of(scene: Scene, shown: list[Floats], size: tuple[int, int] = (WIDTH, HEIGHT)) -> Sight:
        """So that all shown points (N, 3) mm fit."""
        axes = view_axes(scene)
        seen = np.concatenate(shown) @ axes.T
        low, high = seen.min(axis=0), seen.max(axis=0)
        free = np.array(size) * (1.0 - 2.0 * MARGIN)
        return Sight(axes, (low + high) / 2.0, float(np.min(free / (high - low)[:2])), size)

    def pixels(self, points_mm: Floats) -> Floats:
        """(N, 3): x to the right, y down, and height toward the eye in mm."""
        seen = points_mm @ self.axes.T - self.centre
        x, y = self.size[0] / 2.0 + seen[:, 0] * self.scale, self.size[1] / 2.0 - seen[:, 1] * self.scale
        return np.column_stack([x, y, seen[:, 2]])


class Canvas:
    """Pixels with a depth buffer. Depth grows toward the eye."""

    def __init__(self, size: tuple[int, int]) -> None:
        self.colour = np.empty((size[1], size[0], 3), dtype=np.float32)
        self.colour[:] = GROUND
        self.depth = np.full((size[1], size[0]), -np.inf)

    def triangle(self, corners: Floats, colour: Floats) -> None:
        """Fill one triangle: corners (3, 3) in pixels and mm."""
        height, width = self.depth.shape
        x0, y0 = np.maximum(np.floor(corners[:, :2].min(axis=0)).astype(int), 0)
        x1, y1 = np.minimum(np.ceil(corners[:, :2].max(axis=0)).astype(int), (width - 1, height - 1))
        if x0 > x1 or y0 > y1:
            return
        a, b, c = corners
        area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
        if abs(area) < 1e-9:
            return
        x, y = np.arange(x0, x1 + 1) + 0.5, (np.arange(y0, y1 + 1) + 0.5)[:, None]
        to_b = ((x - a[0]) * (c[1] - a[1]) - (y - a[1]) * (c[0] - a[0])) / area
        to_c = ((b[0] - a[0]) * (y - a[1]) - (b[1] - a[1]) * (x - a[0])) / area
        depth = a[2] + to_b * (b[2] - a[2]) + to_c * (c[2] - a[2])
        box = (slice(y0, y1 + 1), slice(x0, x1 + 1))
        inside = (to_b >= -1e-6) & (to_c >= -1e-6) & (to_b + to_c <= 1.0 + 1e-6) & (depth > self.depth[box])
        self.depth[box][inside] = depth[inside]
        self.colour[box][inside] = colour

    def lines(self, ends: Floats, colour: Colour, broad: int) -> None:
        """Draw lines (E, 2, 3) where nothing hides them, `broad` pixels wide."""
        if not len(ends):
            return
        steps = np.ceil(np.abs(ends[:, 1, :2] - ends[:, 0, :2]).max(axis=1)).astype(int) + 1
        which = np.repeat(np.arange(len(ends)), steps + 1)
        share = (np.arange(which.size) - np.repeat(np.cumsum(steps + 1) - steps - 1, steps + 1)) / steps[which]
        at = ends[which, 0] + share[:, None] * (ends[which, 1] - ends[which, 0])
        height, width = self.depth.shape
        for dx, dy in [(i, j) for i in range(broad) for j in range(broad)]:
            x, y = np.floor(at[:, 0]).astype(int) + dx, np.floor(at[:, 1]).astype(int) + dy
            kept = (x >= 0) & (x < width) & (y >= 0) & (y < height)
            x, y, z = x[kept], y[kept], at[kept, 2]
            seen = z + LINE_NEARER_MM >= self.depth[y, x]
            self.colour[y[seen], x[seen]] = colour

    def averaged(self) -> Pixels:
        height, width = self.depth.shape
        cells = self.colour.reshape(height // FINER, FINER, width // FINER, FINER, 3)
        return np.asarray(np.round(cells.mean(axis=(1, 3)) / 4.0) * 4.0, dtype=np.float64).clip(0, 255).astype(np.uint8)


def draw(scene: Scene, magnification: float, sight: Sight, marks: Sequence[Mark] = ()) -> Pixels:
    """The scene with its nominal ghost, (H, W, 3); a plan's marks are drawn nearer than they are."""
    canvas = Canvas((sight.size[0] * FINER, sight.size[1] * FINER))
    finer = np.array([FINER, FINER, 1.0])
    shown = {part.key: sight.pixels(scene.points(part, magnification)) * finer for part in scene.parts}
    for part in scene.parts:
        _faces(canvas, sight, part.faces, scene.points(part, magnification), shown[part.key], _colour(part))
    for mark in marks:
        points = mark.points(magnification) + sight.axes[2] * nearer_mm(scene.frame)
        pixels = sight.pixels(points) * finer
        _faces(canvas, sight, mark.faces, points, pixels, MARK_COLOUR[mark.kind])
        canvas.lines(pixels[mark.edges], EDGE, 2)
    for part in scene.parts:
        canvas.lines(shown[part.key][part.edges], EDGE, 2)
        if part.role in ("beam", "rail"):
            canvas.lines((sight.pixels(part.vertices) * finer)[part.edges], GHOST, 1)
    return canvas.averaged()


def _colour(part: Part) -> Colour:
    return VERDICT_COLOUR[part.verdict] if part.verdict is not None else PART_COLOUR[part.role]


def _faces(canvas: Canvas, sight: Sight, faces: Ints, points: Floats, pixels: Floats, plain: Colour) -> None:
    for face in faces:
        a, b, c, d = points[face]
        normal = sight.axes @ np.cross(c - a, d - b)
        if normal[2] <= 0.0:
            continue
        colour = np.array(plain) * _light(normal / np.linalg.norm(normal))
        for three in (face[[0, 1, 2]], face[[0, 2, 3]]):
            canvas.triangle(pixels[three], colour)


def _light(normal: Floats) -> float:
    return AMBIENT + sum(share * max(float(normal @ way), 0.0) for way, share in LIGHTS)


def png(pixels: Pixels) -> bytes:
    """The picture as a PNG file (W3C PNG, third edition: signature, IHDR, IDAT, IEND); colours in a palette if few."""
    height, width, _ = pixels.shape
    colours, index = np.unique(pixels.reshape(-1, 3), axis=0, return_inverse=True)
    if len(colours) <= 256:
        head, rows, palette = (8, 3), index.reshape(height, width).astype(np.uint8), colours.tobytes()
    else:
        head, rows, palette = (8, 2), pixels.reshape(height, width * 3), b""
    lines = np.column_stack([np.zeros(height, dtype=np.uint8), rows]).astype(np.uint8)
    parts = [_chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, *head, 0, 0, 0))]
    if palette:
        parts.append(_chunk(b"PLTE", palette))
    parts += [_chunk(b"IDAT", zlib.compress(lines.tobytes(), 9)), _chunk(b"IEND", b"")]
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


def _chunk(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))


def data_uri(pixels: Pixels) -> str:
    return "data:image/png;base64," + base64.b64encode(png(pixels)).decode("ascii")


def label_places(scene: Scene, magnification: float, sight: Sight) -> list[dict[str, Any]]:
    """Where each judged block is seen: its name, verdict and pixel."""
    found = []
    for part in scene.parts:
        if part.role == "block" and part.verdict is not None:
            x, y, _ = sight.pixels(scene.points(part, magnification)).mean(axis=0)
            found.append({"name": part.name, "verdict": part.verdict, "x": float(x), "y": float(y)})
    return found
