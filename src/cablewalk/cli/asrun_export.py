"""``cablewalk asrun export``."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import click

from cablewalk.cli.asrun_common import LOG, Fail, as_of, facts_of, read
from cablewalk.cli.asrun_spare import spare
from cablewalk.cli.console import say

FORMS: Final = ("csv", "json", "markdown")


@click.command("export")
@LOG
@click.option("--format", "form", type=click.Choice(FORMS), default="csv", help="csv by default.")
@click.option(
    "--out", metavar="FILE", type=click.Path(path_type=Path), help="Write there, not to stdout."
)
@click.option("--force", is_flag=True, help="With --out: overwrite a file that is there.")
def command(log: Path, form: str, out: Path | None, force: bool) -> None:
    """Write every entry, corrections among them, as CSV, JSON or Markdown.

    In CSV no cell is taken for a formula: one that could be gets an apostrophe before it.

    \b
    Examples:
      cablewalk asrun export outing-1.log
      cablewalk asrun export outing-1.log --format markdown --out outing-1.md
    """
    run = read(log)
    if out is not None:
        spare(out, log, run)
    from cablewalk.files.output import CannotWrite, write_text
    from cablewalk.reports.asrun_export import export_report, export_sheet
    from cablewalk.reports.text import report_json
    from cablewalk.sheets.comma import comma_text
    from cablewalk.sheets.markdown import markdown_text

    report = export_report(run.tracked, facts_of(log, run), as_of(run, None, None))
    if form == "json":
        text = report_json(report) + "\n"
    else:
        text = (comma_text if form == "csv" else markdown_text)(export_sheet(report))
    if out is None:
        say(text.removesuffix("\n"))
        return
    try:
        write_text(out, text, force)
    except CannotWrite as problem:
        raise Fail(str(problem)) from problem
