"""Where `framevis assess` spends its time: runs the command in this process and prints the phases as JSON, of each
the seconds of the clock and of all cores.

Imports count for the first package that needed them, functions without what is measured inside them. A program of its
own, so that Python's start and end are seen: the first argument is when it was started, the rest are the command's.

python tests/benchmarks/assess_phases.py STARTED WORDS…
"""

from __future__ import annotations

import sys
from time import perf_counter, process_time

BORN, BORN_CPU = perf_counter(), process_time()

import importlib._bootstrap as bootstrap  # noqa: E402
import importlib.util  # noqa: E402
import io  # noqa: E402
import json  # noqa: E402
import os  # noqa: E402
from collections.abc import Callable  # noqa: E402
from contextlib import suppress  # noqa: E402
from functools import wraps  # noqa: E402
from typing import Any  # noqa: E402

PACKAGES = {"numpy": "numpy", "scipy": "scipy", "pydantic": "pydantic and the schema", "cyclopts": "cyclopts",
            "rich": "rich", "framevis": "framevis"}  # fmt: skip
SCHEMA = "framevis.reading.frame_schema"
MANY_STATES = 1000  # from which on they are those of the draws

# phase → functions, module:name or module:class.name; the first that a call meets on its way in counts
FUNCTIONS = {
    "reading frame.toml": ("framevis.reading.frame_file:read_frame",),
    "reading the CSV files": ("framevis.reading.readings:read_stage", "framevis.reading.readings:stages_present"),
    "estimate: rows": ("framevis.rows:assemble", "framevis.rows:hang_together", "framevis.strip:_shape_cubics"),
    "estimate: QR": ("framevis.rows:reduce",),
    "estimate: scales of the priors": ("framevis.evidence:find_scales",),
    "estimate: suspects": ("framevis.estimate:_suspects",),
    "estimate: rest": ("framevis.estimate:estimate",),
    "draws": ("framevis.estimate:Posterior.draws",),
    "rides": ("framevis.ride:ride_rows", "framevis.ride:RideRows.of", "framevis.ride:mean_ride"),
    "quantiles": ("numpy:quantile",),
    "chances, the rest of assessing": ("framevis.risk:assess", "framevis.study:work_through"),
    "sign or unit mistaken": ("framevis.mistaken:find_mistake",),
    "pull": ("framevis.pulls.pull:hold", "framevis.pulls.say_pull:says"),
    "rail curves": ("framevis.curves:rail_curves", "framevis.curves:beam_curves", "framevis.straightness:straightness"),
    "words": ("framevis.explain:reason", "framevis.say:suffers", "framevis.say:next_step", "framevis.say:warnings",
              "framevis.say:suspects", "framevis.say:unmeasured", "framevis.say:unsolved"),
    "JSON": ("framevis.report_json:assessment", "framevis.commands.common:print_json"),
    "printing": ("framevis.report:print_assessment",),
}  # fmt: skip


class Phases:
    """Seconds spent in each phase, of the clock and of all cores, less those of phases inside it."""

    def __init__(self) -> None:
        self.seconds: dict[str, tuple[float, float]] = {}
        self._inside: list[tuple[float, float]] = []

    def add(self, name: str, wall: float, cpu: float) -> None:
        before = self.seconds.get(name, (0.0, 0.0))
        self.seconds[name] = before[0] + wall, before[1] + cpu

    def timed(self, name: str, work: Callable[[], Any]) -> Any:
        self._inside.append((0.0, 0.0))
        start, start_cpu = perf_counter(), process_time()
        try:
            return work()
        finally:
            wall, cpu = perf_counter() - start, process_time() - start_cpu
            inside = self._inside.pop()
            self.add(name, wall - inside[0], cpu - inside[1])
            if self._inside:
                self._inside[-1] = self._inside[-1][0] + wall, self._inside[-1][1] + cpu


def import_timed(names: list[str], phases: Phases) -> None:
    """Import modules; each import counts for the first package on the way to it that isn't framevis."""
    find, owners = bootstrap._find_and_load, ["framevis"]

    def found(name: str, import_: object) -> object:
        package = PACKAGES.get(name.partition(".")[0])
        owner = owners[-1]
        if owner == "framevis":
            owner = PACKAGES["pydantic"] if name == SCHEMA else (package or "standard library")
        owners.append(owner)
        try:
            return phases.timed(f"import: {owner}", lambda: find(name, import_))
        finally:
            owners.pop()

    bootstrap._find_and_load = found
    try:
        for name in names:
            importlib.import_module(name)
    finally:
        bootstrap._find_and_load = find


def watch(phases: Phases) -> None:
    """Put a clock round every function of `FUNCTIONS` and round the equilibrium, wherever a module holds them."""
    replaced: dict[int, Any] = {}
    for phase, places in FUNCTIONS.items():
        for place in places:
            module_name, _, name = place.partition(":")
            holder: Any = sys.modules[module_name]
            for part in name.split(".")[:-1]:
                holder = getattr(holder, part)
            original = getattr(holder, name.split(".")[-1])
            clocked = _clocked(original, lambda *_, phase=phase: phase, phases)
            setattr(holder, name.split(".")[-1], clocked)
            replaced[id(original)] = clocked
    solve = sys.modules["framevis.equilibrium"].solve  # type: ignore[attr-defined]
    replaced[id(solve)] = _clocked(solve, _which_equilibrium, phases)
    for module_name, module in list(sys.modules.items()):
        if module_name.startswith("framevis"):
            for name, value in list(vars(module).items()):
                if id(value) in replaced:
                    setattr(module, name, replaced[id(value)])


def _which_equilibrium(mechanism: object, deviations: Any, *_: object) -> str:
    return f"equilibrium of {'the draws' if deviations.shape[-1] >= MANY_STATES else 'the mean, others'}"


def _clocked(function: Any, phase: Callable[..., str], phases: Phases) -> Any:
    @wraps(function)
    def clocked(*given: Any, **named: Any) -> Any:
        return phases.timed(phase(*given), lambda: function(*given, **named))

    return clocked


def main() -> None:
    started, words = float(sys.argv[1]), sys.argv[2:]
    phases = Phases()
    phases.add("start of Python", BORN - started, BORN_CPU)
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    shown = ["framevis.report_json"] if "--json" in words else ["framevis.report"]
    import_timed(["framevis.cli", "framevis.job", "framevis.reading.frame_file", *shown], phases)
    also = {place.partition(":")[0] for places in FUNCTIONS.values() for place in places}
    for name in sorted(also | {"framevis.equilibrium"}):  # those that the command doesn't need stay out of the count
        importlib.import_module(name)
    watch(phases)
    from framevis import cli

    sys.argv, told, sys.stdout = ["framevis", *words], sys.stdout, io.StringIO()
    with suppress(SystemExit):
        phases.timed("command line, rest", cli.main)
    said, sys.stdout = sys.stdout.getvalue(), told
    print(json.dumps({"seconds": phases.seconds, "ended": (perf_counter(), process_time()), "said": said}))


if __name__ == "__main__":
    main()
