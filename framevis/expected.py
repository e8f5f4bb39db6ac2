"""What an instrument should read once shims lie under the rails or rails were pushed: from readings taken before.

Takes a study of the stage before, the known functions (shims, pushes) afterwards, and sweeps; gives a reading and
its standard uncertainty at every station. It is what the estimate says of the sweep, plus the known functions seen
through it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from framevis.deviations import Known
from framevis.frame import Floats, Sweep, SweepReadings
from framevis.further import blank, design_of, further, own_columns
from framevis.observe import corrected, unknowns, view
from framevis.rows import known_part
from framevis.study import Study


@dataclass(frozen=True, eq=False)
class ExpectedSweep:
    """What a sweep should read. Arrays (N,): `station_mm`, each once; `reading` and its standard uncertainty `u`, that
    of one reading included, in µm, or mrad for levels.

    `from_first`: the sweep was not taken before, so its zero is open: readings count from that of its first station
    (along a straightedge or wire, from the line through those of its two ends), where u is 0.
    """

    sweep: Sweep
    station_mm: Floats
    reading: Floats
    u: Floats
    from_first: bool


def expected(
    study: Study, known_after: Known, sweeps: Iterable[SweepReadings] | None = None
) -> tuple[ExpectedSweep, ...]:
    """What sweeps should read with other known functions than the study's; by default all sweeps of its stage.

    A sweep that was taken in the study's stage keeps its zero, offset and slope, as if the instrument were set again
    just as then, without drift, so the change from reading to reading is what the correction does. Of a sweep not
    taken (`further.planned` gives its stations), see `ExpectedSweep`. A gap is never less than 0, because a
    feeler can't read less: where the surfaces would overlap, 0 stands.
    """
    return tuple(_expected(study, known_after, each) for each in (study.readings.sweeps if sweeps is None else sweeps))


def _expected(study: Study, known: Known, readings: SweepReadings) -> ExpectedSweep:
    sweep = readings.sweep
    taken = next((each for each in study.readings.sweeps if each.sweep.name == sweep.name), None)
    plan = _once_each(readings)
    s = plan.station_mm
    if taken is None:
        columns = unknowns(plan, (plan,))
    else:
        columns = [each for each in own_columns(taken, study.readings.sweeps, s) if each[0][-1] != "drift"]
    more = further(study.posterior, design_of(study.posterior.layout, sweep, s), columns)
    shims = np.sum([known_part(known, part) for part in view(sweep, s).parts], axis=0)
    reading = more.design @ study.posterior.mean + more.level + shims - corrected(plan)
    covariance = study.posterior.covariance(more.design, more.design) + more.noise + np.diag(plan.u**2)
    if taken is None and more.own.size:
        count = counted_from_ends(more.own)
        reading, covariance = count @ reading, count @ covariance @ count.T
    reading = np.maximum(reading, 0.0) if sweep.kind == "gap" else reading
    u = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    return ExpectedSweep(sweep, s, reading, u, taken is None and more.own.size > 0)


def _once_each(readings: SweepReadings) -> SweepReadings:
    """A blank sweep with each station once, in order, with the largest u of any reading there."""
    stations = np.unique(readings.station_mm)
    u = np.array([readings.u[readings.station_mm == station].max() for station in stations])
    return blank(readings.sweep, stations, u)


def counted_from_ends(own: Floats) -> Floats:
    """(N, N) what takes a sweep's open unknowns `own` (N, q) out by setting its first (q = 1) or both ends to zero."""
    ends = [0, len(own) - 1][: own.shape[1]]
    return np.eye(len(own)) - own @ np.linalg.pinv(own[ends]) @ np.eye(len(own))[ends]
