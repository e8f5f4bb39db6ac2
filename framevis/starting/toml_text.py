"""The text of a new frame.toml: complete, commented, every value with its meaning and unit.

Takes `Answers`; gives a text that `reading.frame_file` reads without a warning. Lengths stay in the answers' own unit.
"""

from __future__ import annotations

import json
from dataclasses import fields

from framevis.starting.answers import Answers, number
from framevis.starting.guides import GenericGuide
from framevis.starting.layout import Layout, PlannedBeam, Point, layout
from framevis.starting.sweeps_text import sweep_lines

Lines = list[str]
COMMENT_AT = 40
REPLACE = "GENERIC, not a maker's: replace by your data sheet"
MEANS = {
    "rail_width": "of the rail's head",
    "rail_height": "rail seat to rail top",
    "block_length": "along the rail",
    "block_width": "across",
    "block_height": "rail seat to block top",
    "ball_height": "rail seat to the middle of the balls: where a rail's lateral is measured and felt",
    "ball_diameter": "",
    "row_spacing": "across, between the ball centres of the two sides",
    "row_gap": "up, between the two rows of one side; 0 for gothic",
    "screw_pitch": "between the rail's screws",
}
SECTION_SHOWN = {
    "channel": "a channel (U)",
    "box": "a closed box",
    "plate": "a solid plate",
}


def toml_text(answers: Answers) -> str:
    """The whole file."""
    planned = layout(answers)
    parts = [
        _head(answers, planned),
        _stock(answers),
        _section(answers),
        _guide(answers, planned.guide),
        _beams(answers, planned),
        _rails(planned, answers),
        _carriages(answers, planned),
        _sweeps(answers, planned),
        _shims(planned),
    ]
    return "\n".join(line.rstrip() for part in parts for line in part) + "\n"


def text(value: str) -> str:
    """A TOML basic string; JSON's escapes are a part of TOML's."""
    return json.dumps(value, ensure_ascii=False)


def _value(key: str, value: str, comment: str = "") -> str:
    line = f"{key} = {value}"
    return f"{line:<{COMMENT_AT - 1}} # {comment}" if comment else line


def _point(point: Point) -> str:
    return f"[{', '.join(number(each) for each in point)}]"


def _head(answers: Answers, planned: Layout) -> Lines:
    masters = ", ".join(text(beam.master) for beam in planned.beams)
    return [
        "# A frame for framevis. Lines that begin with # are for people only. Measure your machine and correct every",
        "# number here: beams and travels are laid out from a few answers, guides and uncertainties are generic.",
        "format = 1",
        _value("name", text(answers.name)),
        _value("length_unit", text(answers.unit), "of every plain length in this file: mm | in"),
        "# States of the machine in the order in which they happen; readings/STAGE/ holds what was read in each.",
        f"stages = [{', '.join(text(each) for each in stages(answers.stage))}]",
        _value("up", "[0, 0, 1]", "against gravity, in machine coordinates"),
        "",
        "# Which way tightening goes, and which rail of each pair is straightened first and is the master.",
        "[tightening]",
        _value("from", '"start"', "start | end | centre"),
        f"master = [{masters}]",
        "",
        "[limits]",
        _value("tight_drag_ratio", "1.5", "drag / drag of the same block on a perfect frame: tight from here"),
        _value("binding_drag_ratio", "3.0", "binding from here"),
        _value("static_safety", "2.0", "allowable / peak load on a ball; the maker's figure wins"),
        "",
    ]


def stages(first: str) -> tuple[str, ...]:
    """The first stage and those that usually follow it."""
    usual = ("as_found", "after_shims", "as_left")
    folded = first.casefold()
    return (first, *usual[usual.index(folded) + 1 :]) if folded in usual else (first, *usual[1:])


def _stock(answers: Answers) -> Lines:
    metric = answers.unit == "mm"
    sizes = "[10, 20, 40, 100]" if metric else "[25.4, 50.8, 76.2, 127]"
    said = "foils of 0.01 0.02 0.04 0.1 mm" if metric else "foils of .001 .002 .003 .005 in, in µm"
    return [
        "# The shims on your bench, always in µm. Fewest and thickest, clean, flat, no burrs; measure the stack.",
        "[shim_stock]",
        _value("thickness_um", sizes, f"{said}: enter your own"),
        "# count = [20, 20, 20, 10]              # how many of each; without it as many as needed",
        _value("max_layers", "3", "at one spot"),
        "",
    ]


def _section(answers: Answers) -> Lines:
    unit = answers.unit
    lines = [
        f"# The extrusion of the beams: {SECTION_SHOWN[answers.section]}, seen across, outside dimensions.",
        "[section.beam]",
        _value("shape", text(answers.section), "channel | box | plate"),
        _value("width", number(answers.width), f"{unit}, across"),
        _value("depth", number(answers.depth), f"{unit}, along the normal of the mounting face"),
    ]
    if answers.wall is not None:
        lines.append(_value("wall", number(answers.wall), f"{unit}, thickness"))
    if answers.mouth is not None:
        lines.append(_value("mouth", text(answers.mouth), "toward_rails (rails on the flanges' tips) |"))
        lines.append(f"{'':<{COMMENT_AT}}# away_from_rails (rails on the web's back)")
    material = _value("material", '"aluminium"', "aluminium | steel | { E_gpa = 70, alpha_per_k = 23.6e-6 }")
    return [*lines, material, ""]


def _guide(answers: Answers, guide: GenericGuide) -> Lines:
    lines = [
        f"# One kind of rail with its block. {REPLACE}.",
        f"[guide.{guide_name(answers)}]",
        _value("arrangement", text(guide.arrangement), "gothic (one row a side, four-point) | O | X (two rows a side)"),
    ]
    for each in fields(guide):
        if each.name in MEANS:
            comment = f"{answers.unit}{', ' if MEANS[each.name] else ''}{MEANS[each.name]}: generic"
            lines.append(_value(each.name, number(getattr(guide, each.name) / answers.mm), comment))
    lines += [
        _value("balls_per_row", str(guide.balls_per_row), "loaded balls of one row: generic"),
        _value("contact_angle_deg", "45.0", "generic"),
        _value("conformity", "0.53", "groove radius / ball diameter: generic"),
        _value(
            "preload_interference_um",
            number(guide.preload_interference_um),
            "µm, ball oversize; negative: clearance: generic",
        ),
        _value("friction", "0.004", "of the rolling balls: generic"),
        _value("seal_drag_n", number(guide.seal_drag_n), "N, of one block: generic"),
        _value("screw", text(guide.screw), "of the rail: generic"),
        _value("screw_clearance_um", "150", "µm, how far a slackened rail can be pushed either way: generic"),
        "# torque_nm = 1.0                       # N·m, final torque of the rail's screws, from the maker's data",
        "# c_n, c0_n                             # N, dynamic and static rating, from the maker's data",
        "",
    ]
    return lines


def guide_name(answers: Answers) -> str:
    return f"generic_{answers.guide_size}_{answers.arrangement}"


def _beams(answers: Answers, planned: Layout) -> Lines:
    lines = [
        f"# Beams: start and end of the centre line of the mounting face, in {answers.unit}, machine coordinates. The",
        "# start is zero for every station: mark it on the machine. Left is left, looking from start to end, face up.",
    ]
    for beam in planned.beams:
        lines += [
            f"[beam.{beam.name}]",
            _value("section", '"beam"'),
            _value("start", _point(beam.start)),
            _value("end", _point(beam.end)),
            _value("normal", "[0, 0, 1]", "out of the mounting face"),
        ]
        if beam.carriers:
            at = number(answers.length / 2.0)
            lines.append(_value("carried_by", f"[{', '.join(text(each) for each in beam.carriers)}]", "carriages"))
            lines.append(_value("carried_at", at, "where the first of them stands when start and end hold"))
            lines.append("# The section of the side beams: give the crossbeam its own [section.NAME] where it differs.")
        lines.append("")
    return lines


def _rails(planned: Layout, answers: Answers) -> Lines:
    lines = ["# Rails. As many screws as fit on the beam from the first one on; number 1 is nearest the start."]
    for beam in planned.beams:
        for rail, seat in zip((beam.master, beam.follower), beam.seats, strict=True):
            lines += [
                f"[rail.{rail}]",
                _value("beam", text(beam.name)),
                _value("guide", text(guide_name(answers))),
                _value("seat", number(seat), f"{answers.unit}, to the left of the beam's centre line"),
                _value("first_screw", number(beam.ride.first_screw), f"{answers.unit}, from the beam's start"),
                "",
            ]
    return lines


def _carriages(answers: Answers, planned: Layout) -> Lines:
    lines = ["# Carriages: a plate on four blocks. A station or position counts along the first block's beam."]
    for beam in planned.beams:
        low, high = beam.ride.travel
        lines += [
            f"[carriage.{beam.carriage}]",
            _value("travel", f"[{number(low)}, {number(high)}]", f"{answers.unit}, of the carriage's middle"),
            _value("mass_kg", number(beam.mass_kg), _mass_says(beam, planned)),
            "blocks = [",
            *_blocks(beam),
            "]",
            "# Where the carriage stood when its blocks (or the follower rail) were last tightened with sideways",
            "# freedom: there they fit by themselves. Correct it; take it out if that was never done.",
            _value("bolted_at", number(low), answers.unit),
            "",
        ]
    return lines


def _mass_says(beam: PlannedBeam, planned: Layout) -> str:
    shared = any(beam.carriage in each.carriers for each in planned.beams)
    return f"kg, plate {'and half the crossbeam' if shared else 'and tool'}: a guess, weigh yours"


def _blocks(beam: PlannedBeam) -> Lines:
    lines = []
    for rail in (beam.master, beam.follower):
        side = rail.rpartition("_")[2]
        for name, along in ((f"far_{side}", beam.ride.along), (f"near_{side}", -beam.ride.along)):
            lines.append(f"  {{ name = {text(name)}, rail = {text(rail)}, along = {number(along)} }},")
    return lines


def _sweeps(answers: Answers, planned: Layout) -> Lines:
    lines = [
        "# Sweeps: ways of measuring worth taking on this frame. One's readings stand in readings/STAGE/SWEEP.csv.",
        "# Plus is left or up, for levels the left side up; sign = -1 where the instrument counts the other way.",
        "# Settle it by touching the stylus, not by assuming. All uncertainties here are generic: put in your own.",
        "",
    ]
    for beam in planned.beams:
        lines += sweep_lines(answers, beam)
    return lines


def _shims(planned: Layout) -> Lines:
    rail = planned.beams[0].master
    return [
        "# What has been fitted, one entry a spot, from a stage on:",
        "# [[shim]]",
        '# stage = "after_shims"',
        f'# spot = "{rail}@1/full"               # RAIL@SCREW/PART or CARRIAGE/BLOCK/PART; PART: full | left | right',
        "# thickness_um = 20",
    ]
