"""A real browser for the tests of the page: software WebGL, and nothing that asks the network by itself."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from playwright.sync_api import Browser, Page, Playwright

CHROMIUM = "/usr/bin/chromium"
QUIET = [
    "--headless=new",
    "--no-sandbox",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
SOFTWARE_WEBGL = ["--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
NO_WEBGL = ["--disable-3d-apis"]
SIZE = {"width": 1280, "height": 720}


@dataclass
class Watched:
    """A page, with everything that it asked for or complained about."""

    page: Page
    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)


def start(playwright: Playwright, *, webgl: bool) -> Browser:
    more = SOFTWARE_WEBGL if webgl else NO_WEBGL
    return playwright.chromium.launch(executable_path=CHROMIUM, args=[*QUIET, *more])


@contextmanager
def opened(chromium: Browser, path: Path, **options) -> Iterator[Watched]:
    """The page of a file, watched from before its first byte."""
    context = chromium.new_context(viewport=options.pop("viewport", SIZE), **options)
    page = context.new_page()
    watched = Watched(page)
    page.on("request", lambda request: watched.requests.append(request.url))
    page.on("console", lambda message: watched.complaints.append(f"{message.type}: {message.text}"))
    page.on("pageerror", lambda error: watched.complaints.append(str(error)))
    page.add_init_script(
        "document.addEventListener('securitypolicyviolation', e => console.error('CSP ' + e.violatedDirective))"
    )
    page.goto(path.as_uri())
    settle(page)
    yield watched
    context.close()


def settle(page: Page) -> None:
    """Wait until what was changed is drawn."""
    page.evaluate("() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => done())))")


def set_slider(page: Page, name: str, value: float) -> None:
    """Move a slider by its id, as a hand does: the value, then the event."""
    page.evaluate(
        "([id, value]) => { const s = document.getElementById(id); s.value = value;"
        " s.dispatchEvent(new Event('input', {bubbles: true})); }",
        [name, value],
    )
    settle(page)


def press(page: Page, locator: str) -> None:
    page.locator(locator).click()
    settle(page)


def pixels(page: Page) -> bytes:
    """The picture as drawn by WebGL alone, without what is written over it: bytes of a PNG data address."""
    return page.evaluate("() => document.getElementById('canvas').toDataURL()").encode()
