"""Pull sweeps of a frame file: a carriage pulled slowly by a spring scale, its drive disconnected.

Takes the models of `frame_schema`, carriages by name and a `Door`; gives `PullSweep` records in N.
"""

from __future__ import annotations

from framevis.frame import Carriage, PullSweep
from framevis.reading.door import Door, did_you_mean, quoted
from framevis.reading.frame_parts import Named, look_up
from framevis.reading.frame_schema import SweepToml
from framevis.reading.frame_sweeps import has_its_keys
from framevis.reading.toml_lines import KeyPath
from framevis.units import N_PER_UNIT

DEFAULT_U_N = 0.3
LEAST_U_N = 0.001  # nothing that pulls a carriage reads finer


def pull(name: str, toml: SweepToml, carriages: Named[Carriage], door: Door) -> tuple[PullSweep | None, str | None]:
    """One way of pulling, and a warning where its uncertainty had to be assumed."""
    at = ("sweep", name)
    if not has_its_keys(at, toml, door) or toml.carriage is None:
        return None, None
    u_n, warning = _uncertainty(at, toml, door)
    carriage = look_up(toml.carriage, carriages, (*at, "carriage"), "carriage", door)
    if u_n is None or carriage is None:
        return None, None
    return PullSweep(name, carriage, u_n, _bare_blocks(at, toml, carriage, door)), warning


def _uncertainty(at: KeyPath, toml: SweepToml, door: Door) -> tuple[float | None, str | None]:
    """Standard uncertainty of one reading, N, and a warning where it is assumed."""
    given = sorted(key for key in toml.model_fields_set if key.startswith("u_"))
    if not given:
        return DEFAULT_U_N, f"sweep {quoted(str(at[-1]))} gives no u_n: {DEFAULT_U_N:g} N is taken for one reading"
    if len(given) > 1:
        door.refuse(at, f"has {' and '.join(given)}", "give the uncertainty of one reading once")
        return None, None
    unit = given[0].removeprefix("u_")
    if unit not in N_PER_UNIT:
        todo = "use one of " + ", ".join(f"u_{each}" for each in N_PER_UNIT)
        door.refuse((*at, given[0]), "a pull sweep reads a force", todo)
        return None, None
    u_n = float(getattr(toml, given[0])) * N_PER_UNIT[unit]
    if u_n < LEAST_U_N:
        what = f"is {u_n:.3g} N, less than any scale on a shop floor can do"
        door.refuse((*at, given[0]), what, "give the standard uncertainty of one reading, scale and hand")
    return u_n, None


def _bare_blocks(at: KeyPath, toml: SweepToml, carriage: Carriage, door: Door) -> tuple[float | None, ...]:
    """What each block takes alone on the bare rail, in the order of the carriage's blocks."""
    given = toml.bare_block_n or {}
    names = [block.name for block in carriage.blocks]
    for name in given:
        if name not in names:
            what = f"carriage {quoted(carriage.name)} has no block {quoted(name)}"
            door.refuse((*at, "bare_block_n", name), what, did_you_mean(name, names))
    return tuple(given.get(name) for name in names) if given else ()
