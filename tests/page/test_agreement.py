"""The page's program against the project's own scene and section: same places, same figures."""

from __future__ import annotations

import numpy as np
import pytest

from framevis.pictures.scene import build_scene
from framevis.pictures.section import section_at
from page.browser import press, set_slider

PLACES = [(1420.0, 285.0), (287.0, 640.0), (933.0, 910.0)]  # carriages left and right, head: mm


def put(page, pair, head):
    set_slider(page, "position-0", pair)
    set_slider(page, "position-1", head)
    return {"left": pair, "right": pair, "head": head}


@pytest.mark.parametrize("places", PLACES)
@pytest.mark.parametrize("stage", [0, 1])
def test_blocks_stand_where_the_scene_puts_them(watched, studies, places, stage):
    page = watched.page
    press(page, f"#stages label:nth-of-type({stage + 1})")
    scene = build_scene(studies[stage], put(page, *places))
    magnification = page.evaluate("framevis.state.magnification")
    spots = page.evaluate("framevis.spots().map(s => [s.name, s.place])")
    assert len(spots) == 12
    for name, place in spots:
        part = scene.part("block", name)
        carriage, block = name.split("/")
        rail = next(b for b in studies[0].frame.carriage(carriage).blocks if b.name == block).rail
        in_axes = part.vertices @ rail.axes.T
        at = (in_axes.min(axis=0) + in_axes.max(axis=0)) / 2.0
        at[2] = in_axes[:, 2].max() - rail.guide.block_height_mm / 2.0  # the page marks half a block's height
        moved = affine(part.vertices, scene.points(part, magnification), at @ rail.axes)
        assert np.linalg.norm(np.array(place) - moved) < 0.002 * magnification  # 2 µm, magnified


def affine(nominal, shown, point):
    """Where the linear map from nominal to shown vertices takes a point: a block moves as one rigid body."""
    rows = np.column_stack([nominal - nominal.mean(axis=0), np.ones(len(nominal))])
    solution = np.linalg.lstsq(rows, shown, rcond=None)[0]
    return np.append(point - nominal.mean(axis=0), 1.0) @ solution


@pytest.mark.parametrize("beam", ["left", "right", "cross"])
def test_the_section_says_what_the_project_s_own_says(watched, studies, beam):
    page = watched.page
    positions = put(page, 1200.0, 500.0)
    page.locator("#cut-beam").select_option(label=beam)
    page.evaluate("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
    station = page.evaluate("framevis.state.cutStation")
    ours = section_at(studies[0], positions, beam, station)
    shown = page.locator("#cut text").all_text_contents()
    assert len(shown) == len(ours.notes)
    for note in ours.notes:
        assert any(alike(note.text, words) for words in shown), (note.text, shown)


def alike(one: str, other: str) -> bool:
    """The same words; figures at most one step of the last digit shown apart (both round what they interpolate)."""
    none = ("no gap", "gap 1 µm", "pressed 1 µm")
    if one == other or (one in none and other in none):
        return True
    first, second = one.split(), other.split()
    return len(first) == len(second) and all(
        a == b or (a[0].isdigit() and b[0].isdigit() and abs(float(a) - float(b)) <= (0.11 if "." in a else 1.1))
        for a, b in zip(first, second, strict=True)
    )


def test_numbers_here_are_those_of_the_assessment(watched, studies):
    page = watched.page
    put(page, 1420.0, 285.0)
    block = studies[0].carriages[0].blocks[0]
    row = page.locator("#numbers tbody tr").nth(1).inner_text().split("\t")
    assert row[0] == block.name
    assert row[2] == f"{block.drag_ratio[-1]:.2f}"
    assert row[3] == f"{block.drag_ratio_p05[-1]:.1f}–{block.drag_ratio_p95[-1]:.1f}"
