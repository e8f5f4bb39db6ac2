"""Sliders and switches in a real browser: each moves pixels and numbers, and nothing complains or asks the network."""

from __future__ import annotations

from dataclasses import replace

import pytest

from framevis.deviations import CAUSES, Deviations
from framevis.page import write_page
from page.browser import opened, pixels, press, set_slider, settle


def test_opens_with_the_live_picture_and_is_small(chromium, demo_page):
    assert demo_page.stat().st_size < 1_000_000
    with opened(chromium, demo_page) as one:
        assert one.page.locator("#live").is_visible()


def test_magnification_moves_pixels_and_its_number(watched):
    page, before = watched.page, pixels(watched.page)
    set_slider(page, "magnification", 900)
    assert pixels(page) != before
    assert page.locator("#magnification-said").inner_text() == "×1347"  # 3000 ** 0.9
    assert "×1347" in page.locator("#over").text_content()


@pytest.mark.parametrize(("end", "shown"), [(0, "×1"), (1000, "×3000")])
def test_magnification_goes_from_1_to_3000(watched, end, shown):
    set_slider(watched.page, "magnification", end)
    assert watched.page.locator("#magnification-said").inner_text() == shown


def test_carriers_of_one_beam_move_together_and_numbers_follow(watched):
    page, before = watched.page, pixels(watched.page)
    rows = page.locator("#numbers tbody").first.inner_text()
    set_slider(page, "position-0", 300)
    assert pixels(page) != before
    assert page.locator("#position-0-said").inner_text() == "left 300 mm, right 300 mm"
    assert page.locator("#numbers tbody").first.inner_text() != rows
    assert "Carriage left at 300 mm" in page.locator("#numbers").inner_text()


def test_the_carried_carriage_moves_alone(watched):
    page = watched.page
    at = page.evaluate("framevis.state.positions")
    before = pixels(page)
    set_slider(page, "position-1", 800)
    assert page.evaluate("framevis.state.positions") == [at[0], at[1], 800]
    assert pixels(page) != before


@pytest.mark.parametrize("cause", CAUSES)
def test_every_cause_has_a_switch_that_works(watched, cause):
    page = watched.page
    if cause == "shims":  # none are fitted as found
        press(page, "#stages label:nth-of-type(2)")
    before = pixels(page)
    press(page, f"input[name=cause-{cause}]")
    changed = pixels(page)
    assert changed != before
    press(page, f"input[name=cause-{cause}]")
    assert pixels(page) == before


@pytest.mark.parametrize("switch", ["ghost", "ribbon"])
def test_every_other_switch_works(watched, switch):
    page, before = watched.page, pixels(watched.page)
    press(page, f"#{switch}")
    assert pixels(page) != before
    press(page, f"#{switch}")
    assert pixels(page) == before


def test_labels_tell_name_and_verdict_and_can_be_switched_off(watched):
    page = watched.page
    assert "left/far_outer binding" in page.locator("#over").text_content()
    press(page, "#labels")
    assert "far_outer" not in page.locator("#over").text_content()


def test_stages_by_switch_and_side_by_side(watched):
    page, found = watched.page, pixels(watched.page)
    press(page, "#stages label:nth-of-type(2)")
    left = pixels(page)
    assert left != found
    assert "stage as_left" in page.locator("#over").text_content()
    assert page.locator("[data-stage='0']").is_hidden()
    press(page, "#stages label:nth-of-type(3)")
    assert pixels(page) not in (found, left)
    assert {"stage as_found", "stage as_left"} <= set(page.locator("#over .stage-name").all_text_contents())
    assert page.locator("[data-stage='0']").is_visible()
    assert page.locator("#cut svg").count() == 2


@pytest.mark.parametrize("view", ["worst", "top", "along", "across"])
def test_every_view_looks_different_and_the_first_comes_back(watched, view):
    page, before = watched.page, pixels(watched.page)
    press(page, f"button[data-view={view}]")
    assert pixels(page) != before
    press(page, "button[data-view=home]")
    assert pixels(page) == before


def test_switched_off_causes_leave_the_nominal_machine_at_any_magnification(watched):
    page = watched.page
    press(page, "#ghost")
    for cause in CAUSES:
        press(page, f"input[name=cause-{cause}]")
    set_slider(page, "magnification", 0)
    nominal = pixels(page)
    set_slider(page, "magnification", 1000)
    assert pixels(page) == nominal


def test_zero_deviation_is_nominal_to_the_pixel(chromium, studies, tmp_path):
    study = studies[0]
    layout = study.deviations.layout
    flat = replace(study, deviations=Deviations(layout, 0.0 * study.deviations.coefficients, {}))
    with opened(chromium, write_page([flat], tmp_path / "flat.html")) as one:
        page = one.page
        press(page, "#ghost")
        set_slider(page, "magnification", 1000)
        warped = pixels(page)
        for cause in CAUSES:
            press(page, f"input[name=cause-{cause}]")
        assert pixels(page) == warped


def test_cut_follows_the_carriage_until_it_is_moved(watched):
    page = watched.page
    set_slider(page, "position-0", 400)
    assert page.locator("#cut-said").inner_text() in ("455 mm", "345 mm")
    before = page.locator("#cut").inner_html()
    set_slider(page, "cut-station", 500)
    assert page.locator("#cut-said").inner_text() == "750 mm"
    assert page.locator("#cut").inner_html() != before
    assert not page.locator("#cut-follows").is_checked()
    press(page, "#cut-follows")
    assert page.locator("#cut-said").inner_text() in ("455 mm", "345 mm")
    page.locator("#cut-beam").select_option(label="cross")
    settle(page)
    assert "Beam cross" in page.locator("#cut figcaption").inner_text()
