"""The machine as the page's program needs it: bodies as profiles, and how each station of them moves, by cause.

Takes a frame or a study, gives plain lists for JSON. The program composes them as `pictures.warp` and
`pictures.travel` do. Lengths mm, shifts µm, turns mrad, machine axes; parts refer to each other by index.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from framevis.deviations import CAUSES, Cause
from framevis.frame import Beam, BlockSpot, Carriage, Floats, Frame, Rail
from framevis.opening import is_flange, opening_motion
from framevis.pictures.geometry import Profile, beam_profile, block_profile, plate_solid, rail_ends, rail_profile
from framevis.pictures.geometry import stations_between as stations_close
from framevis.pictures.travel import Group, references, travel_groups
from framevis.pictures.warp import Displacement, beam_motion, rail_motion
from framevis.ribbon import ribbons
from framevis.study import Study

PROBES = np.array([[0.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])  # (s, t, n) mm: they tell shift and turn
POSE_STEP_MM = 50.0
RIGID_BEAM: tuple[Cause, ...] = ("bow", "twist")


def rounded(values: Floats, digits: int) -> list[Any]:
    """Nested lists of plain numbers, whole ones as integers so that they are short."""
    return _short(np.round(np.asarray(values, dtype=np.float64), digits).tolist())  # type: ignore[no-any-return]


def _short(value: Any) -> Any:
    if isinstance(value, list):
        return [_short(item) for item in value]
    return int(value) if float(value).is_integer() else value


def columns(rows: Floats, digits: int) -> list[Any]:
    """Rows (C, N) as lists; 0 for a row in which nothing is left after rounding."""
    short = [rounded(row, digits) for row in rows]
    return [row if any(row) else 0 for row in short]


def _profile(profile: Profile) -> dict[str, Any]:
    return {
        "points": rounded(profile.points, 3),
        "quads": profile.quads.tolist(),
        "outline": profile.outline.tolist(),
        "corners": profile.corners.tolist(),
    }


def machine(frame: Frame) -> dict[str, Any]:
    """What all stages share."""
    return {
        "unit": frame.length_unit,
        "causes": list(CAUSES),
        "up": rounded(frame.up, 9),
        "beams": [_beam(frame, beam) for beam in frame.beams],
        "rails": [_rail(frame, rail) for rail in frame.rails],
        "carriages": [_carriage(frame, carriage) for carriage in frame.carriages],
        "groups": [_group(frame, group) for group in travel_groups(frame)],
    }


def _index(frame: Frame, carriage: Carriage) -> int:
    return [other.name for other in frame.carriages].index(carriage.name)


def _beam(frame: Frame, beam: Beam) -> dict[str, Any]:
    profile, names = beam_profile(beam.section), [carriage.name for carriage in frame.carriages]
    across, up = profile.points.T
    g_t, g_n, _ = opening_motion(beam.section, across, up, is_flange(beam.section, across))
    opens = beam.section.shape == "channel"
    held = references(frame, beam) if beam.carried_by else {}
    return {
        "name": beam.name,
        "origin": rounded(beam.start_mm, 6),
        "axes": rounded(beam.axes, 9),
        "length": round(beam.length_mm, 6),
        "depth": beam.section.depth_mm,
        "width": beam.section.width_mm,
        "profile": _profile(profile),
        "gamma": rounded(np.column_stack([g_t, g_n]), 6) if opens else 0,
        "mouth": (0 if beam.section.mouth == "toward_rails" else -beam.section.depth_mm) if opens else 0,
        "carriers": [names.index(name) for name in beam.carried_by],
        "references": [round(held[name], 6) for name in beam.carried_by],
    }


def _rail(frame: Frame, rail: Rail) -> dict[str, Any]:
    guide = rail.guide
    return {
        "name": rail.name,
        "beam": [beam.name for beam in frame.beams].index(rail.beam.name),
        "origin": rounded(rail.point(0.0), 6),
        "axes": rounded(rail.axes, 9),
        "ends": rounded(np.array(rail_ends(rail)), 3),
        "profile": _profile(rail_profile(guide)),
        "block": {
            "profile": _profile(block_profile(guide)),
            "length": guide.block_length_mm,
            "width": guide.block_width_mm,
            "height": guide.block_height_mm,
        },
        "top": guide.rail_height_mm,
        "width": guide.rail_width_mm,
    }


def _carriage(frame: Frame, carriage: Carriage) -> dict[str, Any]:
    plate, rails = plate_solid(carriage, 0.0), [rail.name for rail in frame.rails]
    start, way = carriage.station_map
    return {
        "name": carriage.name,
        "beam": [beam.name for beam in frame.beams].index(carriage.beam.name),
        "travel": rounded(np.array(carriage.travel_mm), 6),
        "plate": {
            "vertices": rounded(plate.vertices, 4),
            "faces": plate.faces.tolist(),
            "edges": plate.edges.tolist(),
        },
        "blocks": [
            {"name": block.name, "rail": rails.index(block.rail.name), "start": round(float(s), 6), "way": int(w)}
            for block, s, w in zip(carriage.blocks, start, way, strict=True)
        ],
    }


def _group(frame: Frame, group: Group) -> dict[str, Any]:
    return {
        "range": rounded(np.array(group.range_mm), 6),
        "members": [
            {"carriage": _index(frame, m.carriage), "reference": round(m.reference_mm, 6), "way": int(m.way)}
            for m in group.members
        ],
    }


def motion(study: Study) -> dict[str, Any]:
    """How everything moves in one stage."""
    return {
        "beams": [_beam_rows(study, beam) for beam in study.frame.beams],
        "rails": [_rail_rows(study, rail) for rail in study.frame.rails],
        "poses": [_poses(study, carriage) for carriage in study.frame.carriages],
        "shims": [[_fitted(study, c.name, block.name) for block in c.blocks] for c in study.frame.carriages],
        "ribbons": ribbon_rows(study),
    }


def _probes(stations: Floats) -> Floats:
    """Three points (3 · S, 3) of each station in (s, t, n)."""
    at = np.column_stack([stations, np.zeros((stations.size, 2))])
    return np.concatenate([at + probe for probe in PROBES])


def _rigid_rows(moved: Displacement, axes: Floats, causes: tuple[Cause, ...]) -> dict[str, list[Any]]:
    """For each cause six rows along the stations: shift (3) µm and turn (3) mrad about the body's own line."""
    rows: dict[str, list[Any]] = {}
    for cause in causes:
        middle, left, up = moved[cause].reshape(3, -1, 3)
        by_left, by_up = (left - middle) @ axes.T, (up - middle) @ axes.T
        turn = np.column_stack([by_left[:, 2], by_up[:, 0], -by_left[:, 0]]) @ axes
        six = columns(middle.T, 2) + columns(turn.T, 5)
        if any(six):
            rows[cause] = six
    return rows


def _beam_rows(study: Study, beam: Beam) -> dict[str, Any]:
    stations = stations_close(0.0, beam.length_mm)
    moved = beam_motion(study.deviations, beam, _probes(stations))
    opening = study.deviations.value(("opening", beam.name), stations)
    return {
        "stations": rounded(stations, 3),
        "rigid": _rigid_rows(moved, beam.axes, RIGID_BEAM),
        "opening": columns(opening[None], 5)[0],
    }


def _rail_rows(study: Study, rail: Rail) -> dict[str, Any]:
    stations = stations_close(0.0, rail.beam.length_mm)
    if any(name == rail.name for _, name in study.deviations.known):  # a rail on shims kinks at its screws
        stations = np.union1d(stations, rail.screw_stations_mm)
    moved = rail_motion(study.deviations, rail, _probes(stations))
    return {"stations": rounded(stations, 3), "rigid": _rigid_rows(moved, rail.axes, CAUSES)}


def _poses(study: Study, carriage: Carriage) -> dict[str, Any]:
    """The plate's equilibrium pose along the travel, and the point it is told about, from the carriage's origin."""
    low, high = carriage.travel_mm
    at = np.linspace(low, high, max(2, int(np.ceil((high - low) / POSE_STEP_MM)) + 1))
    poses = [study.pose(carriage.name, float(position)) for position in at]
    rows = {}
    for cause in CAUSES:
        shift, turn = (np.array([pose_part[cause] for pose_part in part]).T for part in _parts(poses))
        six = columns(shift, 3) + columns(turn, 5)
        if any(six):
            rows[cause] = six
    middle = poses[0].point_mm - carriage.origin(float(at[0]))
    return {"stations": rounded(at, 3), "rigid": rows, "middle": rounded(middle, 6)}


def _parts(poses: list[Any]) -> tuple[list[Any], list[Any]]:
    return [pose.shift_um for pose in poses], [pose.turn_mrad for pose in poses]


def _fitted(study: Study, carriage: str, block: str) -> list[float]:
    """Thickness (µm) of the shims between a block and its plate, at its left and right edge."""
    fitted = [0.0, 0.0]
    for shim in study.frame.shims_at(study.stage):
        spot = shim.spot
        if isinstance(spot, BlockSpot) and (spot.carriage, spot.block) == (carriage, block):
            fitted[0] += shim.thickness_um * (spot.part != "right")
            fitted[1] += shim.thickness_um * (spot.part != "left")
    return fitted


def ribbon_rows(study: Study) -> list[dict[str, Any]]:
    """For each carriage and rail: stations along the rail and the level of risk at each, 0 to 3."""
    rails = [rail.name for rail in study.frame.rails]
    return [
        {"rail": rails.index(r.rail.name), "stations": rounded(r.station_mm, 2), "level": list(r.level)}
        for r in ribbons(study)
    ]
