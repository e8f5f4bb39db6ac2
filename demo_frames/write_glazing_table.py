"""Writes the invented readings of `glazing_table`: a made-up machine measured by made-up instruments.

    python demo_frames/write_glazing_table.py

The true shape below is invented; framevis' own formulas say what each sweep would see of it; instrument offsets,
reading errors, rounding to the instrument's step and one bad reading are added with a fixed seed.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np

from framevis.carriage import Mechanism
from framevis.deviations import Deviations, Key, Layout
from framevis.equilibrium import solve
from framevis.frame import Floats, Frame, PullSweep, Sweep
from framevis.job import study_of
from framevis.observe import view
from framevis.planning.plan_limits import plan_for
from framevis.planning.report_plan import entries
from framevis.pulls.calibrate import Calibration, Fitted, calibrated
from framevis.rail_shims import known_at
from framevis.reading.frame_file import read_frame
from framevis.ride import mean_ride
from framevis.risk import drag_of

FOLDER = Path(__file__).parent / "glazing_table"
Shape = Callable[[Floats], Floats]


def ramp(x: Floats, start: float, end: float = 1.0) -> Floats:
    """0 before `start`, rising smoothly to 1 at `end`."""
    y = np.clip((x - start) / (end - start), 0.0, 1.0)
    return np.asarray(y * y * (3.0 - 2.0 * y))


def wave(height: float, turns: float, phase: float = 0.0) -> Shape:
    return lambda x: height * np.sin(2.0 * np.pi * (turns * x + phase))


AS_FOUND: dict[Key, Shape] = {  # over x = station / length; µm or mrad
    ("bow_lateral", "left"): lambda x: 60.0 * np.sin(np.pi * x),
    ("bow_height", "left"): lambda x: -45.0 * np.sin(np.pi * x),
    ("twist", "left"): lambda x: 1.1 * ramp(x, 0.0),
    ("opening", "left"): lambda x: 2.8 * ramp(x, 0.3, 1.05),
    ("own_lateral", "left_outer"): wave(2.0, 1.3),
    ("own_lateral", "left_inner"): wave(2.5, 1.7, 0.2),
    ("own_height", "left_inner"): wave(1.5, 2.2),
    ("own_roll", "left_outer"): wave(0.05, 2.0),
    ("bow_lateral", "right"): lambda x: -35.0 * np.sin(np.pi * x),
    ("bow_height", "right"): lambda x: -30.0 * np.sin(np.pi * x) + wave(2.0, 1.5)(x),
    ("twist", "right"): lambda x: 0.15 * x,
    ("own_lateral", "right_inner"): lambda x: 62.0 * np.sin(np.pi * np.clip((x - 0.12) / 0.8, 0.0, 1.0)) ** 2,
    ("own_lateral", "right_outer"): wave(2.0, 1.6),
    ("own_height", "right_outer"): wave(1.5, 1.8, 0.1),
    ("bow_lateral", "cross"): lambda x: 25.0 * np.sin(np.pi * x),
    ("bow_height", "cross"): lambda x: 20.0 * np.sin(np.pi * x),
    ("twist", "cross"): lambda x: 0.12 * x,
    ("own_lateral", "cross_rear"): wave(2.0, 1.2, 0.3),
    ("own_height", "cross_front"): wave(1.2, 1.5),
}
#: shims and pushes of `framevis shims` are entered in frame.toml; nobody pushes a rail quite as far as planned
AS_LEFT = AS_FOUND | {
    ("own_lateral", "right_inner"): lambda x: AS_FOUND["own_lateral", "right_inner"](x) + wave(0.8, 2.3)(x)
}
#: what the spring scale felt: more friction and seal drag than the data sheet says
FELT = Calibration(
    (Fitted("friction", "mini15", 0.005, 0, 0), Fitted("seal", "mini15", 1.2, 0, 0)), 0, 0, 0.0, 0.0, 1.0, ()
)
DONE = "# Done before as_left, as planned from the readings of as_found: shims under edges of rails, one rail pushed."
TEMPERATURE_C = {"as_found": 21.2, "as_left": 20.6}
BAD = ("as_found", "left_outer_lateral", 650.0, 31.0)  # stage, sweep, station, µm too much: the stylus caught a burr
STEP_UM = {"indicator": 1.0, "bridge": 1.0, "mouth": 10.0}


def true_shape(frame: Frame, stage: str) -> Deviations:
    layout = Layout.of(frame)
    coefficients = np.zeros(layout.size)
    for key, shape in (AS_FOUND if stage == "as_found" else AS_LEFT).items():
        s = np.linspace(0.0, layout.strips[key].length_mm, 600)
        fit = np.linalg.lstsq(layout.strips[key].shapes(s), shape(s / s[-1]), rcond=None)[0]
        coefficients[layout.places[key]] = fit
    return Deviations(layout, coefficients, known_at(frame, stage))


def stations(frame: Frame, sweep: Sweep) -> Floats:
    """Every 100 mm, every 50 mm where the left carriage was felt to run hard, out and back for indicators."""
    length = sweep.station_beam.length_mm
    start = 50.0
    out = np.arange(start, length - 40.0, 100.0)
    if sweep.station_beam.name == "left" and sweep.kind != "mouth":
        out = np.unique(np.concatenate([out, np.arange(1000.0, length - 40.0, 50.0)]))
    if sweep.kind == "gap":
        out = np.array([150.0, 450.0, 750.0, 900.0, 1050.0, 1150.0, 1250.0, 1350.0, 1450.0])
    return np.concatenate([out, out[::-1]]) if sweep.name.endswith(("lateral", "height", "spacing")) else out


def feelers(gap_um: float) -> tuple[int, int]:
    """Go and no-go of a set in steps of 10 µm from 20 µm."""
    leaves = np.array([0, *range(20, 310, 10)])
    at = int(np.clip(np.searchsorted(leaves, gap_um), 1, leaves.size - 1))
    return int(leaves[at - 1]), int(leaves[at])


def write_sweep(folder: Path, frame: Frame, sweep: Sweep, shape: Deviations, random: np.random.Generator) -> None:
    s = stations(frame, sweep)
    seen = view(sweep, s)
    true = np.sum([shape.along(part.weights, part.station_mm) for part in seen.parts], axis=0) + seen.constant
    if sweep.kind == "gap":
        gaps = true + random.normal(0.0, 3.0, s.size)  # below 0 the straightedge rocks on the surface: left blank
        cells = [",".join(map(str, feelers(gap))) if gap > 0.0 else "," for gap in gaps]
        rows = [f"{station:.0f},{cell}" for station, cell in zip(s, cells, strict=True)]
        text = "station_mm,go_um,no_go_um\n" + "\n".join(rows)
    elif sweep.is_angle:
        values = true + 0.13 + random.normal(0.0, 0.7 * sweep.u, s.size)  # the level's own zero: 0.13 mm/m
        rows = [f"{station:.0f},{value:.2f}" for station, value in zip(s, values, strict=True)]
        text = "station_mm,reading_mm_per_m\n" + "\n".join(rows)
    elif sweep.kind == "mouth":
        rows = [f"{a:.0f},{108.02 + b / 1000.0 + random.normal(0.0, 0.007):.2f}" for a, b in zip(s, true, strict=True)]
        text = "station_mm,reading_mm\n" + "\n".join(rows)
    else:
        text = indicator_text(folder.name, sweep, s, true, random)
    (folder / f"{sweep.name}.csv").write_text(text + "\n", encoding="utf-8")


def indicator_text(stage: str, sweep: Sweep, s: Floats, true: Floats, random: np.random.Generator) -> str:
    """Zero set at the first station, straightedge a little askew, slow drift, some stations read twice."""
    askew = random.normal(0.0, 0.02) if sweep.kind == "indicator" else 0.0
    values = true - true[0] + askew * (s - s[0]) + np.linspace(0.0, 1.5, s.size)
    values = values + random.normal(0.0, 1.3, s.size)
    if (stage, sweep.name) == BAD[:2]:
        values[np.flatnonzero(np.isclose(s, BAD[2]))[0]] += BAD[3]
    rows = []
    for station, value in zip(s, values, strict=True):
        again = round(value + random.normal(0.0, 1.3)) if random.random() < 0.15 else ""
        rows.append(f"{station:.0f},{round(value)},{again},{TEMPERATURE_C[stage] + random.normal(0.0, 0.1):.1f}")
    return "station_mm,reading_um,reading_2_um,temperature_c\n" + "\n".join(rows)


def write_pull(folder: Path, frame: Frame, pull: PullSweep, shape: Deviations, random: np.random.Generator) -> None:
    """Spring scale both ways, breakaway and running."""
    carriage = calibrated(frame, FELT).carriage(pull.carriage.name)
    s = np.unique(np.concatenate([[80.0, 1420.0], np.arange(100.0, 1401.0, 100.0), np.arange(1050.0, 1401.0, 50.0)]))
    mechanism = Mechanism(carriage, frame.up, frame.shims_at(folder.name))
    drag = drag_of(mechanism, solve(mechanism, mean_ride(carriage, shape, s))).sum(axis=0)
    rows = []
    for station, force in zip(s, drag, strict=True):
        out, back = force + random.normal(0.0, 0.2, 2)
        rows.append(f"{station:.0f},{1.3 * out:.1f},{out:.1f},{1.3 * back:.1f},{back:.1f}")
    text = "station_mm,breakaway_n,running_n,breakaway_back_n,running_back_n\n" + "\n".join(rows)
    (folder / f"{pull.name}.csv").write_text(text + "\n", encoding="utf-8")


def write_stage(stage: str) -> None:
    frame = read_frame(FOLDER)
    number = frame.stages.index(stage)
    folder = FOLDER / "readings" / stage
    folder.mkdir(parents=True, exist_ok=True)
    random = np.random.default_rng([2718, number])
    shape = true_shape(frame, stage)
    for sweep in frame.sweeps:
        write_sweep(folder, frame, sweep, shape, random)
    for pull in frame.pulls:
        write_pull(folder, frame, pull, shape, np.random.default_rng([31, number]))


def enter_plan() -> None:
    """What `framevis shims --stage as_found --entries as_left` prints, at the end of frame.toml."""
    file = FOLDER / "frame.toml"
    head = file.read_text(encoding="utf-8").split(DONE)[0]
    file.write_text(head + DONE + "\n", encoding="utf-8")
    plan = plan_for(study_of(read_frame(FOLDER), "as_found"))
    file.write_text(head + DONE + "\n\n" + entries(plan, "as_left") + "\n", encoding="utf-8")


def main() -> None:
    write_stage("as_found")
    enter_plan()
    write_stage("as_left")


if __name__ == "__main__":
    main()
