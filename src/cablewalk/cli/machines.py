"""``cablewalk machines``."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import TYPE_CHECKING, Final, cast

import click

from cablewalk.cli.console import say
from cablewalk.cli.inputs import UNUSABLE
from cablewalk.machines.tables import TABLES

if TYPE_CHECKING:
    from cablewalk.drawings.engine import Format

FORMATS: Final = ("svg", "png", "pdf")


class NotDrawn(click.ClickException):
    """The picture could not be made; the text says why."""

    exit_code = UNUSABLE


@click.command("machines")
@click.argument("kind", type=click.Choice(tuple(TABLES)), required=False)
@click.option("--dot", is_flag=True, help="Print Graphviz DOT instead of text.")
@click.option(
    "--draw",
    metavar="FILE.svg|png|pdf",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Draw the machine of one KIND into a file.",
)
@click.option("--force", is_flag=True, help="With --draw: write over a file that is there.")
def command(kind: str | None, dot: bool, draw: Path | None, force: bool) -> None:
    """Print the states and events of a kind of item, or of all kinds.

    \b
    Examples:
      cablewalk machines half
      cablewalk machines cover --draw cover.svg
    """
    if draw is not None:
        if kind is None or dot:
            raise click.UsageError("--draw takes one KIND, and no --dot")
        _draw(kind, draw, force)
        return
    from cablewalk.machines.diagram import machine_dot, machine_text

    write = machine_dot if dot else machine_text
    kinds = TABLES if kind is None else (kind,)
    say("\n".join(write(each) for each in kinds).rstrip("\n"))


def _draw(kind: str, file: Path, force: bool) -> None:
    """Draw one kind's machine; the file's ending says how."""
    from cablewalk.drawings.engine import DrawingFailed, NoGraphviz, draw
    from cablewalk.files.output import CannotWrite, write_bytes
    from cablewalk.machines.diagram import machine_dot

    ending = file.suffix.lower().removeprefix(".")
    if ending not in FORMATS:
        raise click.UsageError(f"'{file}' must end in .{', .'.join(FORMATS)}")
    try:
        with warnings.catch_warnings(record=True) as said:
            warnings.simplefilter("always")
            picture = draw(machine_dot(kind), cast("Format", ending))
        write_bytes(file, picture, force)
    except (NoGraphviz, DrawingFailed, CannotWrite) as problem:
        raise NotDrawn(str(problem)) from problem
    for warning in said:
        say(f"Warning: {warning.message}", err=True)
