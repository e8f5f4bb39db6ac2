"""The shim plan on the page: tables, strips, marks in three dimensions, what it brings as a stage of its own."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe

from framevis.frame import BlockSpot, Push, RailSpot, Shim
from framevis.page import ExpectedRow, write_page
from framevis.page.plan_data import after_as_stage
from framevis.page.plan_section import plan_section
from framevis.page.plan_strips import HIGH, strips_of
from framevis.pictures.plan_marks import marks_of
from framevis.pictures.scene import build_scene
from framevis.plan import Fitting, Plan, RailPush
from framevis.study import refitted
from page.browser import opened, pixels, press, set_slider, settle
from page.test_safe_and_readable import EVIL

STAIRS = [
    Fitting(RailSpot(rail, screw, part), (10.0,) if screw < 28 else (20.0,))
    for screw in range(20, 38)
    for rail, part in (("left_outer", "right"), ("left_inner", "left"))
]
OUT = [Fitting(RailSpot("right_outer", screw, "left"), (), (40.0,)) for screw in (10, 11)]
LESS = [Fitting(RailSpot("right_outer", 12, "left"), (20.0,), (40.0,))]
BLOCK = [Fitting(BlockSpot("head", "left_front", "left"), (20.0, 10.0))]
PUSHES = [RailPush("right_inner", screw, -5.0 * screw) for screw in range(3, 9)]
EXPECTED = [ExpectedRow("left_outer_height", 50.0 * i, f"{i + 1} µm", "2.1 µm") for i in range(3)]


@pytest.fixture(scope="session")
def plan(studies):
    """Stairs for the left rails, shims to take out of the right, a push, one spot on a carried carriage."""
    already = tuple(Shim("as_found", f.spot, 40.0) for f in (*OUT, *LESS))
    before = refitted(studies[0], already, ())
    fittings = (*STAIRS, *OUT, *LESS, *BLOCK)
    after = refitted(
        before,
        tuple(Shim("as_found", f.spot, um) for f in fittings for um in f.layers_um),
        tuple(Push("as_found", p.rail, p.screw, p.push_um) for p in PUSHES),
    )
    used = tuple(sorted(Counter(um for f in fittings for um in f.layers_um).items()))
    left = ((10.0, 3), (20.0, None))
    says = ("Two more pieces of 10 µm would help.",)
    return Plan(before, after, fittings, tuple(PUSHES), used, left, (14.26, 3.1), 2.9, False, says)


@pytest.fixture(scope="session")
def plan_page(plan, studies, tmp_path_factory):
    path = tmp_path_factory.mktemp("plan") / "plan.html"
    return write_page([plan.before, studies[1]], path, plan=plan, expected=EXPECTED)


@pytest.fixture
def planned(chromium, plan_page):
    with opened(chromium, plan_page) as one:
        yield one
        assert one.complaints == []
        assert [url for url in one.requests if not url.startswith("data:")] == [plan_page.as_uri()]


def rows(page, caption):
    """Cells of a table of the page, by the start of its caption."""
    body = page.locator(f"table:has(caption:text-matches('^{caption}')) tbody tr")
    return [row.locator("th, td").all_inner_texts() for row in body.all()]


def test_the_work_is_listed_in_its_order_runs_joined(planned):
    assert rows(planned.page, "Shims, in the order") == [
        ["1", "left_outer", "20–27 (790 mm to 1070 mm)", "right edge", "10 µm", "10 µm", "none", "8"],
        ["2", "left_inner", "20–27 (790 mm to 1070 mm)", "left edge", "10 µm", "10 µm", "none", "8"],
        ["3", "left_outer", "28–37 (1110 mm to 1470 mm)", "right edge", "20 µm", "20 µm", "none", "10"],
        ["4", "left_inner", "28–37 (1110 mm to 1470 mm)", "left edge", "20 µm", "20 µm", "none", "10"],
        ["5", "right_outer", "10–11 (390 mm to 430 mm)", "left edge", "take out", "0 µm", "40 µm", "2"],
        ["6", "right_outer", "12 (at 470 mm)", "left edge", "20 µm", "20 µm", "40 µm", "1"],
        ["7", "head/left_front", "on the block's top", "left edge", "20 + 10 µm", "30 µm", "none", "1"],
    ]


def test_pieces_pushes_and_readings_to_expect(planned):
    page = planned.page
    for details in page.locator("#plan ~ details, .readings details").all():
        details.evaluate("d => d.open = true")
    assert rows(page, "Pieces") == [["10 µm", "17", "3"], ["20 µm", "22", "not counted"]]
    pushed = rows(page, "Rails to push")
    assert pushed[0] == ["Rail right_inner: slacken, push screw by screw against an indicator, tighten"]
    assert pushed[1:] == [[f"{p.screw}", f"{30 + 40 * (p.screw - 1)} mm", f"{-p.push_um:.0f} µm right"] for p in PUSHES]
    assert rows(page, "left_outer_height after") == [["0 mm", "1 µm", "2.1 µm"], ["50 mm", "2 µm", "2.1 µm"], [
        "100 mm", "3 µm", "2.1 µm"]]  # fmt: skip
    said = page.locator("section:has(#plan)").inner_text()
    assert "pressed in 14.3 µm off (root mean square) before, 3.1 µm after" in said
    assert "no plan comes below 2.9 µm" in said
    assert "Two more pieces of 10 µm would help." in said
    assert "Shims to fit: 39 pieces (17 × 10 µm, 22 × 20 µm)" in said
    assert "Shims to take out: 3 pieces (3 × 40 µm)" in said


def test_verdicts_before_and_after_stand_side_by_side(planned, plan):
    shown = [row for row in rows(planned.page, "Verdicts before") if len(row) > 1]
    blocks = [
        pair
        for was, will in zip(plan.before.carriages, plan.after.carriages, strict=True)
        for pair in zip(was.blocks, will.blocks, strict=True)
    ]
    assert len(shown) == len(blocks) == 12
    for cells, (before, after) in zip(shown, blocks, strict=True):
        assert cells[0] == before.name
        for at, block in ((1, before), (5, after)):
            assert cells[at] == block.verdict
            assert cells[at + 1] == f"{100 * block.p_tight:.0f} %"
            assert cells[at + 3] == f"{block.drag_ratio.max():.1f}"
    assert [cells[1] for cells in shown] != [cells[5] for cells in shown]


def test_a_plan_that_is_proven_best_says_so(plan):
    assert "the best that these shims can do" in plan_section(replace(plan, optimal=True))


def test_strips_show_what_stays_comes_and_goes(plan):
    strips = {strip.rail.name: strip for strip in strips_of(plan)}
    assert list(strips) == ["left_outer", "left_inner", "right_outer", "right_inner"]
    assert {key[1] for key in strips["left_outer"].stacks} == {"right"}
    stairs = [strips["left_outer"].stacks[screw, "right"].comes for screw in range(20, 38)]
    assert stairs == [10.0] * 8 + [20.0] * 10
    right = strips["right_outer"].stacks
    assert [(right[s, "left"].stays, right[s, "left"].goes) for s in (10, 11, 12)] == [(0, 40), (0, 40), (20, 20)]
    assert strips["right_inner"].pushes == {push.screw: push.push_um for push in PUSHES}


def test_a_strip_draws_its_bars_in_proportion_at_their_edge(plan):
    html = plan_section(plan)
    drawn = {
        re.search(r'aria-label="Rail (\w+)', svg)[1]: svg for svg in re.findall(r"<svg.class=.strip.*?</svg>", html)
    }

    def bars(rail, kind):
        found = re.findall(rf'<rect class="{kind}" x="\S+" y="(\S+)" width="\S+" height="(\S+)"', drawn[rail])
        return [(float(y), float(high)) for y, high in found]

    band = {name: float(re.search(r'class="strip-rail" x="\S+" y="(\S+)"', svg)[1]) for name, svg in drawn.items()}
    outer, inner = bars("left_outer", "fit"), bars("left_inner", "fit")
    assert sorted({high for _, high in outer}) == [HIGH / 4, HIGH / 2]  # 10 and 20 of 40 µm, the thickest of all
    assert all(y > band["left_outer"] for y, _ in outer)  # right edge: below the rail
    assert all(y + high == pytest.approx(band["left_inner"]) for y, high in inner)  # left edge: on the rail
    assert [high for _, high in bars("right_outer", "out")] == [HIGH, HIGH, HIGH / 2]
    assert [high for _, high in bars("right_outer", "stays")] == [HIGH / 2]
    assert drawn["right_inner"].count('class="push"') == len(PUSHES)


def test_full_width_shims_show_on_both_sides(plan):
    full = replace(plan, fittings=(Fitting(RailSpot("left_outer", 3, "full"), (20.0,)),), pushes=())
    full = replace(full, after=refitted(full.before, (Shim("as_found", full.fittings[0].spot, 20.0),), ()))
    strip = next(strip for strip in strips_of(full) if strip.rail.name == "left_outer")
    assert {key: stack.comes for key, stack in strip.stacks.items()} == {(3, "left"): 20.0, (3, "right"): 20.0}


def test_after_the_plan_is_a_stage_of_its_own(planned, plan):
    page = planned.page
    names = page.locator("#stages label").all_inner_texts()
    assert [name.strip() for name in names] == ["as_found", "as_left", "as_found, after the plan", "side by side"]
    before = pixels(page)
    press(page, "#stages label:nth-of-type(3)")
    assert pixels(page) != before
    assert "stage as_found, after the plan" in page.locator("#over").text_content()
    verdicts = page.evaluate("framevis.spots().map(s => s.verdict)")
    assert verdicts == [block.verdict for carriage in plan.after.carriages for block in carriage.blocks]
    shown = page.locator("[data-stage='2']")
    assert shown.is_visible()
    assert "expected, not read" in shown.inner_text()
    assert shown.locator(".dot").count() == 0


def test_the_stage_after_keeps_every_number_of_the_plan_s_study(plan):
    shown = after_as_stage(plan)
    assert shown.stage == "as_found, after the plan"
    assert [s.spot for s in shown.frame.shims_at(shown.stage)] == [
        s.spot for s in plan.after.frame.shims_at("as_found")
    ]
    assert len(shown.frame.pushes_at(shown.stage)) == len(PUSHES)
    assert shown.deviations is plan.after.deviations


def test_marks_have_a_switch_by_mouse_and_key(planned):
    page, before = planned.page, pixels(planned.page)
    assert page.locator("label:has(#marks)").inner_text().strip() == "shims to fit"
    page.locator("#marks").focus()
    page.keyboard.press("Space")
    settle(page)
    without = pixels(page)
    assert without != before
    assert page.evaluate("framevis.marks().length") == 0
    press(page, "#marks")
    assert pixels(page) == before
    press(page, "#stages label:nth-of-type(2)")  # as left: the plan is not for this stage
    assert page.evaluate("framevis.marks().length") == 0


@pytest.mark.parametrize("causes", [[], ["shims"]])
def test_marks_stand_where_the_picture_puts_them(planned, plan, causes):
    page = planned.page
    set_slider(page, "position-0", 500.0)
    set_slider(page, "position-1", 640.0)
    for cause in causes:
        press(page, f"input[name=cause-{cause}]")
    scene = build_scene(plan.before, {"left": 500.0, "right": 500.0, "head": 640.0})
    magnification = page.evaluate("framevis.state.magnification")
    on = page.evaluate("framevis.state.causes")
    ours = marks_of(scene.memory, plan, scene.positions)
    theirs = page.evaluate("framevis.marks().map(m => [m.kind, m.place])")
    assert len(theirs) == len(ours) == len(STAIRS) + 4 + len(PUSHES)
    for mark, (kind, place) in zip(ours, theirs, strict=True):
        assert kind == mark.kind
        assert np.linalg.norm(mark.points(magnification, on).mean(axis=0) - place) < 0.003 * magnification  # 3 µm


def test_magnifying_makes_marks_higher_even_with_every_cause_off(planned):
    page = planned.page
    for cause in ("bow", "twist", "opening", "own", "shims"):
        press(page, f"input[name=cause-{cause}]")
    middles = []
    for power in (500, 750):
        set_slider(page, "magnification", power)
        times = page.evaluate("framevis.state.magnification")
        middles.append((times, page.evaluate("framevis.marks().find(m => m.words[0].includes('screw 33')).place[2]")))
    (low, first), (high, second) = middles
    assert second - first == pytest.approx((high - low) * 0.020 / 2.0, rel=1e-3)  # half the height of 20 µm


def test_pointing_at_a_mark_says_what_is_done(planned):
    page = planned.page
    page.locator("#canvas").scroll_into_view_if_needed()
    spot = page.evaluate("framevis.marks().find(m => m.words[0].startsWith('left_inner, screw 22')).pixel")
    box = page.locator("#canvas").bounding_box()
    page.mouse.move(box["x"] + spot[0], box["y"] + spot[1])
    assert page.locator("#tip").inner_text().split("\n")[0] == "left_inner, screw 22 at 870 mm, left edge"
    assert "fit 10 µm" in page.locator("#tip").inner_text()
    words = page.evaluate("framevis.marks().map(m => m.words[1])")
    assert {"take out 40 µm", "fit 20 µm in place of 40 µm", "fit 20 + 10 µm", "push 40 µm right"} <= set(words)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 390])
def test_axe_finds_nothing(chromium, plan_page, scheme, width):
    with opened(chromium, plan_page, viewport={"width": width, "height": 844}, color_scheme=scheme) as one:
        for details in one.page.locator("details").all():
            details.evaluate("d => d.open = true")
        assert one.page.evaluate("document.documentElement.scrollWidth") <= width
        found = Axe().run(one.page, options={"resultTypes": ["violations"]}).response["violations"]
    assert [(v["id"], [node["target"] for node in v["nodes"]][:3]) for v in found] == []


def test_the_page_stays_small(plan_page):
    assert plan_page.stat().st_size < 1_000_000


def test_the_still_shows_the_marks_and_says_so(plan, plan_page, studies, tmp_path):
    html = plan_page.read_text(encoding="utf-8")
    assert "Orange plates: shims to fit; white plates: shims to take out; arrows: rails to push." in html
    stills = re.findall(r"data:image/png[^\"]*", html)
    assert len(stills) == 2  # what a plan would bring is not photographed
    bare = write_page([plan.before, studies[1]], tmp_path / "bare.html").read_text(encoding="utf-8")
    assert stills[0] not in bare


def test_a_plan_for_a_stage_that_is_not_shown_brings_its_stage_along(plan, studies, tmp_path, chromium):
    path = write_page([studies[1]], tmp_path / "other.html", plan=plan)
    with opened(chromium, path) as one:
        names = [name.strip() for name in one.page.locator("#stages label").all_inner_texts()]
        assert names == ["as_left", "as_found", "as_found, after the plan", "side by side"]
        assert one.complaints == []


def test_words_from_elsewhere_do_nothing(plan, tmp_path, chromium):
    bad = replace(plan, says=(EVIL,))
    path = write_page([plan.before], tmp_path / "evil.html", plan=bad, expected=[ExpectedRow(EVIL, 0.0, EVIL, EVIL)])
    with opened(chromium, path) as one:
        assert one.page.locator("img").count() == 0
        assert one.page.locator("script").count() == 2
        assert "onerror=alert(1)" in one.page.locator("section:has(#plan)").inner_text()
        assert one.complaints == []


def test_a_picture_that_has_no_room_yet_draws_nothing_and_complains_of_nothing(planned):
    page = planned.page
    page.evaluate("() => { document.getElementById('live').style.display = 'none'; framevis.page.changed(); }")
    settle(page)
    assert page.evaluate("framevis.marks().length") == 0
    page.evaluate("() => { document.getElementById('live').style.display = ''; framevis.page.changed(); }")
    settle(page)
    assert page.evaluate("framevis.marks().length") > 0
