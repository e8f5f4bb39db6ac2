"""How fast the page opens and draws in headless Chromium on software WebGL (not part of the test run).

python -m pytest tests/benchmarks/test_page_speed.py -s
"""

from __future__ import annotations

from page.browser import opened
from page.conftest import chromium, demo_page, playwright, studies  # noqa: F401

MOST_MS = 1000.0  # to open
FRAMES = """() => {
  const p = framevis.page, gl = p.picture.painter.gl, dot = new Uint8Array(4), times = [];
  for (let i = 0; i < 15; i++) {
    const t = performance.now();
    p.picture.camera.orbit(4, 0);
    p.picture.draw();
    gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, dot);
    times.push(performance.now() - t);
  }
  return times.sort((a, b) => a - b);
}"""


def test_opening(chromium, demo_page):  # noqa: F811
    with opened(chromium, demo_page) as one:
        ready = one.page.evaluate("performance.getEntriesByType('navigation')[0].loadEventEnd")
    print(f"\nopens in {ready:.0f} ms ({ready / MOST_MS:.2f} of the limit)")
    assert ready < MOST_MS


def test_frames(chromium, demo_page):  # noqa: F811
    """At 1280 x 720; the limit is 33 ms on two quiet cores."""
    with opened(chromium, demo_page) as one:
        took = one.page.evaluate(FRAMES)
    print(f"\na frame takes {took[7]:.0f} ms ({took[7] * 30.0 / 1000.0:.2f} of the limit), at most {took[-1]:.0f} ms")
