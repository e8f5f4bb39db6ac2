"""What the models of `frame_schema` refuse, in the words of a person at a machine.

Takes the parsed TOML and a `Door`; gives the checked model and the names of tables that were left out
because something in them is wrong (noted at the door), so that the rest can still be checked.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import UnionType
from typing import Any, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from framevis.reading.door import Door, did_you_mean, one_line, quoted, shown
from framevis.reading.frame_schema import SMALLEST, FrameToml
from framevis.reading.toml_lines import KeyPath

ITEMS = ("section", "guide", "beam", "rail", "carriage", "sweep")
LISTS = ("shim", "push")
_PLACEHOLDERS: dict[str, Any] = {"name": "placeholder", "stages": ("placeholder",)}
_TYPES = {
    "float": ("is not a number", "give a number such as 12.5, without quotes"),
    "int": ("is not a whole number", "give a whole number such as 7, without quotes"),
    "string": ("is not a text", "put it between double quotes"),
    "bool": ("is neither true nor false", "write true or false, without quotes"),
    "tuple": ("is not a list", "write it between [ and ]"),
    "dict": ("is not a table", "give it a table of its own, with a name in square brackets"),
    "model": ("is not a table", "write its keys between { and }, or under a heading in square brackets"),
}


@dataclass(frozen=True)
class Checked:
    """The sound part of a frame file. `broken`: per kind of table the names that exist but are left out."""

    model: FrameToml
    broken: Mapping[str, frozenset[str]]
    index: Mapping[str, tuple[int, ...]]  # "shim", "push": the place in the file of each one of the model
    stages_known: bool = True


def checked(tree: Mapping[str, Any], door: Door) -> Checked:
    """The model of a parsed file; what is wrong is noted at the door, or raised where nothing can go on."""
    count = {key: len(tree[key]) if isinstance(tree.get(key), tuple) else 0 for key in LISTS}
    try:
        none: frozenset[str] = frozenset()
        index = {key: tuple(range(number)) for key, number in count.items()}
        return Checked(FrameToml.model_validate(tree), dict.fromkeys(ITEMS, none), index)
    except ValidationError as bad:
        errors = bad.errors(include_url=False)
    for error in errors:
        door.refuse(*_problem(error))
    return _pruned(tree, [error["loc"] for error in errors], count, door)


def _pruned(tree: Mapping[str, Any], places: list[KeyPath], count: Mapping[str, int], door: Door) -> Checked:
    """The same without the tables in which something is wrong."""
    broken = {item: frozenset(str(at[1]) for at in places if at[0] == item and len(at) > 1) for item in ITEMS}
    index = {
        key: tuple(i for i in range(number) if not any(at[:2] == (key, i) for at in places))
        for key, number in count.items()
    }
    heads = {str(at[0]) for at in places if at}
    sound = {key: value for key, value in tree.items() if key in (*ITEMS, *LISTS) or key not in heads}
    sound |= {key: value for key, value in _PLACEHOLDERS.items() if key in heads}
    for item in ITEMS:
        if isinstance(sound.get(item), dict):
            sound[item] = {key: value for key, value in sound[item].items() if key not in broken[item]}
    sound |= {key: tuple(tree[key][i] for i in index[key]) for key, number in count.items() if number}
    try:
        model = FrameToml.model_validate(sound)
    except ValidationError:
        door.close()
        raise
    return Checked(model, broken, index, "stages" not in heads)


def _problem(error: ErrorDetails) -> tuple[KeyPath, str, str]:
    """Key path, what is wrong and what to do about it."""
    path: KeyPath = tuple(key for key in error["loc"] if key != "[key]")
    kind, value = error["type"], error["input"]
    context = error.get("ctx", {})
    if kind == "said":
        return path, context["what"], context["todo"]
    if kind == "missing":
        return path, "is missing", "add this key"
    if kind == "extra_forbidden":
        return path, f"unknown key {quoted(str(path[-1]))}", did_you_mean(str(path[-1]), _keys_at(path[:-1]))
    if kind == "literal_error":
        return path, f"{shown(value)} is not one of the choices", _choice(value, context["expected"])
    if kind in {"too_short", "too_long"}:
        return path, *_wrong_count(context)
    if kind.startswith(("greater_than", "less_than")):
        return path, *_out_of_range(value, context)
    if kind == "finite_number":
        return path, "is not a finite number", "give a number such as 12.5"
    what = _TYPES.get(kind.split("_")[0])
    if what is None:
        return path, one_line(error["msg"]), "correct it"
    return path, f"{shown(value)} {what[0]}", what[1]


def _choice(value: object, expected: str) -> str:
    choices = re.findall(r"'([^']*)'", expected)
    if isinstance(value, str) and choices:
        return did_you_mean(value, choices)
    return "use " + expected.replace("'", '"')


def _wrong_count(context: Mapping[str, Any]) -> tuple[str, str]:
    actual = context.get("actual_length")
    has = f"has {actual} entries" if actual is not None else "has too many entries"
    if "min_length" in context:
        least = context["min_length"]
        return has.replace("1 entries", "1 entry"), f"give {least}" if least > 1 else "give at least one"
    return has, f"give {context['max_length']}"


def _out_of_range(value: object, context: Mapping[str, Any]) -> tuple[str, str]:
    if "ge" in context:
        least = context["ge"]
        if least == SMALLEST:
            return f"is {shown(value)}", "it must be greater than zero"
        return f"is {shown(value)}", "it must not be negative" if least == 0 else f"it must be at least {shown(least)}"
    return f"is {shown(value)}", f"it must be at most {shown(context['le'])}; is it in the right unit?"


def _keys_at(path: KeyPath) -> list[str]:
    """The keys that the table at a path may have."""
    kind: Any = FrameToml
    for key in path:
        if get_origin(kind) in {dict, tuple}:  # the key is a name or an index: on to what such a table holds
            kind = next((each for each in get_args(kind) if _is_model(each)), None)
        elif _is_model(kind):
            fields = {field.alias or name: field for name, field in kind.model_fields.items()}
            kind = _bare(fields[str(key)].annotation) if key in fields else None
    if not _is_model(kind):
        return []
    return [field.alias or name for name, field in kind.model_fields.items() if name != "label"]


def _is_model(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, BaseModel)


def _bare(annotation: Any) -> Any:
    """X of X | None."""
    if get_origin(annotation) is UnionType:
        return next(each for each in get_args(annotation) if each is not type(None))
    return annotation
