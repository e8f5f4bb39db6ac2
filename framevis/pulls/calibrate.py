"""What the pull readings of a stage tell of friction, seal drag and the seats' stiffness, and a frame that has them.

Takes a study with pull readings; gives a `Calibration` (least squares over all its running forces and bare blocks,
the prediction's own uncertainty counted by the posterior draws) and a `Frame` with the fitted values in place.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from framevis.errors import BadInput, Problem
from framevis.frame import Block, Carriage, Edge, Floats, Frame, Guide, Rail, SeatStiffness, Sweep
from framevis.job import study_of
from framevis.pulls.fitting import Function, Solution, fit
from framevis.pulls.pull_model import SEAT_U_LOG, Model, model_of, scaled_seat
from framevis.reading.door import one_line
from framevis.study import DRAWS, SEED, Study, reassessed

EACH_NEEDS = 4  # running readings for each parameter
LARGEST_U = 0.3  # of friction, and of seal drag against a block's whole drag: beyond, they can't be told apart
HARDLY = 0.7  # share of what was unknown of the seats before, from which the pull says little of them
ROUNDS = 4  # the prediction's uncertainty depends on what is fitted


@dataclass(frozen=True)
class Fitted:
    """One fitted value: friction, seal drag (N) of a guide, or the scale of a carriage's seat stiffness."""

    kind: Literal["friction", "seal", "seat"]
    of: str
    value: float
    u: float
    entered: float


@dataclass(frozen=True, eq=False)
class Calibration:
    """All fitted values of a stage. `rms_before`, `rms_after` N of the running forces, as entered and as fitted;
    `widening` of the uncertainties where the readings scatter more than they should; `kept` a sentence each for what
    the pull says little of."""

    fitted: tuple[Fitted, ...]
    readings: int
    bare_blocks: int
    rms_before: float
    rms_after: float
    widening: float
    kept: tuple[str, ...]


@dataclass(frozen=True)
class CantTell:
    """Why nothing was fitted, and what would help."""

    what: str
    todo: str


def calibrate(study: Study) -> Calibration | CantTell:
    """Fit friction, seal drag and, where they show, the seats' stiffness to the pull readings of a study."""
    model = model_of(study)
    if model is None:
        return CantTell("there are no pull readings of a running force in this stage", "pull a carriage and add them")
    needed = EACH_NEEDS * (len(model.parameters) - len(model.seats))
    if model.running < needed:
        what = f"there are {model.running} running pull readings, and friction and seal drag need {needed}"
        return CantTell(what, "pull at more stations along the travel")
    solution = _solve(model)
    if not _is_apart(model, solution):
        varies = "the predicted drag varies by too little against the readings' u"
        others = "seal drag, friction and the seats' give" if model.seats else "seal drag and friction"
        todo = "pull where the frame binds too, or take the bare blocks and a finer scale"
        return CantTell(f"{others} can't be told apart: {varies}", todo)
    return _calibration(model, solution)


def _solve(model: Model) -> Solution:
    """Least squares, its weights those of the readings and the prediction at the values found so far."""
    lower, upper = model.bounds()
    values = model.start()
    for _ in range(ROUNDS):
        root = np.asarray(np.linalg.cholesky(np.diag(model.u**2) + model.covariance(values)), dtype=np.float64)
        solution = fit(*_whitened(model, root), values, lower, upper)
        values = solution.values
    return solution


def _whitened(model: Model, root: Floats) -> tuple[Function, Function]:
    """Residuals (N,) of unit variance and their Jacobian (N, p), `root` (N, N) being the Cholesky factor of theirs."""
    return (
        lambda theta: np.asarray(np.linalg.solve(root, model.predict(theta) - model.found), dtype=np.float64),
        lambda theta: np.asarray(np.linalg.solve(root, model.jacobian(theta)), dtype=np.float64),
    )


def _is_apart(model: Model, solution: Solution) -> bool:
    """Whether friction and seal drag are each known well enough to be used."""
    u = np.sqrt(np.diag(solution.covariance)) * solution.widening
    by = dict(zip(model.parameters, zip(solution.values, u, strict=True), strict=True))
    drag = float(np.mean(model.drag_a_block))
    return all(
        error <= LARGEST_U * (value if parameter.kind == "friction" else drag)
        for parameter, (value, error) in by.items()
        if parameter.kind != "seat"
    )


def _calibration(model: Model, solution: Solution) -> Calibration:
    u = np.sqrt(np.diag(solution.covariance)) * solution.widening
    fitted = []
    for parameter, value, error in zip(model.parameters, solution.values.tolist(), u.tolist(), strict=True):
        if parameter.kind == "seat":
            scale = float(np.exp(value))
            fitted.append(Fitted("seat", parameter.of, scale, scale * error, 1.0))
        else:
            fitted.append(Fitted(parameter.kind, parameter.of, value, error, model.entered(parameter)))
    before, after = model.rms(model.as_entered()), model.rms(solution.values)
    return Calibration(
        tuple(fitted), model.running, model.bare, before, after, solution.widening, tuple(_kept(model, u))
    )


def _kept(model: Model, u: Floats) -> Iterator[str]:
    """A sentence for each carriage whose seats the pull says little of, or that were entered as rigid."""
    told = {parameter.of: float(error) for parameter, error in zip(model.parameters, u, strict=True)}
    seated = {seat.of for seat in model.seats}
    for name in dict.fromkeys(each.mechanism.carriage.name for each in model.pulled):
        if name not in seated:
            yield f"the seats of carriage {name} are entered as rigid: where they give, friction is really higher"
        elif told[name] > HARDLY * SEAT_U_LOG:
            yield f"the pull says little of the seats of carriage {name}: mostly as entered, within a factor of two"


def calibrated(frame: Frame, calibration: Calibration) -> Frame:
    """The frame with the fitted friction, seal drag and seats in place of those entered."""
    guides: dict[str, dict[str, float]] = {}
    seats: dict[str, float] = {}
    for fitted in calibration.fitted:
        if fitted.kind == "seat":
            seats[fitted.of] = fitted.value
        else:
            guides.setdefault(fitted.of, {})[_FIELD[fitted.kind]] = fitted.value

    def guide(old: Guide) -> Guide:
        return replace(old, **guides.get(old.name, {}))  # type: ignore[arg-type]

    rails = {rail.name: replace(rail, guide=guide(rail.guide)) for rail in frame.rails}
    carriages = {each.name: _carriage(each, rails, seats.get(each.name)) for each in frame.carriages}
    return replace(
        frame,
        rails=tuple(rails.values()),
        carriages=tuple(carriages.values()),
        sweeps=tuple(_sweep(sweep, rails) for sweep in frame.sweeps),
        pulls=tuple(replace(pull, carriage=carriages[pull.carriage.name]) for pull in frame.pulls),
    )


_FIELD = {"friction": "friction", "seal": "seal_drag_n"}


def _carriage(old: Carriage, rails: dict[str, Rail], scale: float | None) -> Carriage:
    blocks = tuple(Block(block.name, rails[block.rail.name], block.along_mm) for block in old.blocks)
    seat: SeatStiffness | None = old.seat_stiffness
    return replace(old, blocks=blocks, seat_stiffness=seat if scale is None else scaled_seat(seat, scale))


def _sweep(old: Sweep, rails: dict[str, Rail]) -> Sweep:
    def edge(one: Edge) -> Edge:
        return replace(one, rail=rails[one.rail.name])

    return replace(
        old,
        rails=tuple(rails[rail.name] for rail in old.rails),
        touches=tuple(edge(one) for one in old.touches),
        feeler_at=None if old.feeler_at is None else edge(old.feeler_at),
    )


def calibrated_study(
    frame: Frame, stage: str | None = None, draws: int = DRAWS, seed: int = SEED
) -> tuple[Study, Calibration]:
    """A stage worked through, its guides and seats fitted to its pull readings, and worked through with those.

    Raises `BadInput` where the pull readings tell too little.
    """
    study = study_of(frame, stage, draws, seed)
    found = calibrate(study)
    if isinstance(found, CantTell):
        raise BadInput(Problem(one_line(f"readings/{study.stage}"), None, None, found.what, found.todo))
    return reassessed(study, calibrated(frame, found)), found
