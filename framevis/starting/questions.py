"""The questions from which a new frame is made, in the order in which they are asked, and how they are answered.

Takes what was given as options and, where somebody is there to ask, a function that asks; gives `Answers`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

from pydantic import TypeAdapter, ValidationError

from framevis.errors import BadInput, problem
from framevis.reading.door import quoted
from framevis.reading.frame_schema import FileName, Text
from framevis.starting.answers import Answers, Refused, Unit, between, number, read_choice, read_length
from framevis.starting.guides import ARRANGEMENTS, SIZES, generic, usual_arrangement
from framevis.starting.layout import least_length_mm, least_span_mm, least_width_mm

Value = str | int | float
Known = dict[str, Any]  # answers so far, by key
Ask = Callable[[str], str]
LONGEST_MM, WIDEST_MM = 20_000.0, 2_000.0
LEAST_WALL_MM, LEAST_DEPTH_MM = 1.0, 10.0
CAN_HAVE_A_MOUTH = "only a channel has a mouth"


@dataclass(frozen=True)
class Question:
    """`applies` says why it doesn't where it doesn't, else None."""

    key: str
    asks: Callable[[Known], str]
    default: Callable[[Known], Value]
    read: Callable[[str, Known], Value]
    why_not: Callable[[Known], str | None] = lambda known: None


def _choice(typed: str, known: Known, choices: tuple[str, ...]) -> str:
    return read_choice(typed, choices)


def _size(typed: str, known: Known) -> int:
    return int(read_choice(typed.strip().lower().removesuffix("mm").strip(), tuple(map(str, SIZES))))


def _checked_text(typed: str, known: Known, kind: Any) -> str:
    """A name of a frame or stage, by the same rules as in the file."""
    try:
        return str(TypeAdapter(kind).validate_python(typed.strip()))
    except ValidationError as bad:
        says = bad.errors()[0]["ctx"]
        raise Refused(says["what"], says["todo"]) from None


def _guide(known: Known) -> Any:
    return generic(known["guide_size"], known["arrangement"])


def _mm(known: Known) -> float:
    return 25.4 if known["unit"] == "in" else 1.0


def _length(typed: str, known: Known) -> float:
    unit: Unit = known["unit"]
    why = f" for a carriage on guides of size {known['guide_size']}"
    return between(read_length(typed, unit), least_length_mm(_guide(known)), LONGEST_MM, unit, why)


def _width(typed: str, known: Known) -> float:
    unit: Unit = known["unit"]
    thin = LEAST_WALL_MM if known["section"] == "channel" else 0.0
    least = least_width_mm(_guide(known), known["section"], known.get("mouth"), thin)
    why = f" for two rails of size {known['guide_size']} side by side"
    return between(read_length(typed, unit), least, WIDEST_MM, unit, why)


def _depth(typed: str, known: Known) -> float:
    least = 2.0 if known["section"] == "plate" else LEAST_DEPTH_MM
    return between(read_length(typed, known["unit"]), least, WIDEST_MM, known["unit"])


def _most_wall_mm(known: Known) -> float:
    """The thickest wall that leaves something open, and both rails on their flanges."""
    mm = _mm(known)
    most = min(0.45 * known["width"], (0.9 if known["section"] == "channel" else 0.45) * known["depth"]) * mm
    if known.get("mouth") == "toward_rails":
        most = min(most, known["width"] * mm - least_width_mm(_guide(known), "channel", "toward_rails"))
    return float(most)


def _wall(typed: str, known: Known) -> float:
    return between(read_length(typed, known["unit"]), LEAST_WALL_MM, _most_wall_mm(known), known["unit"])


def _span(typed: str, known: Known) -> float:
    least = least_span_mm(_guide(known), known["width"] * _mm(known))
    return between(read_length(typed, known["unit"]), least, LONGEST_MM, known["unit"], " between these side beams")


def _either(mm: float, inch: float) -> Callable[[Known], float]:
    return lambda known: mm if known["unit"] == "mm" else inch


def _usual_width(known: Known) -> float:
    """What is usual for the size of the guide, wide enough for two."""
    least = least_width_mm(_guide(known), known["section"], known.get("mouth"), 10.0) / _mm(known)
    step = 20.0 if known["unit"] == "mm" else 1.0
    return float(max(_either(120.0, 5.0)(known), -(-least // step) * step))


def _usual_wall(known: Known) -> float:
    usual = min(_either(6.0, 0.25)(known), _most_wall_mm(known) / _mm(known))
    return float(int(usual * 100.0 + 1e-6) / 100.0)


def _usual_span(known: Known) -> float:
    least = least_span_mm(_guide(known), known["width"] * _mm(known)) / _mm(known)
    step = 100.0 if known["unit"] == "mm" else 4.0
    return float(max(_either(900.0, 36.0)(known), -(-least // step) * step))


def _usual_length(known: Known) -> float:
    least = least_length_mm(_guide(known)) / _mm(known)
    return float(max(_either(1500.0, 60.0)(known), least))


def _unit_of(known: Known) -> str:
    return f", {known['unit']}"


def _asks_length(known: Known) -> str:
    return f"Length of the {'side beams' if known['kind'] == 'portal' else 'beam'}{_unit_of(known)}"


QUESTIONS = (
    Question(
        "unit",
        lambda known: "Unit of all lengths: mm or in",
        lambda known: "mm",
        partial(_choice, choices=("mm", "in")),
    ),
    Question("name", lambda known: "Name of the machine", lambda known: "New frame", partial(_checked_text, kind=Text)),
    Question(
        "kind",
        lambda known: "portal (two side beams and a crossbeam) or single (one beam)",
        lambda known: "portal",
        partial(_choice, choices=("portal", "single")),
    ),
    Question(
        "guide_size",
        lambda known: f"Size of the guides, the rail's width in mm: {', '.join(map(str, SIZES))}",
        lambda known: 15,
        _size,
    ),
    Question(
        "arrangement",
        lambda known: "How the balls touch: gothic (one row a side, four points), O or X (two rows a side)",
        lambda known: usual_arrangement(known["guide_size"]),
        partial(_choice, choices=ARRANGEMENTS),
    ),
    Question(
        "section",
        lambda known: "Section of the beams: channel, box or plate",
        lambda known: "channel",
        partial(_choice, choices=("channel", "box", "plate")),
    ),
    Question(
        "mouth",
        lambda known: "Mouth: away_from_rails (rails on the web's back) or toward_rails (on the flanges' tips)",
        lambda known: "away_from_rails",
        partial(_choice, choices=("away_from_rails", "toward_rails")),
        lambda known: None if known["section"] == "channel" else CAN_HAVE_A_MOUTH,
    ),
    Question("length", _asks_length, _usual_length, _length),
    Question("width", lambda known: f"Width of the section, across, outside{_unit_of(known)}", _usual_width, _width),
    Question(
        "depth",
        lambda known: f"Depth of the section, along the normal of the rails' face, outside{_unit_of(known)}",
        lambda known: _either(60.0, 2.5)(known) if known["section"] != "plate" else _either(20.0, 0.75)(known),
        _depth,
    ),
    Question(
        "wall",
        lambda known: f"Wall thickness{_unit_of(known)}",
        _usual_wall,
        _wall,
        lambda known: None if known["section"] != "plate" else "a plate is all wall",
    ),
    Question(
        "span",
        lambda known: f"Distance between the side beams, middle to middle{_unit_of(known)}",
        _usual_span,
        _span,
        lambda known: None if known["kind"] == "portal" else "only a portal has two side beams",
    ),
    Question(
        "stage",
        lambda known: "Name of the first stage of readings",
        lambda known: "as_found",
        partial(_checked_text, kind=FileName),
    ),
)


def option(key: str) -> str:
    return f"--{key.replace('_', '-')}"


def answered(given: Mapping[str, str | None], ask: Ask | None, say: Callable[[str], None]) -> Answers:
    """All answers: from `given` where there are, else asked for, else the default where `ask` is None.

    Raises `BadInput` for an option that can't be used; whatever `ask` raises goes through.
    """
    known: Known = {}
    for question in QUESTIONS:
        typed, why_not = given.get(question.key), question.why_not(known)
        if why_not is not None and typed is not None:
            raise BadInput(problem(option(question.key), why_not, "leave it out"))
        if why_not is not None:
            known[question.key] = None
        elif typed is not None:
            known[question.key] = _from_option(question, typed, known)
        else:
            known[question.key] = _asked(question, known, ask, say)
    return Answers(**known)


def _from_option(question: Question, typed: str, known: Known) -> Value:
    try:
        return question.read(typed, known)
    except Refused as bad:
        raise BadInput(problem(option(question.key), bad.what, bad.todo)) from None


def _shown(value: Value) -> str:
    return number(value) if isinstance(value, float) else str(value)


def _asked(question: Question, known: Known, ask: Ask | None, say: Callable[[str], None]) -> Value:
    """The answer to one question, asked again until it can be used; an empty line takes the default."""
    usual = _shown(question.default(known))
    while True:
        typed = ask(f"{question.asks(known)} [{usual}]: ") if ask is not None else ""
        try:
            return question.read(typed if typed.strip() else usual, known)
        except Refused as bad:
            if ask is None:
                what = f"{bad.what} (the usual {quoted(usual)})"
                raise BadInput(problem(option(question.key), what, bad.todo)) from None
            say(f"{bad}.")
