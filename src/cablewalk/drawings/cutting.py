"""Words cut to the room they stand in, never without a sign that something is missing."""

from __future__ import annotations

from functools import lru_cache

from cablewalk.drawings.metrics import clipped, wrapped
from cablewalk.drawings.plate import FONT_PT, Wear


@lru_cache(maxsize=2048)
def counted(wear: Wear, room: float, rows: int) -> Wear:
    """Return a list of services with its end counted where it needs more rows than there are."""
    names = " ".join(wear.lines).split(", ")
    text = ", ".join(names)
    for kept in range(len(names) - 1, 0, -1):
        if len(wrapped(text, room, FONT_PT)) <= rows:
            break
        text = f"{', '.join(names[:kept])} and {len(names) - kept} more"
    return wear._replace(lines=(text,))


@lru_cache(maxsize=8192)
def cut(wear: Wear, room: float, rows: int, size: float, bold: bool, wrap: bool) -> Wear:
    """Return what is worn with its lines cut to a room; the same object where asked again."""
    lines: list[str] = []
    for line in wear.lines[:rows]:
        if wrap and rows > 1:
            lines += wrapped(line, room, size, bold)
        else:
            lines.append(clipped(line, room, size, bold) if line.strip() else line)
    if len(lines) > rows:
        lines = [*lines[: rows - 1], clipped(f"{lines[rows - 1].rstrip(',')}…", room, size, bold)]
    return wear._replace(lines=tuple(lines))
