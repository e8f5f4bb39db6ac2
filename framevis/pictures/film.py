"""A GIF of the carriages' travel: from one end to the other and back, in a picture that stands still otherwise.

Takes a drawing and the groups of carriages that travel, gives frames; Pillow, which the plotting library brings
along, writes them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from difflib import get_close_matches
from math import cos, pi
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from framevis.errors import BadInput, problem
from framevis.frame import Frame
from framevis.pictures.camera import aim, view_axes
from framevis.pictures.draw import Drawing
from framevis.pictures.look import INK, NOT_JUDGED, PAPER, VERDICT_COLOUR
from framevis.pictures.scene import Scene, StudyLike, moved
from framevis.pictures.travel import Group, travel_groups

if TYPE_CHECKING:
    from PIL.Image import Image

Pixels = NDArray[np.uint8]
FRAMES = 48  # there and back; the way back shows the same pictures
FRAME_MS = 80
COLOURS = 200
SOURCE = "--travel"


def travelling(frame: Frame, asked: Sequence[str], placed: Mapping[str, float]) -> tuple[Group, ...]:
    """The groups of carriages that travel: those asked for; with none asked for, those with nobody placed.

    Raises `BadInput` for a name that no carriage has, and where nothing would move.
    """
    names = [carriage.name for carriage in frame.carriages]
    for name in asked:
        if name not in names:
            near = get_close_matches(name, names, n=1)
            todo = f'did you mean "{near[0]}"?' if near else f"the carriages are {', '.join(names) or 'none'}"
            raise BadInput(problem(SOURCE, f'no carriage is called "{name}"', todo))
    groups = travel_groups(frame)
    members = {group.name: {member.carriage.name for member in group.members} for group in groups}
    chosen = tuple(g for g in groups if (members[g.name] & set(asked) if asked else not members[g.name] & set(placed)))
    if not chosen:
        raise BadInput(problem(SOURCE, "no carriage is left that travels", "place fewer, or name one that travels"))
    return chosen


def stops(groups: Sequence[Group]) -> list[dict[str, float]]:
    """Positions (mm) of the travelling carriages on the way there, slow at both ends: FRAMES / 2 + 1 of them."""
    shares = [(1.0 - cos(2.0 * pi * i / FRAMES)) / 2.0 for i in range(FRAMES // 2 + 1)]
    made = []
    for share in shares:
        places: dict[str, float] = {}
        for group in groups:
            low, high = group.range_mm
            places |= group.positions(low + share * (high - low))
        made.append(places)
    return made


def journey(
    drawing: Drawing, study: StudyLike, groups: Sequence[Group], progress: Callable[[int, int], None] | None = None
) -> list[Pixels]:
    """FRAMES pictures (height, width, 3) of the carriages' way there and back; the camera stands still."""
    start = drawing.scene
    scenes = [moved(start, study, dict(start.positions) | places) for places in stops(groups)]
    _hold_still(drawing, scenes)
    there: list[Pixels] = []
    for scene in scenes:
        drawing.show(scene)
        drawing.plotter.render()
        there.append(np.asarray(drawing.plotter.screenshot(return_img=True), dtype=np.uint8)[:, :, :3])
        if progress is not None:
            progress(len(there), len(scenes))
    return there + there[-2:0:-1]


def _hold_still(drawing: Drawing, scenes: Sequence[Scene]) -> None:
    """Turn the camera so that the carriages stay in the picture all along their way, and find labels a place off it."""
    ends = [drawing.scene, scenes[0], scenes[len(scenes) // 2], scenes[-1]]
    points = [s.points(part, drawing.magnification, drawing.causes) for s in ends for part in s.parts]
    nominal = [drawing.ghost_points(part) for s in ends for part in s.parts] if drawing.ghost else []
    width, height = drawing.plotter.render_window.GetSize()
    axes = view_axes(drawing.scene)
    aim(drawing.plotter.camera, axes, np.concatenate(points + nominal), (width, height), drawing.insets)
    drawing.plotter.renderer.ResetCameraClippingRange()
    drawing.show(_all_along(ends))
    drawing.settle()
    drawing.write()


def _all_along(ends: Sequence[Scene]) -> Scene:
    """The third of some scenes, with beams, rails and plates also where the others have them."""
    middle = ends[2]
    passed = [part for scene in ends for part in scene.parts if part.role != "block" and part.moved_by]
    return replace(middle, parts=(*passed, *middle.parts))


def write_gif(path: Path, frames: Sequence[Pixels]) -> None:
    """Write frames (height, width, 3) as a GIF that goes round for ever, all in the colours of one palette."""
    from PIL import Image

    palette = palette_of(frames)
    first, *rest = (Image.fromarray(frame).quantize(palette=palette, dither=Image.Dither.NONE) for frame in frames)
    first.save(path, save_all=True, append_images=rest, duration=FRAME_MS, loop=0, optimize=True, disposal=1)


def palette_of(frames: Sequence[Pixels]) -> Image:
    """Colours that come near to all of the way there, and in any case those that say something."""
    from PIL import Image

    few = Image.fromarray(np.concatenate([frames[0], frames[len(frames) // 4], frames[len(frames) // 2]]))
    near = few.quantize(COLOURS, method=Image.Quantize.MAXCOVERAGE, kmeans=1).getpalette() or []
    said = [value for colour in (*VERDICT_COLOUR.values(), NOT_JUDGED, INK, PAPER) for value in colour]
    palette = Image.new("P", (1, 1))
    palette.putpalette(near[: 3 * COLOURS] + said)
    return palette
