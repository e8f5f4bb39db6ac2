"""One page of the demo for all tests, and browsers that stay open for them: with WebGL and without."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import sync_playwright

from framevis.cli import load
from framevis.page import write_page
from page.browser import opened, start

DEMO = Path(__file__).parents[2] / "demo_frames" / "glazing_table"


@pytest.fixture(scope="session")
def studies():
    return [load(DEMO, stage, 200) for stage in ("as_found", "as_left")]


@pytest.fixture(scope="session")
def demo_page(studies, tmp_path_factory) -> Path:
    return write_page(studies, tmp_path_factory.mktemp("page") / "demo.html")


@pytest.fixture(scope="session")
def playwright():
    with sync_playwright() as running:
        yield running


@pytest.fixture(scope="session")
def chromium(playwright):
    started = start(playwright, webgl=True)
    yield started
    started.close()


@pytest.fixture(scope="session")
def without_webgl(playwright):
    started = start(playwright, webgl=False)
    yield started
    started.close()


@pytest.fixture
def watched(chromium, demo_page):
    with opened(chromium, demo_page) as one:
        yield one
        assert one.complaints == []
        assert [url for url in one.requests if not url.startswith("data:")] == [demo_page.as_uri()]
