"""The sweeps worth taking on a new frame, as text for frame.toml, in the order of the work on each beam.

Takes `Answers` and a planned beam; gives lines. Every uncertainty is generic and says so.
"""

from __future__ import annotations

from framevis.starting.answers import Answers, number
from framevis.starting.layout import PlannedBeam

Lines = list[str]
# one reading's standard uncertainty by what was used, in a frame in mm and in one in inches: common on a shop floor
U = {
    "indicator": ("u_um = 2.0", "u_thou = 0.1"),
    "bridge": ("u_um = 3.0", "u_thou = 0.12"),
    "gap": ("u_um = 5.0", "u_thou = 0.2"),
    "mouth": ("u_um = 10.0", "u_thou = 0.4"),
    "level": ("u_mm_per_m = 0.02", "u_in_per_ft = 0.00025"),
    "pull": ("u_n = 0.3", "u_lbf = 0.07"),
}
LEVEL = 'instrument = "level"'


def sweep_lines(answers: Answers, beam: PlannedBeam) -> Lines:
    """All sweeps of one beam: twist, heights, spacing, then what checks them."""
    master, follower, name = beam.master, beam.follower, beam.name
    pair = f'rails = ["{master}", "{follower}"]'
    is_mm = answers.unit == "mm"
    edges = ("left", "right") if beam.seats[0] > 0.0 else ("right", "left")
    lines = [
        f"# ---- Beam {name}",
        "",
        "# Twist: a level across each rail (on a block that is carried along), and across the pair, with one",
        "# instrument held the same way round: sweeps that name the same instrument share its zero error.",
        *_sweep(f"{master}_roll", "level_across", f'rail = "{master}"', LEVEL, u="level", is_mm=is_mm),
        *_sweep(f"{follower}_roll", "level_across", f'rail = "{follower}"', LEVEL, u="level", is_mm=is_mm),
        *_sweep(f"{name}_pair_roll", "level_across", pair, LEVEL, u="level", is_mm=is_mm),
    ]
    if answers.section == "channel":
        lines += _mouth(answers, name)
    along = (f'rail = "{master}"', 'reference = "straightedge"')
    lines += [
        "# Heights: an indicator carried along the master rail by its block, stylus on a straightedge.",
        *_sweep(f"{master}_height", "indicator", *along, 'direction = "height"', u="indicator", is_mm=is_mm),
        "# Sideways: the master rail against the straightedge, then the follower from the master.",
        *_sweep(f"{master}_lateral", "indicator", *along, 'direction = "lateral"', u="indicator", is_mm=is_mm),
        *_reversed(master, is_mm),
        *_sweep(f"{name}_spacing", "bridge", pair, 'direction = "lateral"', u="bridge", is_mm=is_mm),
        "# Block tops: a straightedge across both touches the outer edges, the feeler goes in at an inner one.",
        *_sweep(
            f"{name}_tops",
            "gap",
            f'touches = [["{master}", "{edges[0]}"], ["{follower}", "{edges[1]}"]]',
            f'feeler_at = ["{master}", "{edges[1]}"]',
            u="gap",
            is_mm=is_mm,
        ),
        "# Pull: a spring scale at the middle of the carriage, slow and steady, both ways, its drive disconnected.",
        "# Pull each block alone on the bare rail first, as a baseline (bare_block_n).",
        *_sweep(f"{beam.carriage}_pull", "pull", f'carriage = "{beam.carriage}"', u="pull", is_mm=is_mm),
    ]
    return lines


def _sweep(name: str, kind: str, *keys: str, u: str, is_mm: bool) -> Lines:
    generic = f"{U[u][0 if is_mm else 1]:<40}# generic: of one reading, instrument and hand"
    return [f"[sweep.{name}]", f'kind = "{kind}"', *keys, generic, ""]


def _mouth(answers: Answers, name: str) -> Lines:
    inside = min(5.0 / answers.mm, answers.depth / 4.0)
    at = f"depth_at = {number(inside)}"
    return [
        "# Opening: a calliper across the channel's mouth, that far inside the flanges' tips.",
        *_sweep(f"{name}_mouth", "mouth", f'beam = "{name}"', at, u="mouth", is_mm=answers.unit == "mm"),
    ]


def _reversed(master: str, is_mm: bool) -> Lines:
    """The run with the straightedge turned over, for who wants to be free of its error."""
    lines = [
        f"[sweep.{master}_lateral_reversed]",
        'kind = "indicator"',
        f'rail = "{master}"',
        'reference = "straightedge"',
        'direction = "lateral"',
        "reversed = true",
        U["indicator"][0 if is_mm else 1],
    ]
    return [
        "# The same with the straightedge turned over: with both runs its own error drops out.",
        *(f"# {line}" for line in lines),
        "",
    ]
