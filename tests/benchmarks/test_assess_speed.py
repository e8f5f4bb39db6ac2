"""How long `framevis assess` takes, whole process, and where each tenth of a second goes (not part of the test run).

Beside it, by turns: a Python that only imports numpy and the parts of scipy that are needed, and `framevis --help`. On
a busy machine seconds of all cores and the least of several runs mean something, the median of the clock doesn't.

python -m pytest tests/benchmarks/test_assess_speed.py -s
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path
from time import perf_counter

from processes import DEMO, Ran, in_turns, least, median, run, table, warm

PHASES = Path(__file__).with_name("assess_phases.py")
ROUNDS, PHASE_ROUNDS = 7, 5
AIM_ASSESS_S, AIM_HELP_S = 1.2, 0.3
BARE = "import numpy, scipy.linalg, scipy.special"
SMALL = 1.0  # per cent; what is less is added up


def assess(*words: str) -> Callable[[], Ran]:
    return lambda: run("-m", "framevis", "assess", DEMO, *words)


def test_whole_process() -> None:
    warm()
    runs = in_turns(
        ROUNDS,
        bare=lambda: run("-c", BARE),
        help=lambda: run("-m", "framevis", "--help"),
        **{
            f"assess, {stage}{word}": assess("--stage", stage, *word.split())
            for stage in ("as_found", "as_left")
            for word in ("", " --json")
        },
    )
    for stage in ("as_found", "as_left"):
        found = [json.loads(each.said) for each in runs[f"assess, {stage} --json"]]
        assert all(each == found[0] for each in found)
        assert (found[0]["draws"], found[0]["stage"]) == (1000, stage)
        verdicts = [block["verdict"] for carriage in found[0]["carriages"] for block in carriage["blocks"]]
        assert len(verdicts) == 12
        assert any(verdict != "free" for verdict in verdicts) is (stage == "as_found")
    print(f"\nleast and median of {ROUNDS}, load {os.getloadavg()[0]:.1f}; bare: python -c {BARE!r}")
    bare, helped = least(runs["bare"]), least(runs["help"])
    rows = [
        [name, f"{least(each):.2f}", f"{median(each):.2f}", f"{least(each, 'cpu_s'):.2f}", f"{least(each) / bare:.1f}",
         f"{least(each) / helped:.1f}"]
        for name, each in runs.items()
    ]  # fmt: skip
    print(table(("process", "least s", "median s", "processor s", "bare imports", "framevis --help"), rows))
    print(f"aims: assess {AIM_ASSESS_S} s, --help {AIM_HELP_S} s ({helped:.2f} s)")


Phases = dict[str, tuple[float, float]]  # seconds of the clock, of all cores


def phases_of(*words: str) -> Phases:
    """The least seconds of each phase over several runs, in processes of their own."""
    runs: list[Phases] = []
    for _ in range(PHASE_ROUNDS):
        start = perf_counter()
        done = run(str(PHASES), repr(start), "assess", DEMO, *words)
        found = json.loads(done.said)
        ended, ended_cpu = found["ended"]
        spent = {**found["seconds"], "end of Python": (done.wall_s + start - ended, done.cpu_s - ended_cpu)}
        assert found["said"]
        whole = sum(wall for wall, _ in spent.values())
        assert 0.85 * done.wall_s < whole <= 1.001 * done.wall_s  # nothing is counted twice, and little is missed
        runs.append(spent)
    names = dict.fromkeys(name for each in runs for name in each)
    none = (0.0, 0.0)
    return {name: tuple(min(each.get(name, none)[i] for each in runs) for i in range(2)) for name in names}  # type: ignore[misc]


def shares(phases: Phases, clock: int) -> dict[str, float]:
    """Per cent of each phase, of the imports and of everything measured inside the program."""
    whole = sum(each[clock] for each in phases.values())
    return {name: 100.0 * each[clock] / whole for name, each in phases.items()}


def test_where_the_time_goes() -> None:
    """Phases in the order of their size, those that are small in every column together."""
    warm()
    text, as_json = phases_of(), phases_of("--json")
    columns = [shares(text, 0), shares(as_json, 0), shares(text, 1)]
    names = sorted({**text, **as_json}, key=lambda name: -columns[0].get(name, 0.0))
    shown = [name for name in names if max(column.get(name, 0.0) for column in columns) >= SMALL]
    rest = [100.0 - sum(column.get(name, 0.0) for name in shown) for column in columns]
    imports = [sum(share for name, share in column.items() if name.startswith("import")) for column in columns]
    rows = [[name, *(f"{column.get(name, 0.0):.0f} %" for column in columns)] for name in shown]
    rows.append([f"{len(names) - len(shown)} others, each below {SMALL:g} %", *(f"{share:.0f} %" for share in rest)])
    rows.append(["imports together", *(f"{share:.0f} %" for share in imports)])
    seconds = [sum(each[clock] for each in phases.values()) for phases, clock in ((text, 0), (as_json, 0), (text, 1))]
    rows.append(["seconds", *(f"{each:.2f}" for each in seconds)])
    print(f"\nleast of {PHASE_ROUNDS} phase by phase, load {os.getloadavg()[0]:.1f}")
    print(table(("phase", "text", "`--json`", "text, all cores' seconds"), rows))
