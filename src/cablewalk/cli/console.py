"""Writing to the console: what its encoding lacks is replaced, a closed pipe ends quietly."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Final

import click

if TYPE_CHECKING:
    from cablewalk.cli.page import Page, Row
    from cablewalk.reports.heading import Report

BROKEN_PIPE: Final = 141
"""Exit code when the reader has gone: 128 and the number of SIGPIPE, as shells have it."""

UNTOLD: Final = 2
"""Exit code when what should be told cannot be."""

_PLAIN: Final = str.maketrans({"→": "->", "\N{EN DASH}": "-", "…": "..."})
_STYLES: Final = {"loud": {"fg": "red", "bold": True}, "head": {"bold": True}}


class NotTold(click.ClickException):
    """What was to be written to standard output could not be; the text says why."""

    exit_code = UNTOLD


def _fit(text: str, encoding: str) -> str:
    """Return text that an encoding can hold."""
    try:
        text.encode(encoding)
        return text
    except UnicodeEncodeError:
        plain = text.translate(_PLAIN)
        return plain.encode(encoding, "backslashreplace").decode(encoding)


def _inert(text: str) -> str:
    """Return text whose lines hold nothing that a terminal would act on."""
    lines = text.split("\n")
    if all(map(str.isprintable, lines)):
        return text
    from cablewalk.sheets.cell import inert

    return "\n".join(map(inert, lines))


def say(text: str, err: bool = False, styled: bool = False) -> None:
    """Write text and a line end to standard output, or to standard error.

    What a terminal would act on is spelt out, but where the text is ``styled`` by ourselves.

    Raises:
        click.exceptions.Exit: nobody reads the output any longer.
        NotTold: the output goes to a file, and the disk refuses it.
    """
    stream = sys.stderr if err else sys.stdout
    encoding = getattr(stream, "encoding", None) or "utf-8"
    try:
        click.echo(_fit(text if styled else _inert(text), encoding), err=err)
    except BrokenPipeError:
        _hush()
        raise click.exceptions.Exit(BROKEN_PIPE) from None
    except OSError as problem:
        _hush()
        reason = (problem.strerror or str(problem)).lower()
        raise NotTold(f"the output cannot be written: {reason}") from problem


def _hush() -> None:
    """Let what the interpreter flushes once more as it ends go nowhere."""
    if sys.stdout is not None:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def print_rows(rows: Iterable[Row]) -> None:
    """Write the rows of a page; headings and alarms stand out on a terminal, if it has colour."""
    colour = sys.stdout is not None and sys.stdout.isatty() and "NO_COLOR" not in os.environ
    lines = (
        click.style(row.text, **_STYLES[row.style]) if colour and row.style else row.text  # type: ignore[arg-type]
        for row in rows
    )
    say("\n".join(lines), styled=colour)


def publish(report: Report, page: Callable[[], Page], as_json: bool) -> None:
    """Write a report as one JSON object, or as the page made of it."""
    if as_json:
        from cablewalk.reports.text import report_json

        say(report_json(report))
    else:
        print_rows(page().rows)
