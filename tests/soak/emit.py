"""Plain data as YAML text, whatever stands in it: one entry a line, every text escaped."""

from __future__ import annotations

import re
from typing import Any

_PLAIN = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.+-]*( [A-Za-z0-9_.+-]+)*")


def scalar(text: str) -> str:
    """Return a text as a YAML scalar: plain where that is safe, else in double quotes."""
    if _PLAIN.fullmatch(text):
        return text
    out = []
    for c in text:
        code = ord(c)
        if c in '"\\':
            out.append(f"\\{c}")
        elif c.isprintable():
            out.append(c)
        elif code < 0x100:
            out.append(f"\\x{code:02x}")
        elif code < 0x10000:
            out.append(f"\\u{code:04x}")
        else:
            out.append(f"\\U{code:08x}")
    return f'"{"".join(out)}"'


def flow(data: Any) -> str:
    """Return data in flow style, without recursion deeper than the data."""
    if isinstance(data, dict):
        return "{" + ", ".join(f"{scalar(str(k))}: {flow(v)}" for k, v in data.items()) + "}"
    if isinstance(data, list):
        return "[" + ", ".join(map(flow, data)) + "]"
    return "" if data is None else scalar(data)


def document(data: Any) -> bytes:
    """Return data as a document; the entries of the outermost groups stand on lines of their own.

    A lone surrogate cannot stand in a file: it is written as its escape, which YAML refuses.
    """
    lines: list[str] = []
    if not isinstance(data, dict):
        lines.append(flow(data))
    else:
        for key, value in data.items():
            lines.append(f"{scalar(str(key))}:")
            if isinstance(value, dict) and value:
                lines.extend(f"  {scalar(str(k))}: {flow(v)}" for k, v in value.items())
            elif isinstance(value, list) and value:
                lines.extend(f"  - {flow(entry)}" for entry in value)
            else:
                lines[-1] += f" {flow(value)}"
    return ("\n".join(lines) + "\n").encode("utf-8", "backslashreplace")
