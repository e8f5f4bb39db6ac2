"""How text and data get into the page safely: escaping, JSON, hashes of the content security policy, templates.

Everything that came from a file passes through `text` or `data`; scripts and styles are the project's own files.
"""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
from collections.abc import Mapping
from importlib.resources import files
from typing import Any

SCRIPTS = (
    "vectors.js",
    "machine.js",
    "stand.js",
    "camera.js",
    "painter.js",
    "marks.js",
    "plan.js",
    "overlay.js",
    "cut.js",
    "numbers.js",
    "gestures.js",
    "controls.js",
    "main.js",
)
STYLES = ("page.css", "print.css")


def text(value: object) -> str:
    """A text from anywhere, for the inside of an element or a quoted attribute."""
    shown = "".join(c if c.isprintable() else " " for c in str(value))
    return html.escape(shown, quote=True)


def data(value: Any) -> str:
    """JSON for the inside of a script element: nothing in it can end the element or a line."""
    plain = json.dumps(value, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    return plain.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e")


def asset(name: str) -> str:
    """One of the page's own files."""
    return files("framevis.page").joinpath("assets", name).read_text(encoding="utf-8")


def script() -> str:
    """All of the page's program, in the order in which the parts need each other."""
    return "\n".join(['"use strict";', *(asset(name) for name in SCRIPTS)])


def style() -> str:
    return "\n".join(asset(name) for name in STYLES)


def digest(content: str) -> str:
    """A source expression of a content security policy: the hash of an inline script or style."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(content.encode('utf-8')).digest()).decode('ascii')}'"


def policy(script_text: str, style_text: str) -> str:
    """Nothing is allowed but this very script, this very style, and pictures inside the file."""
    return "; ".join(
        [
            "default-src 'none'",
            f"script-src {digest(script_text)}",
            f"style-src {digest(style_text)}",
            "img-src data:",
            "base-uri 'none'",
            "form-action 'none'",
        ]
    )


def filled(template: str, parts: Mapping[str, str]) -> str:
    """A template with each {{name}} replaced once; what is put in is not looked at again."""
    return re.sub(r"\{\{(\w+)\}\}", lambda found: parts[found.group(1)], template)
