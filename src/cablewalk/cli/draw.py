"""``cablewalk draw``."""

from __future__ import annotations

import contextlib
import sys
import warnings
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, cast

import click

from cablewalk.cli.console import say
from cablewalk.cli.inputs import UNUSABLE, going_on_options, replayed

if TYPE_CHECKING:
    from cablewalk.drawings.engine import Format
    from cablewalk.drawings.pictures import Picture, What


class NotDrawn(click.ClickException):
    """The pictures could not be made or written; the text says why."""

    exit_code = UNUSABLE


@click.command("draw")
@click.argument("baseline", metavar="BASELINE")
@click.argument("procedures", metavar="PROCEDURE...", nargs=-1, required=True)
@click.option(
    "--out",
    metavar="DIR",
    required=True,
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder to write the pictures into; made where it is not there.",
)
@click.option(
    "--format",
    "fmt",
    type=click.Choice(("svg", "png", "pdf")),
    default="svg",
    show_default=True,
    help="Kind of file.",
)
@click.option(
    "--what",
    type=click.Choice(("before", "after", "both", "steps", "all")),
    default="all",
    show_default=True,
    help="Which pictures; 'both' is before and after side by side.",
)
@click.option("--only-changes", is_flag=True, help="Leave out steps that change nothing drawn.")
@click.option(
    "--page",
    type=click.Choice(("a4", "letter")),
    default="a4",
    show_default=True,
    help="Paper, landscape.",
)
@click.option("--force", is_flag=True, help="Write over pictures that are there.")
@going_on_options
@click.pass_context
def command(
    context: click.Context,
    baseline: str,
    procedures: tuple[str, ...],
    out: Path,
    fmt: str,
    what: str,
    only_changes: bool,
    page: str,
    force: bool,
    keep_going: bool,
    get_aheads: int,
) -> None:
    """Draw what is there now, what will be there, and how it stands after each step.

    Nothing moves from one picture to the next: what a step changes stands out. Where a
    configuration is large, what lies far from the work is folded and counted.

    \b
    Example:
      cablewalk draw configs/outpost.yaml configs/outing-1.yaml --out pictures --what before
    """
    run = replayed(baseline, procedures, keep_going, get_aheads)
    from cablewalk.drawings.pictures import Album
    from cablewalk.drawings.plate import PAGES
    from cablewalk.reports import stopping

    album = Album(run.account, PAGES[page])
    pictures = list(album.pictures(cast("What", what), only_changes))
    files = [out / f"{picture.name}.{fmt}" for picture in pictures]
    there = [file for file in files if file.exists()]
    if there and not force:
        raise NotDrawn(
            f"'{there[0]}' is there already"
            + (f", and {len(there) - 1} more of these pictures" if len(there) > 1 else "")
            + "; name another folder, or --force to write over them"
        )
    said = _write(pictures, files, cast("Format", fmt), force)
    for note in (*album.notes(), *said):
        say(f"Note: {note}", err=True)
    for warning in stopping.warnings(run.account, run.sources):
        say(warning, err=True)
    count = f"{len(files)} picture{'s' if len(files) != 1 else ''}"
    say(f"{count} written to {out}" if files else "No step changes anything: nothing to draw.")
    context.exit(run.exit_code)


def _write(
    pictures: Sequence[Picture], files: Sequence[Path], fmt: Format, force: bool
) -> list[str]:
    """Draw and write the pictures, each whole or not at all; return what Graphviz remarked.

    Raises:
        NotDrawn: a picture could not be drawn or written.
    """
    from cablewalk.drawings.engine import DrawingFailed, NoGraphviz
    from cablewalk.files.output import CannotWrite, make_folder, write_bytes

    try:
        with warnings.catch_warnings(record=True) as said, _progress(pictures) as shown:
            warnings.simplefilter("always")
            for picture, file in zip(shown, files, strict=True):
                content = picture.drawn(fmt)
                make_folder(file.parent)
                write_bytes(file, content, force)
    except (NoGraphviz, DrawingFailed, CannotWrite) as problem:
        raise NotDrawn(str(problem)) from problem
    return list(dict.fromkeys(str(warning.message) for warning in said))


@contextlib.contextmanager
def _progress(pictures: Sequence[Picture]) -> Iterator[Iterator[Picture]]:
    """Show a bar on a terminal while pictures are drawn; nothing in a pipe."""
    if not sys.stderr.isatty() or len(pictures) < 2:
        yield iter(pictures)
        return
    with click.progressbar(pictures, label="Drawing", file=sys.stderr) as bar:
        yield iter(bar)
