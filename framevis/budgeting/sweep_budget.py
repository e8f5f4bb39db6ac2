"""The uncertainty budget of one sweep: what makes up the u of one reading, held against the u that was stated.

Takes a study and a sweep's readings, gives its components in µm, or mrad for levels.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from framevis.budgeting.components import (
    combined,
    drift_per_row,
    expansion_um,
    pooled_sd,
    relative_doubt,
    resolution_u,
    reversal_error,
)
from framevis.budgeting.digits import step_of
from framevis.frame import Floats, Frame, SweepReadings
from framevis.observe import across_mm, unknowns
from framevis.study import Study
from framevis.torque.closure import Closure, closure_of
from framevis.torque.warmth import RAIL_STEEL_ALPHA, REFERENCE_C, warmth_of

ONE_SIDED = 1.65  # standard deviations: as likely as one time in twenty
LESS = 0.5  # of the stated u: below it less may be stated, if so many repeats say so
MANY = 20


@dataclass(frozen=True)
class Component:
    """A part of the budget. `u` its standard uncertainty, None where it isn't known; `size` the whole effect where it
    is one that was found; `counts` whether it is part of what was found (else it is taken out, or seen elsewhere)."""

    name: str
    u: float | None
    counts: bool
    size: float | None = None
    detail: float | None = None


@dataclass(frozen=True, eq=False)
class Budget:
    """`found` by root sum of squares, None where the readings don't tell; `freedom` of the repeats;
    `aside` readings that didn't count, being suspect."""

    readings: SweepReadings
    components: tuple[Component, ...]
    stated: float
    found: float | None
    freedom: int
    closure: Closure | None
    aside: int

    @property
    def advice(self) -> str:
        """more | less | fits | unknown: how the stated u stands against what was found."""
        if self.found is None or not self.freedom:
            return "unknown"
        doubt = 1.0 + ONE_SIDED * relative_doubt(self.freedom)
        if self.found > doubt * self.stated:
            return "more"
        return "less" if self.freedom >= MANY and self.found < LESS * self.stated else "fits"

    def component(self, name: str) -> Component | None:
        return next((each for each in self.components if each.name == name), None)


def budgets(study: Study) -> tuple[Budget, ...]:
    return tuple(budget_of(study, readings) for readings in study.readings.sweeps)


def budget_of(study: Study, readings: SweepReadings) -> Budget:
    trusted = _trusted(study, readings)
    repeat, drift = _repeats(study, trusted)
    step = step_of(study.frame, readings)
    resolution = Component("resolution", resolution_u(step), True, size=step) if step else None
    parts: list[Component | None] = [repeat[0], drift, resolution, _interval(readings)]
    parts += [_straightedge(study, readings), _sag(study.frame, readings), _warmth(study, readings)]
    components = tuple(part for part in parts if part is not None)
    aside = readings.values.size - trusted.values.size
    closure = closure_of(trusted)
    return Budget(readings, components, readings.sweep.u, _found(components), repeat[1], closure, aside)


def _trusted(study: Study, readings: SweepReadings) -> SweepReadings:
    """Without the readings that were set aside as suspect."""
    checked = next(each for each in study.posterior.checked if each.readings.sweep.name == readings.sweep.name)
    kept = np.flatnonzero(~checked.aside)
    arrays = {name: getattr(readings, name)[kept] for name in ("station_mm", "values", "u", "order")}
    return replace(readings, line=tuple(readings.line[i] for i in kept), **arrays)


def _found(components: tuple[Component, ...]) -> float | None:
    """Root sum of squares; of scatter and resolution the larger counts, since scatter holds the steps too.

    ISO 14253-2 takes the larger of the two (from memory). Without repeats nothing is known of the scatter.
    """
    counted = {each.name: each.u for each in components if each.counts and each.u is not None}
    scatter = [counted.pop(name) for name in ("repeatability", "resolution") if name in counted]
    known = any(each.name == "repeatability" for each in components)
    return combined(max(scatter), *counted.values()) if known else None


def _repeats(study: Study, readings: SweepReadings) -> tuple[tuple[Component | None, int], Component | None]:
    """Scatter of readings at one station, without a drift that the estimate takes out; that drift over the run."""
    values, group = readings.values, np.unique(readings.station_mm, return_inverse=True)[1]
    removed = any(name[-1] == "drift" for name, _ in unknowns(readings, study.readings.sweeps))
    slope = drift_per_row(values, readings.order, group) if removed else 0.0
    sd, freedom = pooled_sd(values - slope * readings.order, group)
    if removed and freedom > 1:
        sd, freedom = sd * float(np.sqrt(freedom / (freedom - 1))), freedom - 1
    elif removed:
        freedom = 0  # one repeat can't tell drift and scatter apart
    whole = abs(slope) * float(np.ptp(readings.order))
    drift = Component("drift", None, False, size=whole) if removed else None
    return (Component("repeatability", sd, True, detail=freedom) if freedom else None, freedom), drift


def _interval(readings: SweepReadings) -> Component | None:
    """Of gaps read as go and no-go: the interval / √12 that each reading has besides (GUM 4.3.7)."""
    besides = np.sqrt(np.maximum(readings.u**2 - readings.sweep.u**2, 0.0))
    return Component("go / no-go", float(besides.max()), False) if np.any(besides > 0.0) else None


def _straightedge(study: Study, readings: SweepReadings) -> Component | None:
    """The straightedge's own error: found by turning it over, or calibrated, and taken out; else not known."""
    sweep = readings.sweep
    if sweep.kind != "indicator" or sweep.reference not in (None, "straightedge"):
        return None
    runs = [other for other in study.readings.sweeps if other.sweep.follows_line_of(sweep)]
    other = next((run for run in runs if run.sweep.reversed is not sweep.reversed), None)
    error = _reversal(readings, other) if other is not None else None
    if error is not None:
        return Component("straightedge, by reversal", 0.0, False, size=error)
    if sweep.error is not None:
        known = float(np.abs(sweep.error.error_um).max())
        if known > sweep.sag_um:
            return Component("straightedge, calibrated", 0.0, False, size=known)
    return Component("straightedge", None, False)


def _reversal(readings: SweepReadings, other: SweepReadings) -> float | None:
    """The largest error of a straightedge (µm) that two runs, the one turned over, show beyond their setting."""
    stations = np.intersect1d(readings.station_mm, other.station_mm)
    if stations.size < 3:
        return None
    error = reversal_error(_means(readings, stations), _means(other, stations))
    line = np.column_stack([np.ones(stations.size), stations])
    return float(np.abs(error - line @ np.linalg.lstsq(line, error, rcond=None)[0]).max())


def _means(readings: SweepReadings, stations: Floats) -> Floats:
    found = [readings.values[readings.station_mm == station].mean() for station in stations]
    return readings.sweep.sign * np.array(found)


def _sag(frame: Frame, readings: SweepReadings) -> Component | None:
    """The sag of wire or straightedge that was taken out; of a wire without data, that it isn't known."""
    sweep = readings.sweep
    if sweep.sag_um > 0.0:
        return Component("sag", 0.0, False, size=sweep.sag_um)
    if sweep.kind != "indicator" or sweep.reference != "wire" or sweep.error is not None:
        return None
    axis = sweep.rails[0].axes[1 if sweep.direction == "lateral" else 2]
    return Component("sag", None, False) if abs(float(axis @ frame.up)) > 0.01 else None


def _warmth(study: Study, readings: SweepReadings) -> Component | None:
    """What the temperature, as far as it was noted, may bring into a reading, whole: it isn't corrected."""
    sweep, now = readings.sweep, readings.temperature_c
    width = _width_mm(readings)
    if width is None and sweep.kind != "indicator":
        return None
    if now is None:
        return Component("temperature", None, False)
    if width is not None:
        alpha = sweep.station_beam.section.material.alpha_per_k
        u = expansion_um(alpha, RAIL_STEEL_ALPHA, now - REFERENCE_C, width)
        return Component("temperature", u, True, detail=now)
    beam = sweep.station_beam
    rails = tuple(rail for rail in study.frame.rails if rail.beam.name == beam.name)
    noted = [
        other.temperature_c
        for other in study.readings.sweeps
        if other.temperature_c is not None and other.sweep.station_beam.name == beam.name
    ]
    bow = warmth_of(beam, rails).bow_um * abs(now - float(np.mean(noted)))
    return Component("temperature", bow, True, detail=now)


def _width_mm(readings: SweepReadings) -> float | None:
    """The width of a beam that a steel instrument measures, where its zero is not left open."""
    sweep = readings.sweep
    if sweep.kind == "mouth" and sweep.nominal_um is not None:
        return sweep.nominal_um / 1000.0
    one_beam = len({rail.beam.name for rail in sweep.rails}) == 1
    if sweep.kind == "bridge" and sweep.absolute and sweep.direction == "lateral" and one_beam:
        return abs(across_mm(*sweep.rails))
    return None
