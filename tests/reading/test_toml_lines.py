"""Lines of keys in TOML texts."""

import tomllib

import pytest

from framekit import SAMPLE_TOML
from framevis.reading.toml_lines import key_lines, line_of

TEXT = '''\
top = 1            # comment with [brackets] and "quotes
a.b."c.d" = "x # no comment ] }"

[table]
'quoted key' = [1,
  2,
  # a comment ]
  [3, 4],
]
long = """
[not.a.table]
key = 1 \\"""
"""  # still
after = \'\'\'
[neither]\'\'\'

[[list]]
x = 1
[list.sub]
y = 2
[[list]]
x = 2
[[list.inner]]
z = [ { p = 1, q = { r = 2 } },
      { p = 3 } ]
[other . "dotted" . name]
when = 1979-05-27 07:32:00
f = 1.5
'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("top",), 1),
        (("a",), 2),
        (("a", "b", "c.d"), 2),
        (("table",), 4),
        (("table", "quoted key"), 5),
        (("table", "quoted key", 1), 6),
        (("table", "quoted key", 2), 8),
        (("table", "quoted key", 2, 1), 8),
        (("table", "long"), 10),
        (("table", "after"), 14),
        (("list", 0), 17),
        (("list", 0, "sub", "y"), 20),
        (("list", 1, "x"), 22),
        (("list", 1, "inner", 0, "z", 0, "q", "r"), 24),
        (("list", 1, "inner", 0, "z", 1, "p"), 25),
        (("other", "dotted", "name"), 26),
        (("other", "dotted", "name", "f"), 28),
        (("other", "dotted", "name", "missing", 3), 26),
        (("nothing",), None),
    ],
)
def test_line_of_a_key(path, line):
    tomllib.loads(TEXT)
    assert line_of(key_lines(TEXT), path) == line


def test_every_key_of_the_sample_is_found():
    lines = key_lines(SAMPLE_TOML)
    text = SAMPLE_TOML.split("\n")

    def walk(value, path):
        if path and isinstance(path[-1], str):
            assert path[-1] in text[lines[path] - 1]
        children = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
        for key, child in children:
            walk(child, (*path, key))

    walk(tomllib.loads(SAMPLE_TOML), ())
    assert text[lines["carriage", "left", "blocks", 2, "rail"] - 1].strip().startswith('{ name = "front_inner"')
