"""A page of plain text, at most 100 columns wide."""

from __future__ import annotations

import textwrap
from functools import lru_cache
from typing import Final, Literal, NamedTuple

from cablewalk.files.wording import inert

WIDTH: Final = 100

Style = Literal["", "head", "loud"]


class Row(NamedTuple):
    """One line, and whether it is a heading or an alarm."""

    text: str
    style: Style


@lru_cache(maxsize=1000)
def _wrapped(text: str, indent: int, hang: int) -> tuple[str, ...]:
    """Return the lines of a text; findings of one rule say much in the same words."""
    lines = textwrap.wrap(
        text,
        WIDTH,
        initial_indent=" " * indent,
        subsequent_indent=" " * (indent + hang),
        break_on_hyphens=False,
    )
    return tuple(line.rstrip() for line in lines)


class Page:
    """Lines of text. What a user wrote is made harmless, and too long a line is wrapped."""

    def __init__(self) -> None:
        self.rows: list[Row] = []

    def add(self, text: str, indent: int = 0, hang: int = 2, style: Style = "") -> None:
        """Add text; the lines after the first stand ``hang`` columns further in."""
        text = inert(text)
        if indent + len(text) <= WIDTH and text.isprintable() and not text.isspace() and text:
            # Most lines fit: wrapping them would cost as much as all else on the page.
            self.rows.append(Row((" " * indent + text).rstrip(), style))
            return
        self.rows.extend(Row(line, style) for line in _wrapped(text, indent, hang))

    def field(self, name: str, text: str, indent: int, wide: int, style: Style = "") -> None:
        """Add a named text; each line of it starts in the same column. Empty text adds nothing."""
        for n, line in enumerate(part for part in text.splitlines() if part.strip()):
            self.add(f"{name if n == 0 else '':<{wide}}{line.strip()}", indent, wide, style)

    def blank(self) -> None:
        """Add an empty line, unless one stands there."""
        if self.rows and self.rows[-1].text:
            self.rows.append(Row("", ""))

    def head(self, text: str, style: Style = "head") -> None:
        """Add a heading, with an empty line before it."""
        self.blank()
        self.add(text, style=style)

    @property
    def text(self) -> str:
        """All lines, joined."""
        return "\n".join(row.text for row in self.rows)
