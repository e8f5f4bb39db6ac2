"""The sweeps of a random machine: all kinds, some of them not taken, or just the six of a plain survey.

"Plain": indicator and level on each rail and from rail to rail, one for each thing that a carriage feels, so that
readings can be interpolated by hand without any estimate (`plain_interpolation`).
"""

from __future__ import annotations

from typing import Literal

import numpy as np

from machines import Tree

Measuring = Literal["all taken", "some missing", "plain"]
MISSING = 0.35  # chance of a sweep not to be taken, of frames where some are missing
LEVEL = "level"


def sweeps_of_pair(tree: Tree, rails: str, measuring: str, bolted: bool, random: np.random.Generator) -> Tree:
    """Sweeps on two rails and between them; `bolted`: their lateral offset and yaw need no measuring."""
    if measuring == "plain":
        return _plain(rails, bolted, random)
    found: Tree = {}
    same_face = len({tree["rail"][rail]["face_deg"] for rail in rails}) == 1
    for rail in rails:
        for direction in ("lateral", "height"):
            found |= _along(rail, direction, not same_face, random)
        found |= _across({"rail": rail}, random)
    beams = {tree["rail"][rail]["beam"] for rail in rails}
    if same_face:
        found |= _between(rails, bolted, random)
    if same_face and len(beams) == 2:
        found |= _gap(rails, tree["beam"][tree["rail"][rails[1]]["beam"]]["start"][1] > 100.0, random)
    for beam in sorted(beams):
        found |= _on_beam(beam, tree["section"][tree["beam"][beam]["section"]], random)
    if measuring == "some missing":
        found = _some(found, random)
    return found


def _plain(rails: str, bolted: bool, random: np.random.Generator) -> Tree:
    a, b = rails
    line = {"kind": "indicator", "rail": a, "u_um": float(random.uniform(1.0, 3.0)), "reference": "straightedge"}
    found: Tree = {f"{a}_{way}": {**line, "direction": way} for way in ("lateral", "height")}
    bridge = _u({"kind": "bridge", "rails": [a, b], "direction": "lateral", "absolute": not bolted}, 1.5, 3.0, random)
    level = _u({"kind": "level_across", "instrument": LEVEL}, 0.01, 0.03, random)
    found[f"{a}{b}_lateral"] = bridge
    return (
        found
        | {f"{a}_roll": {**level, "rail": a}, f"{b}_roll": {**level, "rail": b}}
        | {f"{a}{b}_roll": {**level, "rails": [a, b]}}
    )


def _u(sweep: Tree, low: float, high: float, random: np.random.Generator) -> Tree:
    """The sweep with its uncertainty, and plus to one side or the other."""
    key = "u_mrad" if str(sweep["kind"]).startswith("level") else "u_um"
    return {**sweep, key: float(random.uniform(low, high))}


def _sign(random: np.random.Generator) -> Tree:
    return {"sign": int(random.choice([1, -1]))}


def _along(rail: str, direction: str, against_face: bool, random: np.random.Generator) -> Tree:
    """One way to see a rail's line; both runs of a straightedge that isn't trusted; sometimes against the beam too."""
    name = f"{rail}_{direction}"
    line = _u({"kind": "indicator", "rail": rail, "direction": direction}, 1.0, 3.0, random) | _sign(random)
    found: Tree = {}
    way = str(random.choice(["straightedge", "both runs", "wire", "level"]))
    if way == "level" and direction == "height":
        level = {"kind": "level_along", "rail": rail, "base": float(random.uniform(60.0, 150.0))}
        found[f"{name}_level"] = _u(level, 0.01, 0.04, random)
    elif way == "both runs":
        found[name] = {**line, "reference": "straightedge"}
        found[f"{name}_turned"] = {**line, "reference": "straightedge", "reversed": True}
    else:
        found[name] = {**line, "reference": "wire" if way == "wire" else "straightedge"}
    if against_face or random.random() < 0.2:
        found[f"{name}_face"] = {**line, "reference": "face"}
    return found


def _across(on: Tree, random: np.random.Generator) -> Tree:
    name = "".join(on.get("rails", on.values()))
    return {f"{name}_roll": _u({"kind": "level_across", "instrument": LEVEL, **on}, 0.01, 0.04, random) | _sign(random)}


def _between(rails: str, bolted: bool, random: np.random.Generator) -> Tree:
    a, b = rails
    found: Tree = {}
    for direction in ("lateral", "height"):
        felt = direction == "lateral" and not bolted
        absolute = felt or bool(random.random() < 0.4)
        bridge = {"kind": "bridge", "rails": [a, b], "direction": direction, "absolute": absolute}
        found[f"{a}{b}_{direction}"] = _u(bridge, 1.5, 4.0, random) | _sign(random)
    return found | _across({"rails": [a, b]}, random)


def _gap(rails: str, turned_round: bool, random: np.random.Generator) -> Tree:
    """Straightedge from the first rail's inner edge to the lower rail's far edge, feeler at that rail's near edge."""
    (a, b), (near, far) = rails, ("right", "left") if turned_round else ("left", "right")
    gap = {"kind": "gap", "touches": [[a, "right"], [b, far]], "feeler_at": [b, near]}
    return {f"{a}{b}_tops": _u(gap, 3.0, 6.0, random)}


def _on_beam(beam: str, section: Tree, random: np.random.Generator) -> Tree:
    found: Tree = {}
    if section["shape"] == "channel":
        nominal = {"nominal": section["width"] - 12.0} if random.random() < 0.5 else {}
        found[f"{beam}_mouth"] = _u({"kind": "mouth", "beam": beam, **nominal}, 5.0, 10.0, random)
    if random.random() < 0.25:
        found |= _across({"beam": beam}, random)
    if random.random() < 0.15:
        found[f"{beam}_along"] = _u({"kind": "level_along", "beam": beam, "base": 100.0}, 0.01, 0.04, random)
    return found


def _some(found: Tree, random: np.random.Generator) -> Tree:
    """Some of the sweeps; a straightedge's two runs stay together, and one sweep is left at least."""
    lines = sorted({name.removesuffix("_turned") for name in found})
    left_out = {name for name in lines if random.random() < MISSING}
    kept = {name: sweep for name, sweep in found.items() if name.removesuffix("_turned") not in left_out}
    return kept or {lines[0]: found[lines[0]]}
