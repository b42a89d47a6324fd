"""Plain data to YAML text that the loader reads back the same.

The loader takes every scalar as text, so ``on``, ``no`` and ``010`` need no quotes; only what the
grammar of YAML would read otherwise does.
"""

from __future__ import annotations

import re
from typing import Any

WIDTH = 100
_PLAIN = re.compile(r"[A-Za-z0-9+_](?:[A-Za-z0-9+_./()=;%-]| (?=[^ #])|:(?=[0-9]))*")
"""Text that needs no quotes, within brackets and as a key too. Deliberately narrow."""
_CLOCK_LIKE = re.compile(r"[0-9]+:[0-9]+")
_LONGEST_KEY = 1000
"""YAML finds a key without a '?' before it only in its first 1024 characters."""


def scalar(text: str | None) -> str:
    """Return a text as one YAML scalar on one line; None is the empty scalar."""
    if text is None:
        return ""
    if _PLAIN.fullmatch(text) and (":" not in text or _CLOCK_LIKE.fullmatch(text)):
        return text
    return f'"{"".join(_escaped(char) for char in text)}"'


def _escaped(char: str) -> str:
    if char in '"\\':
        return f"\\{char}"
    if char.isprintable():
        return char
    code = ord(char)
    if code < 0x100:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def flow(value: Any) -> str:
    """Return plain data on one line, with brackets and braces.

    None may be the value of a key; YAML has no way to put it in a list between brackets.
    """
    if isinstance(value, dict):
        return "{" + ", ".join(f"{scalar(k)}: {flow(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(flow(entry) for entry in value) + "]"
    return scalar(value)


def block(data: dict[str, Any], indent: int = 0) -> list[str]:
    """Return the lines of a group of keys, without line ends."""
    lines: list[str] = []
    pad = " " * indent
    for name, value in data.items():
        key = scalar(name)
        if len(key) > _LONGEST_KEY:
            lines.append(f"{pad}? {key}")
            key = ""
        lines.extend(_entry(f"{pad}{key}:", value, indent + 2))
    return lines


def _entry(head: str, value: Any, indent: int) -> list[str]:
    """Return the lines of one value after ``head``, a key or a dash."""
    if value is None:
        return [head]
    if not isinstance(value, dict | list):
        return [f"{head} {scalar(value)}"]
    if _fits_a_line(value):
        line = f"{head} {flow(value)}"
        if not value or len(line) <= WIDTH:
            return [line]
    if isinstance(value, dict):
        return [head, *block(value, indent)]
    if all(isinstance(entry, str) for entry in value) and not any(" " in e for e in value):
        return [head, *_wrapped(value, indent)]
    return [
        head,
        *(line for entry in value for line in _entry(" " * indent + "-", entry, indent + 2)),
    ]


def _fits_a_line(value: Any) -> bool:
    """Return whether data may stand in brackets: empty, or a few simple entries."""
    if isinstance(value, list):
        return all(isinstance(entry, str) for entry in value)
    return not value or (
        len(value) <= 6 and all(isinstance(entry, str) for entry in value.values())
    )


def _wrapped(entries: list[str], indent: int) -> list[str]:
    """Return a list of ids in brackets over as many lines as it takes."""
    pad = " " * indent
    lines = []
    line = f"{pad}["
    for i, entry in enumerate(entries):
        piece = scalar(entry) + ("]" if i == len(entries) - 1 else ",")
        if len(line) + 1 + len(piece) > WIDTH and line.strip() != "[":
            lines.append(line)
            line = f"{pad} {piece}"
        else:
            line += piece if line.endswith("[") else f" {piece}"
    return [*lines, line]
