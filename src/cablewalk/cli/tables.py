"""``cablewalk tables``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from cablewalk.cli.console import say
from cablewalk.cli.inputs import UNUSABLE, replayed, report_arguments, spot_of

if TYPE_CHECKING:
    from cablewalk.reports.tables import By, TablesReport, What

ENDINGS: Final = {"text": "txt", "csv": "csv", "markdown": "md", "json": "json"}
"""Format to the ending of its files."""
_ALL: Final[tuple[What, ...]] = ("before", "after", "difference")
_BOTH: Final[tuple[By, ...]] = ("half", "end")


class NotWritten(click.ClickException):
    """A file could not be written; the text says why."""

    exit_code = UNUSABLE


@click.command("tables")
@report_arguments
@click.option(
    "--what",
    type=click.Choice((*_ALL, "all")),
    default="all",
    help="Which tables (all, where not given).",
)
@click.option(
    "--from",
    "since",
    metavar="STEP",
    help="'Before' is when this step is over, instead of the start.",
)
@click.option(
    "--at",
    metavar="STEP",
    help="'After' is when this step is over, instead of the end. STEP is an id, or PROCEDURE/STEP.",
)
@click.option(
    "--by",
    type=click.Choice((*_BOTH, "both")),
    default="half",
    help="By half (where not given), end to end by contact, or both.",
)
@click.option(
    "--format",
    "form",
    type=click.Choice(tuple(ENDINGS)),
    help="text, where not given; --json is the same as --format json.",
)
@click.option(
    "--out",
    metavar="DIR",
    type=click.Path(file_okay=False, path_type=Path),
    help="Write each table into a file of its own in this folder.",
)
@click.option("--force", is_flag=True, help="With --out: overwrite files that are there.")
@click.pass_context
def command(
    context: click.Context,
    baseline: str,
    procedures: tuple[str, ...],
    as_json: bool,
    keep_going: bool,
    get_aheads: int,
    what: str,
    since: str | None,
    at: str | None,
    by: str,
    form: str | None,
    out: Path | None,
    force: bool,
) -> None:
    """Tell what is joined to what before and after, and what is different.

    By half: how each half stands, what it is mated to, where its cap and its leg are, what runs
    over it. End to end: where each contact goes that is wired to a unit; a join in doubt is
    written =?=.

    \b
    The difference is sorted into:
     removed         Joined, laid or in its place before, and not after.
     added           Joined, laid or in its place after, and not before.
     moved           Mated, kept or held elsewhere than before, or by another.
     re-routed       The same ends as before, over other connectors, paths or ties.
     newly capped    A protective cap is newly on this half.
     newly uncapped  A protective cap is newly off this half.
     stowed          Newly put away for later, at a place or in a bag.
     set otherwise   Where it was, in another state: a lock, a switch, a cover.
     disturbed       As before, but opened, handled or doubted in between; the retest owed is named.

    In CSV a cell that a spreadsheet would take for a formula (it begins with = + - @) has a
    leading apostrophe; a program that reads the file takes it off.

    \b
    Examples:
      cablewalk tables configs/outpost.yaml configs/outing-1.yaml --what difference
      cablewalk tables configs/outpost.yaml configs/outing-1.yaml --at 1-34 --by end
      cablewalk tables configs/outpost.yaml configs/outing-1.yaml --format csv --out tables
    """
    if as_json and form not in (None, "json"):
        raise click.UsageError(f"--json and --format {form} are two forms; choose one")
    form = "json" if as_json else form or "text"
    if force and out is None:
        raise click.UsageError("--force goes with --out")
    wanted: tuple[What, ...] = _ALL if what == "all" else (what,)  # type: ignore[assignment]
    views: tuple[By, ...] = _BOTH if by == "both" else (by,)  # type: ignore[assignment]
    if form == "csv" and out is None and len(wanted) * len(views) > 1:
        raise click.UsageError(
            "CSV on standard output is one table: choose it with --what and --by, or give --out DIR"
        )
    run = replayed(baseline, procedures, keep_going, get_aheads)
    from cablewalk.reports import stopping
    from cablewalk.reports.tables import tables_report

    spots = (spot_of(run.account, since, "--from"), spot_of(run.account, at, "--at"))
    if spots[0] and spots[1] and spots[0].position > spots[1].position:
        raise click.UsageError(f"--from {since} is over later than --at {at}")
    report = tables_report(run.account, run.sources, *spots, wanted, views)
    files = _files(report, form)
    if out is None:
        say("\n".join(files.values()).rstrip("\r\n"))
    else:
        _write(out, files, force)
    for warning in stopping.warnings(run.account, run.sources):
        say(warning, err=True)
    context.exit(run.exit_code)


def _files(report: TablesReport, form: str) -> dict[str, str]:
    """Return file name to text."""
    if form == "json":
        from cablewalk.reports.text import report_json

        return {"tables.json": report_json(report) + "\n"}
    from cablewalk.sheets.comma import comma_text
    from cablewalk.sheets.markdown import markdown_text
    from cablewalk.sheets.plain import plain_text
    from cablewalk.tables.book import sheets

    write = {"text": plain_text, "csv": comma_text, "markdown": markdown_text}[form]
    return {f"{sheet.name}.{ENDINGS[form]}": write(sheet) for sheet in sheets(report)}


def _write(folder: Path, files: dict[str, str], force: bool) -> None:
    """Write files into a folder, made where it is not there; nothing where one would be lost."""
    from cablewalk.files.output import CannotWrite, make_folder, write_text

    there = [name for name in files if (folder / name).exists()]
    if there and not force:
        raise NotWritten(
            f"'{folder / there[0]}' exists already: nothing was written; "
            "choose another folder, or overwrite with --force"
        )
    try:
        make_folder(folder)
        for name, text in files.items():
            write_text(folder / name, text, force)
            say(f"wrote {folder / name}")
    except CannotWrite as problem:
        raise NotWritten(str(problem)) from problem
