"""The shapes of the verdicts: square, triangle, circle, diamond, so that colour is never all that tells them apart."""

from __future__ import annotations

from framevis.pictures.look import marker
from framevis.verdicts import Verdict


def mark(verdict: Verdict, x: float, y: float, radius: float) -> str:
    """An SVG shape about a place; up is up."""
    corners = "L".join(f"{px:.1f} {2.0 * y - py:.1f}" for px, py in marker(verdict, x, y, radius))
    return f'<path class="mark {verdict}" d="M{corners}Z"/>'


def badge(verdict: Verdict) -> str:
    """Shape and word, for a table or a sentence."""
    shape = f'<svg class="badge" viewBox="0 0 16 16" aria-hidden="true">{mark(verdict, 8.0, 8.0, 7.0)}</svg>'
    return f'<span class="verdict">{shape}{verdict}</span>'
