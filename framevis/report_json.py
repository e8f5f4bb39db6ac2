"""The JSON of `framevis assess`: section 6 of the design, to the letter; what is added comes beside.

Takes a study, gives one object ready for `json.dumps`.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from framevis.assumptions import assumptions
from framevis.carriage import COMPONENTS
from framevis.curves import RailCurves, beam_curves, rail_curves, stations_of
from framevis.frame import Floats
from framevis.pulls.calibrate import Calibration
from framevis.pulls.pull import Held, hold
from framevis.pulls.say_pull import says
from framevis.say import warnings
from framevis.study import Study
from framevis.verdicts import BlockAssessment

FORMAT = 1
MISFIT_NAMES = tuple(f"{name}_{'um' if i < 2 else 'mrad'}" for i, name in enumerate(COMPONENTS))


def numbers(values: Floats) -> list[float]:
    """Plain floats, rounded where nothing is left to read: 1e-6."""
    return [round(float(value), 6) + 0.0 for value in values]


def assessment(study: Study, calibration: Calibration | None = None) -> dict[str, Any]:
    """The object that `assess --json` prints. `calibration`: what the study's guides and seats were fitted to."""
    return {
        "format": FORMAT,
        "frame": study.frame.name,
        "stage": study.stage,
        "draws": study.draws,
        "seed": study.seed,
        "carriages": [
            {
                "name": carriage.name,
                "stations_mm": numbers(carriage.stations_mm),
                "blocks": [_block(block) for block in carriage.blocks],
            }
            for carriage in study.carriages
        ],
        "deviations": [_rail(rail_curves(study, rail)) for rail in study.frame.rails],
        "beams": [
            {
                "beam": beam.name,
                "stations_mm": numbers(stations_of(beam)),
                **{
                    f"{kind}_{'um' if kind.startswith('bow') else 'mrad'}": numbers(values)
                    for kind, values in beam_curves(study, beam).items()
                },
            }
            for beam in study.frame.beams
        ],
        "residuals": residuals(study),
        "pull": [_pull(study, held) for held in hold(study)],
        "calibration": None if calibration is None else _calibration(calibration),
        "assumptions": [
            {"assumed": each.assumed, "errs": each.errs, "why": each.why, "checked": each.is_checked}
            for each in assumptions(study)
        ],
        "warnings": warnings(study),
    }


def _block(block: BlockAssessment) -> dict[str, Any]:
    return {
        "name": block.name,
        "rail": block.block.rail.name,
        "verdict": block.verdict,
        "p_tight": block.p_tight,
        "p_binding": block.p_binding,
        "worst_station_mm": round(block.worst_station_mm, 6),
        "misfit": {name: numbers(values) for name, values in zip(MISFIT_NAMES, block.misfit, strict=True)},
        "drag_n": numbers(block.drag_n),
        "drag_ratio": numbers(block.drag_ratio),
        "drag_ratio_p95": numbers(block.drag_ratio_p95),
        "peak_pressure_mpa": numbers(block.peak_pressure_mpa),
        "static_safety": numbers(block.static_safety),
    }


def _rail(curves: RailCurves) -> dict[str, Any]:
    named = (("lateral", "um", curves.lateral), ("height", "um", curves.height), ("roll", "mrad", curves.roll))
    arrays = {}
    for name, unit, curve in named:
        arrays[f"{name}_{unit}"], arrays[f"{name}_u_{unit}"] = numbers(curve.mean), numbers(curve.u)
    lines = {
        f"{name}_um": {
            line: round(getattr(curves.straightness(name), line).straightness, 6)
            for line in ("end_point", "least_squares", "minimum_zone")
        }
        for name in ("lateral", "height")
    }
    return {
        "rail": curves.rail.name,
        "stations_mm": numbers(curves.stations_mm),
        **arrays,
        "straightness": lines,
        "measured": {name: curve.is_measured for name, _, curve in named},
    }


def forces(values: Floats) -> list[float | None]:
    """The same with null where none was taken."""
    return [None if np.isnan(value) else number for value, number in zip(values, numbers(values), strict=True)]


def _pull(study: Study, held: Held) -> dict[str, Any]:
    """A pull sweep against the prediction; arrays along its own stations."""
    taken, compared = held.taken, held.compared
    r = None if compared is None else compared.correlation
    return {
        "sweep": held.name,
        "carriage": held.mechanism.carriage.name,
        "stations_mm": numbers(taken.station_mm),
        "found_n": forces(taken.running),
        "found_back_n": forces(taken.running_back),
        "breakaway_n": forces(taken.breakaway),
        "breakaway_back_n": forces(taken.breakaway_back),
        "running_n": forces(taken.found),
        "running_u_n": forces(taken.u),
        "predicted_n": numbers(held.predicted),
        "predicted_p05_n": numbers(held.p05),
        "predicted_p95_n": numbers(held.p95),
        "standardised": forces(held.standardised),
        "correlation": None if r is None else round(r, 4),
        "residual_rms_n": None if compared is None else round(compared.rms, 6),
        "says": says(study, held),
    }


def _calibration(calibration: Calibration) -> dict[str, Any]:
    return {
        "fitted": [
            {"what": each.kind, "of": each.of, "value": each.value, "u": each.u, "entered": each.entered}
            for each in calibration.fitted
        ],
        "running_forces": calibration.readings,
        "bare_blocks": calibration.bare_blocks,
        "residual_rms_n_before": round(calibration.rms_before, 6),
        "residual_rms_n": round(calibration.rms_after, 6),
        "u_widened_by": round(calibration.widening, 4),
        "kept_as_entered": list(calibration.kept),
    }


def residuals(study: Study) -> list[dict[str, Any]]:
    """Every reading with its standardised residual. A level's reading is an angle: in `reading_mrad`."""
    rows = []
    for checked in study.posterior.checked:
        readings, suspect = checked.readings, checked.suspect
        for i in range(readings.values.size):
            value = round(float(readings.values[i]), 6)
            angle = readings.sweep.is_angle
            rows.append(
                {
                    "sweep": readings.sweep.name,
                    "station_mm": round(float(readings.station_mm[i]), 6),
                    "reading_um": None if angle else value,
                    **({"reading_mrad": value} if angle else {}),
                    "standardised": round(float(checked.standardised[i]), 4),
                    "suspect": bool(suspect[i]),
                    "line": int(readings.line[i]),
                }
            )
    order = {sweep.name: position for position, sweep in enumerate(study.frame.sweeps)}
    return sorted(rows, key=lambda row: (order[str(row["sweep"])], row["line"]))
