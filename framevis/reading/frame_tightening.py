"""How the builder means to tighten: directions and master rails of a frame file, checked against its rails.

Takes the model of `frame_schema`, rails by name and a `Door`; gives a frozen record.
"""

from __future__ import annotations

from framevis.frame import Rail, Tightening
from framevis.reading.door import Door, quoted
from framevis.reading.frame_parts import Named, look_up
from framevis.reading.frame_schema import TighteningToml


def tightening(toml: TighteningToml, rails: Named[Rail], door: Door) -> Tightening:
    for name in toml.rail:
        look_up(name, rails, ("tightening", "rail", name), "rail", door)
    for name in toml.master:
        look_up(name, rails, ("tightening", "master"), "rail", door)
    twice = next((name for name in toml.master if toml.master.count(name) > 1), None)
    if twice is not None:
        door.refuse(("tightening", "master"), f"names rail {quoted(twice)} twice", "name each master rail once")
    return Tightening(toml.first, tuple(toml.rail.items()), toml.master)
