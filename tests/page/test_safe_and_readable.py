"""Nothing from a file can do harm; everybody can read the page: axe's rules, a phone, paper, no WebGL, no network."""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe

from framevis.errors import BadInput
from framevis.page import write_page
from framevis.page.embed import data, filled
from page.browser import opened, press, set_slider

EVIL = "</script><img src=x onerror=alert(1)>\u2028\"'&{{script}}"


def evil(study):
    """The study of a frame whose own name and stage are an attack."""
    frame = replace(study.frame, name=EVIL, stages=(EVIL,), shims=())
    blocks = [
        replace(a, block=replace(a.block, name=EVIL), verdict="unsure" if i == 0 else a.verdict)
        for i, a in enumerate(study.carriages[2].blocks)
    ]
    last = replace(study.carriages[2], blocks=tuple(blocks))
    return replace(
        study,
        frame=frame,
        readings=replace(study.readings, name=EVIL, warnings=(EVIL,)),
        carriages=(*study.carriages[:2], last),
    )


def test_names_are_shown_and_do_nothing(chromium, studies, tmp_path):
    path = write_page([evil(studies[0])], tmp_path / "evil.html")
    with opened(chromium, path) as one:
        page = one.page
        shown = page.locator("h1").inner_text()
        assert shown.startswith("</script><img src=x onerror=alert(1)>")
        assert shown.endswith("{{script}}")
        assert page.locator("img").count() == 0
        assert page.locator("script").count() == 2
        assert "</script><img" in page.locator("#over").text_content()
        set_slider(page, "position-0", 500)
        assert one.complaints == []
        assert [url for url in one.requests if not url.startswith("data:")] == [path.as_uri()]


def test_data_can_not_leave_its_element():
    text = data({"name": EVIL})
    assert "<" not in text
    assert "\u2028" not in text
    assert json.loads(text) == {"name": EVIL}


def test_what_is_filled_in_is_not_looked_at_again():
    assert filled("{{a}} {{b}}", {"a": "{{b}}", "b": "x"}) == "{{b}} x"


def test_policy_allows_nothing_else(chromium, demo_page):
    """A script that somebody adds to the file is refused."""
    tampered = demo_page.with_name("tampered.html")
    text = demo_page.read_text(encoding="utf-8").replace("</main>", "<script>window.harm = 1</script></main>")
    tampered.write_text(text.replace("</header>", "<img src='http://localhost:9/x.png'></header>"), encoding="utf-8")
    with opened(chromium, tampered) as one:
        assert one.page.evaluate("window.harm") is None
        assert any("script-src" in complaint for complaint in one.complaints)
        assert any("img-src" in complaint for complaint in one.complaints)


def test_the_file_names_no_address(demo_page):
    text = demo_page.read_text(encoding="utf-8").replace("http://www.w3.org/2000/svg", "")
    assert re.findall(r"(?:https?:)?//[a-z0-9]+\.[a-z]+", text, re.I) == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 390])
def test_axe_finds_nothing(chromium, demo_page, scheme, width):
    with opened(chromium, demo_page, viewport={"width": width, "height": 844}, color_scheme=scheme) as one:
        for details in one.page.locator("details").all():
            details.evaluate("d => d.open = true")
        found = Axe().run(one.page, options={"resultTypes": ["violations"]}).response["violations"]
    assert [(v["id"], [node["target"] for node in v["nodes"]][:3]) for v in found] == []


def test_dark_and_light_differ(chromium, demo_page):
    grounds = set()
    for scheme in ("light", "dark"):
        with opened(chromium, demo_page, color_scheme=scheme) as one:
            grounds.add(one.page.evaluate("getComputedStyle(document.body).backgroundColor"))
            assert one.complaints == []
    assert len(grounds) == 2


def test_a_phone_needs_no_sideways_scrolling(chromium, demo_page):
    with opened(chromium, demo_page, viewport={"width": 390, "height": 844}, is_mobile=True, has_touch=True) as one:
        press(one.page, "#stages label:nth-of-type(3)")
        assert "opening 2.7 mrad" in one.page.locator("#cut ol").first.inner_text()
        assert one.page.evaluate("document.documentElement.scrollWidth") <= 390
        assert one.page.locator("#canvas").bounding_box()["width"] > 340


def test_every_control_has_a_name_and_can_be_reached(watched):
    page = watched.page
    nameless = page.evaluate(
        "() => [...document.querySelectorAll('input, select, button')].filter(c =>"
        " !(c.labels && c.labels.length) && !c.textContent.trim()).map(c => c.outerHTML)"
    )
    assert nameless == []
    page.locator("#magnification").focus()
    said = page.locator("#magnification-said").inner_text()
    page.keyboard.press("ArrowRight")
    page.wait_for_timeout(50)
    assert page.locator("#magnification-said").inner_text() != said


def test_without_webgl_stills_and_everything_else(without_webgl, demo_page):
    with opened(without_webgl, demo_page) as one:
        page = one.page
        assert page.locator("#no-three").is_visible()
        assert page.locator("#picture").is_hidden()
        assert page.locator(".still").count() == 2
        assert page.locator(".still").first.is_visible()
        rows = page.locator("#numbers").inner_text()
        cut = page.locator("#cut").inner_html()
        set_slider(page, "position-0", 300)
        assert page.locator("#numbers").inner_text() != rows
        assert page.locator("#cut").inner_html() != cut
        assert [c for c in one.complaints if "WebGL" not in c] == []


def test_without_scripts_the_report_is_there(chromium, demo_page):
    with opened_plain(chromium, demo_page) as page:
        assert page.locator(".still").first.is_visible()
        assert "4 of 4 blocks bind" in page.locator("main").inner_text()


class opened_plain:  # noqa: N801
    """A page with scripts switched off."""

    def __init__(self, chromium, path):
        self.context = chromium.new_context(java_script_enabled=False)
        self.path = path

    def __enter__(self):
        page = self.context.new_page()
        page.goto(self.path.as_uri())
        return page

    def __exit__(self, *_):
        self.context.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_print_has_the_still_and_all_stages(watched, paper):
    page = watched.page
    page.emulate_media(media="print")
    assert page.locator(".still").first.is_visible()
    assert page.locator("#canvas").is_hidden()
    assert page.locator("[data-stage='1']").is_visible()
    pdf = page.pdf(format=paper, print_background=True)
    assert b"/Subtype /Image" in pdf
    assert pdf.startswith(b"%PDF")


def test_all_that_belongs_to_it_is_there(watched):
    text = watched.page.locator("body").inner_text()
    for wanted in (
        "4 of 4 blocks bind beyond",
        "Hertz",
        "seed 0",
        "Wahba 1978",
        "Pinch points",
        "Thin shim cuts",
        "glazing_table",
        "set aside",
        "Mostly from: opening",
    ):
        assert wanted in text
    assert watched.page.locator("figure .chart").count() == 12 + 2 * 18
    assert watched.page.locator("text.suspect").count() > 0


@pytest.mark.parametrize(
    ("name", "match"),
    [("page.txt", "ends in .html"), ("nowhere/page.html", "there is no folder"), ("", "ends in .html")],
)
def test_what_can_not_be_written_is_said_in_one_sentence(studies, tmp_path, name, match):
    with pytest.raises(BadInput, match=match):
        write_page(studies, tmp_path / name)


def test_a_failed_write_leaves_nothing_behind(studies, tmp_path, monkeypatch):
    def full(*_args, **_more):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_text", full)
    with pytest.raises(BadInput, match="No space left"):
        write_page(studies[:1], tmp_path / "page.html")
    assert list(tmp_path.iterdir()) == []
    assert shutil.disk_usage(tmp_path).free > 0
