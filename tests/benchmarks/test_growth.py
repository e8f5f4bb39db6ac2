"""How time and memory of `framevis assess` grow with readings, stations and beams (not part of the test run).

Each size is a process of its own, less one that only imports; the least of the runs. An exponent is the slope of log
cost over log size, by least squares over all sizes. What doesn't grow makes it too small: beside it stands that of the
last step, and that of the last step once the cost of the smallest size is taken off. Stations are brought nearer on one
beam, the beam isn't lengthened: its functions stay as they are. A frame of 12 beams, 24 rails, 96 blocks and 10,000
readings with all draws comes last.

python -m pytest tests/benchmarks/test_growth.py -s
"""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from big_frames import LENGTH_MM, Size, readings_of, write_big
from processes import run, table, warm

from framevis.frame import Floats

PEAK = Path(__file__).with_name("assess_peak.py")
TRAVEL_MM = LENGTH_MM - 400.0
DRAWS, ALL_DRAWS, ROUNDS = 100, 1000, 2
USUAL_MM = 25.0  # between stations
READINGS_A_BEAM = 250
READINGS, STATIONS, BEAMS = (100, 464, 2154, 10_000), (30, 139, 646, 3000), (1, 2, 5, 12)
MOST_EXPONENT, AIM_S, AIM_MB = 1.15, 20.0, 2000.0


@dataclass(frozen=True)
class Cost:
    """What a process took: seconds of the clock and of all cores, peak memory."""

    wall_s: float
    cpu_s: float
    peak_mb: float

    def less(self, start: Cost) -> Cost:
        return Cost(self.wall_s - start.wall_s, self.cpu_s - start.cpu_s, self.peak_mb - start.peak_mb)


def cost(said: str, *words: str, rounds: int = ROUNDS) -> Cost:
    """The least of some runs; `said`: what must stand in the answer."""
    runs = [run(str(PEAK), *words) for _ in range(rounds)]
    answers = [json.loads(each.said) for each in runs]
    assert all(said in answer["said"] for answer in answers)
    wall, cpu = (min(getattr(each, of) for each in runs) for of in ("wall_s", "cpu_s"))
    return Cost(wall, cpu, min(answer["peak_mb"] for answer in answers))


@pytest.fixture(scope="module")
def start() -> Cost:
    """Python with everything imported."""
    warm()
    return cost("", repr(USUAL_MM), rounds=5)


def slope(sizes: list[float], costs: Floats) -> float:
    """Of log cost over log size, by least squares; NaN where noise has left nothing of a cost."""
    return float(np.polyfit(np.log(sizes), np.log(costs), 1)[0]) if costs.min() > 0.0 else float("nan")


def exponents(sizes: list[float], costs: list[float]) -> tuple[float, float, float]:
    """Of all sizes; of the last step; of the last step, the smallest's cost taken off."""
    each = np.array(costs)
    return slope(sizes, each), slope(sizes[-2:], each[-2:]), slope(sizes[-2:], each[-2:] - each[0])


def tell(what: str, sizes: list[float], costs: list[Cost], start: Cost) -> None:
    print(f"\ngrowth with {what}, {DRAWS} draws; start {start.cpu_s:.2f} s of all cores ({start.wall_s:.2f} s), "
          f"{start.peak_mb:.0f} MB taken off; load {os.getloadavg()[0]:.1f}")  # fmt: skip
    own = [each.less(start) for each in costs]
    rows = [
        [f"{size:,.0f}", f"{each.cpu_s:.2f}", f"{each.wall_s:.2f}", f"{each.peak_mb:.0f}"]
        for size, each in zip(sizes, own, strict=True)
    ]
    for which, name in enumerate(("exponent", "of the last step", "the smallest taken off")):
        of = [exponents(sizes, [getattr(each, key) for each in own])[which] for key in ("cpu_s", "wall_s", "peak_mb")]
        rows.append([name, *(f"{each:.2f}" for each in of)])
    print(table((what, "all cores, s", "clock, s", "MB"), rows))


def test_exponents() -> None:
    assert exponents([1.0, 2.0, 4.0, 8.0], [3.0, 12.0, 48.0, 192.0])[:2] == pytest.approx((2.0, 2.0))
    assert exponents([0.01, 1.0, 2.0, 4.0], [5.0, 6.0, 7.0, 9.0])[2] == pytest.approx(1.0)


def test_growth_with_readings(tmp_path: Path, start: Cost) -> None:
    folders = [write_big(tmp_path / str(count), Size(readings=count)) for count in READINGS]
    counts = [readings_of(folder) for folder in folders]
    assert counts == pytest.approx(READINGS, rel=0.1)
    said = [f" {count} readings in 11 sweeps" for count in counts]
    costs = [cost(text, repr(USUAL_MM), str(folder), str(DRAWS)) for text, folder in zip(said, folders, strict=True)]
    tell("readings", [float(count) for count in counts], costs, start)


def test_growth_with_stations(tmp_path: Path, start: Cost) -> None:
    folder = str(write_big(tmp_path, Size()))
    costs = [cost("Carriage carriage1", repr(TRAVEL_MM / (count - 1)), folder, str(DRAWS)) for count in STATIONS]
    tell("stations", [float(count) for count in STATIONS], costs, start)


@pytest.mark.parametrize("one_level", [True, False], ids=["one level for all", "a level each"])
def test_growth_with_beams(tmp_path: Path, start: Cost, one_level: bool) -> None:
    costs = []
    for beams in BEAMS:
        folder = write_big(tmp_path / str(beams), Size(beams, READINGS_A_BEAM * beams, one_level))
        costs.append(cost(f"Carriage carriage{beams}", repr(USUAL_MM), str(folder), str(DRAWS)))
    tell(f"beams, {'one level for all' if one_level else 'a level each'}", [float(n) for n in BEAMS], costs, start)


def test_twelve_beams(tmp_path: Path, start: Cost) -> None:
    """24 rails, 96 blocks, one level for all, 10,000 readings, all draws."""
    folder = write_big(tmp_path, Size(12, 10_000))
    readings = readings_of(folder)
    assert readings == pytest.approx(10_000, rel=0.05)
    found = cost(f" {readings} readings in 132 sweeps", repr(USUAL_MM), str(folder), str(ALL_DRAWS), rounds=1)
    print(f"\n12 beams, 24 rails, 96 blocks, {readings:,} readings, {ALL_DRAWS} draws: {found.wall_s:.1f} s, all cores "
          f"{found.cpu_s:.1f} s, {found.cpu_s / start.cpu_s:.0f} × a start; {found.peak_mb:.0f} MB; load "
          f"{os.getloadavg()[0]:.1f}; aims {AIM_S:g} s, {AIM_MB:g} MB, exponents {MOST_EXPONENT:g}")  # fmt: skip
