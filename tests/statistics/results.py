"""Trials → tables of what they show, for the terminal and for a Markdown file alike."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from scores import (
    BINS,
    LEVELS,
    Brier,
    Event,
    Share,
    below_the_middle,
    bias,
    brier,
    coverage,
    forecasts,
    mean_by_frames,
    reliability,
    spiegelhalter,
    wrong_verdicts,
)
from trial import PRIOR, Trial

EVENTS: tuple[Event, ...] = ("binding", "tight")
GROUPS: dict[str, Callable[[Trial], bool]] = {
    "strips, measured": lambda t: _measured(t) and t.of.family == "strips",
    "waves, measured": lambda t: _measured(t) and t.of.family == "waves",
    "level drifts": lambda t: t.of.level_drifts,
    "strips, gaps, wide offsets": lambda t: not t.of.all_felt_measured and not t.of.aligned,
    "strips, gaps, aligned": lambda t: _aligned_with_gaps(t) and t.of.family == "strips",
    "waves, gaps, aligned": lambda t: _aligned_with_gaps(t) and t.of.family == "waves",
}
MEANING = """\
- **strips**: truth from the family of framevis' own prior (free elastic strips), its width drawn anew for every frame
  and kind of function; **waves**: a few sine waves a function, a truth that the prior would not draw.
- **measured**: the readings see everything that the blocks feel; **gaps**: sweeps are missing, or rails lie on two
  faces of a beam, which no sweep sees against each other. Then the risk rests partly on the prior's offsets and slopes:
  **wide offsets** are as wide as the prior's, **aligned** ones narrower, as a builder leaves them.
- **level drifts**: all measured, but a level whose zero several sweeps share drifts from the start of each sweep by
  about three of its u (kept apart from the others, where levels keep their zero).
- **usual limits**: drag 1.5 and 3 times, safety 2. **In the open**: drag limits drawn, for every carriage, between
  the 5th and 95th centile of what a block's worst drag may be, so that chances lie anywhere; they rest on the readings
  alone, and static safety is left out.
- **By hand**: of a plain survey of six sweeps, straight lines between the readings and no estimate.
- ± is one standard error over frames, for all that belongs to one frame hangs together. In standard errors too: bias,
  more blocks than said (+) or fewer (−); Z, Brier score above (+) or below (−) what the chances themselves let expect.
"""


def _measured(trial: Trial) -> bool:
    return trial.of.all_felt_measured and not trial.of.level_drifts


def _aligned_with_gaps(trial: Trial) -> bool:
    return trial.of.aligned and not trial.of.all_felt_measured


@dataclass(frozen=True)
class Table:
    """A table of text."""

    title: str
    heading: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def markdown(self) -> str:
        lines = [f"### {self.title}", "", "| " + " | ".join(self.heading) + " |"]
        lines.append("| --- |" + " ---: |" * (len(self.heading) - 1))
        return "\n".join(lines + ["| " + " | ".join(row) + " |" for row in self.rows]) + "\n"


def groups_of(trials: Sequence[Trial]) -> dict[str, list[Trial]]:
    """The groups that have any frame, in the order of `GROUPS`."""
    found = {name: [trial for trial in trials if belongs(trial)] for name, belongs in GROUPS.items()}
    return {name: members for name, members in found.items() if members}


def percent(share: Share) -> str:
    return "–" if share.count == 0 else f"{100 * share.value:.1f} ± {100 * share.error:.1f}"


def score(share: Share) -> str:
    return "–" if share.count == 0 else f"{share.value:.4f} ± {share.error:.4f}"


def coverage_table(name: str, trials: Sequence[Trial]) -> Table:
    """Coverage of every quantity of one group; those that no reading tells stand by themselves."""
    quantities = sorted({key for trial in trials for key in trial.places}, key=lambda key: (PRIOR in key, key))
    rows = []
    for quantity in quantities:
        shares = coverage(trials, quantity)
        if shares[0].count:
            told = (*shares, below_the_middle(trials, quantity))
            rows.append((quantity, str(shares[0].frames), *(percent(share) for share in told)))
    heading = ("quantity", "frames", *(f"{100 * level:.0f} % interval" for level in LEVELS), "below the middle")
    return Table(f"Coverage in %: {name}", heading, tuple(rows))


def _scored(name: str, found: Brier) -> tuple[str, ...]:
    ours = (score(found.framevis), f"{found.base_rate:.4f}", score(found.likeliest), score(found.better))
    hand = (score(found.by_hand), score(found.framevis_there), score(found.better_there))
    return (name, str(found.framevis.count), *ours, *hand, f"{found.reliability:.4f}", f"{found.resolution:.4f}")


def brier_table(event: Event, groups: dict[str, list[Trial]], *, open_limits: bool) -> Table:
    """Brier scores of each group: smaller is better."""
    rows = []
    for name, trials in groups.items():
        told = forecasts((_blocks(trial, open_limits) for trial in trials), event)
        rows.append(_scored(name, brier(told)))
    heading = ("group", "blocks", "framevis", "base rate", "likeliest shape, 0 or 1", "worse than framevis by",
               "interpolated by hand", "framevis there", "worse by", "reliability", "resolution")  # fmt: skip
    which = "limits put in the open" if open_limits else "usual limits"
    return Table(f"Brier score of the chance to be {event}, {which}", heading, tuple(rows))


def _blocks(trial: Trial, open_limits: bool) -> Sequence:
    return trial.open_blocks if open_limits else trial.blocks


def reliability_table(event: Event, groups: dict[str, list[Trial]], *, open_limits: bool) -> Table:
    """Of the blocks with such a chance, how many it came true of: "said → came true ± error (blocks)"."""
    cells = {f"{10 * tenth}–{10 * tenth + 10}": [""] * len(groups) for tenth in range(BINS)}
    cells |= {"all": [""] * len(groups), "bias": [""] * len(groups), "Z": [""] * len(groups)}
    for column, trials in enumerate(groups.values()):
        told = forecasts((_blocks(trial, open_limits) for trial in trials), event)
        for each in reliability(told):
            row = cells[f"{10 * each.tenth}–{10 * each.tenth + 10}"]
            row[column] = _said_and_came(each.chance, each.came)
        cells["all"][column] = _said_and_came(float(told.chance.mean()), mean_by_frames(told.came, told.frame))
        cells["bias"][column], cells["Z"][column] = f"{bias(told):+.1f}", f"{spiegelhalter(told):+.1f}"
    which = "limits put in the open" if open_limits else "usual limits"
    title = f"Reliability of the chance to be {event}, {which}: % said → % came true ± (blocks)"
    return Table(title, ("chance, %", *groups), tuple((name, *row) for name, row in cells.items()))


def _said_and_came(chance: float, came: Share) -> str:
    return f"{100 * chance:.1f} → {percent(came)} ({came.count})"


def verdict_table(groups: dict[str, list[Trial]]) -> Table:
    """How often each verdict is wrong, and how often framevis' own chances let expect that."""
    rows = []
    for name, trials in groups.items():
        row = [name, str(sum(len(trial.blocks) for trial in trials))]
        for verdict in ("free", "tight", "binding"):
            wrong, expected = wrong_verdicts(trials, verdict)
            row += [str(wrong.count), percent(wrong), "–" if wrong.count == 0 else f"{100 * expected:.1f}"]
        unsure = sum(block.verdict == "unsure" for trial in trials for block in trial.blocks)
        rows.append((*row, str(unsure)))
    columns = (f"{v}{what}" for v in ("free", "tight", "binding") for what in ("", " wrong, %", " expected, %"))
    return Table("Verdicts with the usual limits", ("group", "blocks", *columns, "unsure"), tuple(rows))


def class_table(trials: Sequence[Trial]) -> Table:
    """The measured frames by family, class of roughness and density of readings."""
    rows = []
    for family in ("strips", "waves"):
        for roughness in ("smooth", "ordinary", "rough"):
            for density in ("dense", "sparse"):
                key = (family, roughness, density)
                some = [t for t in trials if _measured(t) and (t.of.family, t.of.roughness, t.of.density) == key]
                if some:
                    rows.append((", ".join(key), str(len(some)), *_class_row(some)))
    heading = ("class", "frames", "tight, %", "binding, %", "Brier", "base rate", "free", "free wrong, %",
               "rail lateral 95 %", "rail height 95 %", "rail roll 95 %", "drag ratio 95 %")  # fmt: skip
    return Table("Classes of roughness and density, all that is felt measured", heading, tuple(rows))


def _class_row(trials: Sequence[Trial]) -> Iterable[str]:
    told = {event: forecasts((trial.blocks for trial in trials), event) for event in EVENTS}
    yield from (f"{100 * told[event].came.mean():.0f}" for event in ("tight", "binding"))
    found, (free, _) = brier(told["binding"]), wrong_verdicts(trials, "free")
    yield from (score(found.framevis), f"{found.base_rate:.4f}", str(free.count), percent(free))
    for quantity in ("rail lateral", "rail height", "rail roll", "worst drag ratio"):
        yield percent(coverage(trials, quantity)[-1])


def all_tables(trials: Sequence[Trial]) -> list[Table]:
    """Everything, the most asked for first."""
    groups = groups_of(trials)
    everything = {"all frames": list(trials)} | groups
    tables = [verdict_table(everything), class_table(trials)]
    tables += [brier_table(event, everything, open_limits=at) for at in (False, True) for event in EVENTS]
    tables += [reliability_table(event, everything, open_limits=at) for at in (False, True) for event in EVENTS]
    return tables + [coverage_table(name, some) for name, some in groups.items()]


def mixture(trials: Sequence[Trial]) -> str:
    """What kind of frames there were, in one sentence."""
    kinds = {name: {} for name in ("family", "roughness", "density", "arrangement", "measuring")}
    for name, count in kinds.items():
        for trial in trials:
            key = getattr(trial.of, name)
            count[key] = count.get(key, 0) + 1
    parts = ["; ".join(f"{key} {n}" for key, n in sorted(count.items())) for count in kinds.values()]
    binding = np.mean([block.binding for trial in trials for block in trial.blocks])
    return " · ".join(parts) + f" · {100 * binding:.0f} % of blocks bind in truth"
