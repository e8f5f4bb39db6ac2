"""One self-contained HTML file that shows a frame's stages to somebody far away."""

from framevis.page.plan_section import ExpectedRow, expected_after
from framevis.page.write import write_page

__all__ = ["ExpectedRow", "expected_after", "write_page"]
