"""Where each key of a TOML text stands: key path → line, which the parser of the standard library doesn't tell.

Takes a text that has parsed without error; gives a mapping from key paths such as
("carriage", "left", "blocks", 2, "rail") to line numbers counted from 1.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from contextlib import suppress

KeyPath = tuple[str | int, ...]
Token = tuple[str, int]  # text and line

_TOKEN = re.compile(
    r'"""(?:[^\\]|\\.)*?"{3,5}'  # the four kinds of string
    r"|'''.*?'{3,5}"
    r'|"(?:[^"\\\n]|\\.)*"'
    r"|'[^'\n]*'"
    r"|\#[^\n]*"  # a comment
    r"|[\[\]{},=.\n]"  # punctuation
    r"|[^\s\#\[\]{},=.\"']+",  # bare keys, numbers, dates
    re.DOTALL,
)
_END: Token = ("", 0)


def key_lines(text: str) -> dict[KeyPath, int]:
    """The line of every key, array element and table of a valid TOML text."""
    walk = _Walk(list(_tokens(text)))
    with suppress(RecursionError):  # nested beyond reason: what was found so far has to do
        walk.document()
    return walk.lines


def line_of(lines: Mapping[KeyPath, int], path: KeyPath) -> int | None:
    """The line of a key path, or of its nearest ancestor that stands in the text."""
    for size in range(len(path), 0, -1):
        if path[:size] in lines:
            return lines[path[:size]]
    return None


def _tokens(text: str) -> Iterator[Token]:
    line, at = 1, 0
    for match in _TOKEN.finditer(text):
        line += text.count("\n", at, match.start())
        at = match.start()
        if match[0][0] != "#":
            yield match[0], line


def _plain(key: str) -> str:
    """A key as tomllib gives it: quotes and escapes undone."""
    if key[:1] not in {'"', "'"}:
        return key
    return str(tomllib.loads(f"key = {key}")["key"])


class _Walk:
    """Goes once through the tokens and notes the line of each key path."""

    def __init__(self, tokens: list[Token]) -> None:
        self.tokens = tokens
        self.at = 0
        self.lines: dict[KeyPath, int] = {}
        self.elements: dict[KeyPath, int] = {}  # arrays of tables: how many there are so far

    def peek(self) -> Token:
        return self.tokens[self.at] if self.at < len(self.tokens) else _END

    def take(self) -> Token:
        token = self.peek()
        self.at += 1
        return token

    def note(self, path: KeyPath, line: int) -> None:
        for size in range(1, len(path) + 1):
            self.lines.setdefault(path[:size], line)

    def document(self) -> None:
        table: KeyPath = ()
        while (token := self.peek()) != _END:
            if token[0] == "\n":
                self.take()
            elif token[0] == "[":
                table = self.header()
            else:
                self.pair(table)

    def header(self) -> KeyPath:
        """[a.b] or [[a.b]]: the table in which the following keys stand."""
        line = self.take()[1]
        is_element = self.peek()[0] == "["
        if is_element:
            self.take()
        path = self.resolved(self.key(until="]"))
        if is_element:
            self.take()
            count = self.elements.get(path, 0)
            self.elements[path] = count + 1
            path = (*path, count)
        self.note(path, line)
        return path

    def resolved(self, keys: list[str]) -> KeyPath:
        """A header's path, with the index of the latest element after each array of tables on the way."""
        path: KeyPath = ()
        for key in keys:
            if path in self.elements:
                path = (*path, self.elements[path] - 1)
            path = (*path, key)
        return path

    def key(self, until: str) -> list[str]:
        keys = []
        while (token := self.take()) != _END and token[0] != until:
            if token[0] != ".":
                keys.append(_plain(token[0]))
        return keys

    def pair(self, table: KeyPath) -> None:
        line = self.peek()[1]
        path = (*table, *self.key(until="="))
        self.note(path, line)
        self.value(path)

    def value(self, path: KeyPath) -> None:
        first = self.peek()[0]
        if first == "[":
            self.array(path)
        elif first == "{":
            self.inline_table(path)
        else:
            while self.peek() != _END and self.peek()[0] not in {",", "]", "}", "\n"}:
                self.take()

    def array(self, path: KeyPath) -> None:
        self.take()
        index = 0
        while (token := self.peek()) != _END and token[0] != "]":
            if token[0] in {",", "\n"}:
                self.take()
                continue
            self.note((*path, index), token[1])
            before = self.at
            self.value((*path, index))
            self.at = max(self.at, before + 1)
            index += 1
        self.take()

    def inline_table(self, path: KeyPath) -> None:
        self.take()
        while (token := self.peek()) != _END and token[0] != "}":
            if token[0] in {",", "\n"}:
                self.take()
            else:
                self.pair(path)
        self.take()
