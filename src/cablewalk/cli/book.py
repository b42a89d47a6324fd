"""``cablewalk book``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from cablewalk.cli.beside import told_of_estimates, told_of_samples
from cablewalk.cli.console import say
from cablewalk.cli.inputs import ERRORS, UNUSABLE, going_on_options, replayed
from cablewalk.cli.sampling import runs_option, sampled

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cablewalk.book.book import Told
    from cablewalk.files.place import Source


class NotBound(click.ClickException):
    """The book could not be made or written; the text says why."""

    exit_code = UNUSABLE


@click.command("book")
@click.argument("baseline", metavar="BASELINE")
@click.argument("procedures", metavar="PROCEDURE...", nargs=-1, required=True)
@click.option(
    "--out",
    metavar="FILE.html",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write the briefing book into this file.",
)
@click.option(
    "--cards",
    metavar="FILE.html",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write carry pages into this file: for each worker, large type, a line an action.",
)
@click.option(
    "--card-size",
    type=click.Choice(("cuff", "a4", "letter")),
    default="cuff",
    show_default=True,
    help="Size of the carry pages; a cuff page is 100 x 150 mm.",
)
@click.option(
    "--page",
    type=click.Choice(("a4", "letter")),
    default="a4",
    show_default=True,
    help="Paper that the book is printed on.",
)
@click.option("--force", is_flag=True, help="Write over a file that is there.")
@runs_option
@going_on_options
@click.pass_context
def command(
    context: click.Context,
    baseline: str,
    procedures: tuple[str, ...],
    out: Path | None,
    cards: Path | None,
    card_size: str,
    page: str,
    force: bool,
    runs: int | None,
    keep_going: bool,
    get_aheads: int,
) -> None:
    """Bind the briefing book: one HTML file that needs nothing else, on screen and on paper.

    It tells the job, who acts, inhibits, the timeline, every step with its picture, outages
    against clocks, the difference, what is left outside, bags, findings, and which issue it is.
    The date is today's, or that of SOURCE_DATE_EPOCH where it is set.

    \b
    Examples:
      cablewalk book configs/outpost.yaml configs/outing-1.yaml --out book.html
      cablewalk book configs/outpost.yaml configs/outing-1.yaml --cards cards.html
    """
    if out is None and cards is None:
        raise click.UsageError("name a file: --out FILE.html for the book, --cards for carry pages")
    if out is not None and out == cards:
        raise click.UsageError("--out and --cards name the same file")
    for path in (out, cards):
        if path is not None and path.exists() and not force:
            raise NotBound(
                f"'{path}' exists already: nothing was written; choose another name, or --force"
            )
    run = replayed(baseline, procedures, keep_going, get_aheads)
    from cablewalk.book.book import told_of
    from cablewalk.book.issue import BadDate
    from cablewalk.checks.run import check

    sample = sampled(run.account, run.sources, runs)
    checked = check(told_of_estimates(told_of_samples(run.account, sample)))
    options = f"{keep_going} {get_aheads}" + ("" if runs is None else f" {runs}")
    try:
        told = told_of(checked, run.sources, options, *sample)
    except BadDate as problem:
        raise NotBound(str(problem)) from problem
    if out is not None:
        _write(out, _book(told, run.sources, page), force)
    if cards is not None:
        from cablewalk.book.cards import cards_html

        _write(cards, cards_html(told, card_size), force)
    context.exit(ERRORS if checked.has_errors else 0)


def _book(told: Told, sources: Sequence[Source], page: str) -> str:
    """Return the book.

    Raises:
        NotBound: its pictures could not be drawn.
    """
    from cablewalk.book.book import book_html
    from cablewalk.drawings.engine import DrawingFailed, NoGraphviz

    try:
        return book_html(told, sources, page)
    except (NoGraphviz, DrawingFailed) as problem:
        raise NotBound(str(problem)) from problem


def _write(path: Path, text: str, force: bool) -> None:
    """Write a file whole or not at all.

    Raises:
        NotBound: it could not be written.
    """
    from cablewalk.files.output import CannotWrite, write_text

    try:
        write_text(path, text, force)
    except CannotWrite as problem:
        raise NotBound(str(problem)) from problem
    say(f"wrote {path} ({len(text.encode('utf-8')) / 1e6:.2f} MB)")
