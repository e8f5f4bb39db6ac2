"""The figure of the proof: reliability curves beside the coverage of the intervals."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from results import groups_of
from scores import LEVELS, coverage, forecasts, reliability
from trial import Trial

INK = {"strips, measured": "#0b5d8a", "waves, measured": "#c2571a"}
SHOWN = ("bow_lateral", "bow_height", "twist", "opening", "own_lateral", "own_height", "own_roll", "rail lateral",
         "rail height", "rail roll", "pair lateral", "pair height", "pair roll", "misfit lateral", "misfit height",
         "misfit roll", "worst drag ratio", "worst pressure")  # fmt: skip
MARKS = ("o", "s", "^")


def draw(trials: Sequence[Trial], path: Path) -> None:
    """Write the figure as PNG."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(11.0, 6.4), layout="constrained")
    grid = figure.add_gridspec(2, 3, width_ratios=(1.0, 1.0, 1.5))
    groups = {name: some for name, some in groups_of(trials).items() if name in INK}
    for row, at in enumerate((False, True)):
        for column, event in enumerate(("binding", "tight")):
            axes = figure.add_subplot(grid[row, column])
            _reliability(axes, groups, event, at)
    _coverage(figure.add_subplot(grid[:, 2]), groups)
    figure.savefig(path, dpi=80, pil_kwargs={"optimize": True})


def _reliability(axes: Any, groups: dict[str, list[Trial]], event: Any, open_limits: bool) -> None:
    axes.plot([0, 1], [0, 1], color="#999999", linewidth=1)
    for shift, (name, trials) in zip((-0.006, 0.006), groups.items(), strict=False):
        told = forecasts((t.open_blocks if open_limits else t.blocks for t in trials), event)
        bins = reliability(told)
        chance, came = np.array([b.chance for b in bins]), np.array([b.came.value for b in bins])
        error = [b.came.error for b in bins]
        axes.errorbar(chance + shift, came, error, fmt="o-", color=INK[name], markersize=4, linewidth=1, label=name)
        if shift < 0:
            for b in bins:
                axes.annotate(str(b.came.count), (b.chance, -0.13), fontsize=6, ha="center", color=INK[name])
    axes.set(xlim=(-0.03, 1.03), ylim=(-0.16, 1.05), xlabel=f"chance said to be {event}", ylabel="came true")
    axes.set_title("limits put in the open" if open_limits else "usual limits", fontsize=9)
    axes.legend(fontsize=7, loc="upper left")


def _coverage(axes: Any, groups: dict[str, list[Trial]]) -> None:
    place = np.arange(len(SHOWN))[::-1].astype(float)
    for level in LEVELS:
        axes.axvline(100 * level, color="#999999", linewidth=1)
    for shift, (name, trials) in zip((0.15, -0.15), groups.items(), strict=False):
        for y, quantity in zip(place, SHOWN, strict=True):
            for mark, share in zip(MARKS, coverage(trials, quantity), strict=True):
                if share.count:
                    axes.errorbar(100 * share.value, y + shift, xerr=100 * share.error, fmt=mark, color=INK[name],
                                  markersize=3.5, linewidth=1)  # fmt: skip
    axes.set_yticks(place, [name.replace("_", " ") for name in SHOWN], fontsize=7)
    axes.set(xlim=(25, 102), xlabel="% inside the 50, 80, 95 % interval")
    axes.set_title("coverage, all that is felt measured", fontsize=9)
