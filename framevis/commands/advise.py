"""Commands about the readings themselves: what to measure next, and where their uncertainty comes from."""

from __future__ import annotations

from pathlib import Path

from framevis.commands.common import AsJson, Draws, Seed, Stage, app, console, load, print_json, progress


@app.command
def advise(
    folder: Path, /, *, stage: Stage = None, as_json: AsJson = False, draws: Draws = 1000, seed: Seed = 0
) -> None:
    """Say what to measure next: which readings would settle most of what the verdicts leave open, and why."""
    study = load(folder, stage, draws, seed)
    from framevis.advising.advise import advise as advice_for
    from framevis.advising.say_advice import advice_object, print_advice

    with progress("trying readings") as tell:
        advice = advice_for(study, tell)
    if as_json:
        print_json(advice_object(advice))
    else:
        print_advice(advice, console())


@app.command
def budget(
    folder: Path, /, *, stage: Stage = None, as_json: AsJson = False, draws: Draws = 1000, seed: Seed = 0
) -> None:
    """Say what makes up the uncertainty of each sweep's readings, and which of them the verdicts hang on."""
    study = load(folder, stage, draws, seed)
    from framevis.budgeting.risk_shares import shares
    from framevis.budgeting.say_budget import budget_object, print_budget
    from framevis.budgeting.sweep_budget import budgets

    if as_json:
        print_json(budget_object(study, budgets(study), shares(study)))
    else:
        print_budget(study, budgets(study), shares(study), console())
