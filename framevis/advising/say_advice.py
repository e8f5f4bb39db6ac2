"""Advice in words, for the person at the machine, and as a JSON object. Takes advice, prints to a rich console."""

from __future__ import annotations

from typing import Any

from rich.console import Console

from framevis.advising.advise import MOST_DRAWS, WORTH, Advice, Offer
from framevis.advising.expected_error import Open
from framevis.advising.new_sweeps import toml_lines
from framevis.frame import Frame
from framevis.report import indented, shown
from framevis.say import CAUTION, length

FORMAT = 1
MOST_SETTLED = 3
TOLD = 0.005  # a change of a chance that is told


def print_advice(advice: Advice, console: Console) -> None:
    frame, study = advice.study.frame, advice.study
    console.print(f"[bold]{shown(frame.name)} · stage {shown(study.stage)}: what to measure next[/bold]\n")
    console.print(headline(advice))
    for place, offer in enumerate(advice.offers, 1):
        console.print(f"\n[bold]{place}  {shown(what(frame, offer))}[/bold]")
        indented(console, shown(why(advice, offer)))
        for sweep in offer.candidate.sweeps if offer.candidate.how == "new" else ():
            for line in ["", *toml_lines(frame, sweep)]:
                indented(console, shown(line))
    _open_blocks(advice, console)
    console.print(f"\n{HOW}")
    console.print(f"\n[bold]{CAUTION}[/bold]")


HOW = (
    "The likeliest shape says of each block whether it is free; that is wrong in the share of the draws that say "
    f"otherwise. Further readings are tried on {MOST_DRAWS} of the draws at most, each set by itself: how often would "
    "the likeliest shape then be wrong?"
)


def headline(advice: Advice) -> str:
    """How much is open, and whether more readings are worth it."""
    blocks = sum(len(carriage.blocks) for carriage in advice.study.carriages)
    now = f"{_number(advice.errors)} of {blocks} verdicts are expected to be wrong"
    if not advice.enough:
        return f"{now}. Worth measuring next, the best first:"
    if not advice.open:
        return f"Enough: every verdict stands ({now})."
    return f"Enough: {now}, and no reading is expected to avoid {WORTH:g} of a wrong verdict or more."


def _number(errors: float) -> str:
    return f"{errors:.2f}" if errors >= TOLD else "0.00"


def what(frame: Frame, offer: Offer) -> str:
    """Which readings, in a few words."""
    candidate = offer.candidate
    names = " and ".join(sweep.name for sweep in candidate.sweeps)
    if candidate.station_mm is not None:
        return f"{names}: one more reading at {length(frame, candidate.station_mm)}"
    many = f"{candidate.readings} reading{'s' if candidate.readings > 1 else ''}"
    return {
        "again": f"{names}: all of it again ({many})",
        "not taken": f"{names}: not taken yet ({many})",
        "new": f"{names}: not in frame.toml yet ({many})",
    }[candidate.how]


def why(advice: Advice, offer: Offer) -> str:
    """What it would settle: of each block the chance of a wrong verdict now and as is to be expected."""
    settled = sorted(zip(advice.open, offer.after, strict=True), key=lambda pair: pair[1] - pair[0].error)
    told = [
        f"{_name(each)} {_percent(each.error)} → {_percent(after)}"
        for each, after in settled
        if each.error - after >= TOLD
    ]
    more = f" and {len(told) - MOST_SETTLED} more" if len(told) > MOST_SETTLED else ""
    total = f"{_number(advice.errors)} → {_number(advice.errors - advice.saves(offer))}"
    settles = f"settles (chance of a wrong verdict) {', '.join(told[:MOST_SETTLED])}{more}"
    return f"wrong verdicts expected {total}; {settles}"


def _percent(chance: float) -> str:
    return f"{100.0 * chance:.0f} %" if chance >= 0.01 or chance == 0.0 else "under 1 %"


def _name(each: Open) -> str:
    return f"{each.carriage.name}/{each.block.name}"


def _open_blocks(advice: Advice, console: Console) -> None:
    """Every block that is unsure, with the reading that settles it best."""
    pairs = enumerate(zip(advice.open, advice.best, strict=True))
    unsure = [(place, each, best) for place, (each, best) in pairs if each.block.verdict == "unsure"]
    if unsure:
        console.print("\n[bold]Unsure[/bold]")
    for place, each, best in unsure:
        tight = f"{_name(each)}, tight in {100.0 * each.block.p_tight:.0f} % of the cases"
        if best is None:
            says = "no reading known here tells more: a finer instrument would"
        else:
            falls = best.after[place] < each.error
            chance = f"chance of a wrong verdict {_percent(each.error)} → {_percent(best.after[place])}"
            says = f"{what(advice.study.frame, best)}; {chance if falls else 'narrows most of what is open'}"
        indented(console, shown(f"{tight}: {says}"))


def advice_object(advice: Advice) -> dict[str, Any]:
    study = advice.study
    return {
        "format": FORMAT,
        "frame": study.frame.name,
        "stage": study.stage,
        "draws": study.draws,
        "seed": study.seed,
        "wrong_verdicts_expected": advice.errors,
        "worth_from": WORTH,
        "enough": advice.enough,
        "readings": [_offer_object(advice, offer) for offer in advice.offers],
        "blocks": [
            {
                "carriage": each.carriage.name,
                "name": each.block.name,
                "verdict": each.block.verdict,
                "p_tight": each.block.p_tight,
                "chance_wrong": each.error,
                "best": None if best is None else {**_readings(best), "chance_wrong": best.after[place]},
            }
            for place, (each, best) in enumerate(zip(advice.open, advice.best, strict=True))
        ],
    }


def _readings(offer: Offer) -> dict[str, Any]:
    candidate = offer.candidate
    return {
        "sweeps": [sweep.name for sweep in candidate.sweeps],
        "how": candidate.how,
        "station_mm": candidate.station_mm,
        "count": candidate.readings,
    }


def _offer_object(advice: Advice, offer: Offer) -> dict[str, Any]:
    settles = [
        {"carriage": each.carriage.name, "name": each.block.name, "chance_wrong": each.error, "after": after}
        for each, after in zip(advice.open, offer.after, strict=True)
        if after < each.error
    ]
    after = advice.errors - advice.saves(offer)
    new = offer.candidate.sweeps if offer.candidate.how == "new" else ()
    entries = ["\n".join(toml_lines(advice.study.frame, sweep)) for sweep in new]
    return {
        **_readings(offer),
        "wrong_verdicts_expected": after,
        "settles": settles,
        "frame_toml": entries,
        "why": why(advice, offer),
    }
