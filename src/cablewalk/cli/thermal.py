"""``cablewalk zones``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from cablewalk.cli.beside import told_of_samples
from cablewalk.cli.console import publish, say
from cablewalk.cli.inputs import ERRORS, replayed, report_arguments
from cablewalk.cli.sampling import runs_option, sampled

if TYPE_CHECKING:
    from cablewalk.reports.thermal import ZonesReport


class NotPlotted(click.ClickException):
    """A plot could not be written."""

    exit_code = 2


@click.command("zones")
@report_arguments
@runs_option
@click.option(
    "--plot",
    "folder",
    metavar="FOLDER",
    type=click.Path(file_okay=False, path_type=Path),
    help="Write a temperature plot of each zone there, as ZONE.svg.",
)
@click.option("--force", is_flag=True, help="Write over plots that are there.")
@click.pass_context
def command(
    context: click.Context,
    baseline: str,
    procedures: tuple[str, ...],
    as_json: bool,
    keep_going: bool,
    get_aheads: int,
    runs: int | None,
    folder: Path | None,
    force: bool,
) -> None:
    """Estimate how cold each thermal zone gets, and when its heaters must be back.

    Estimates, not for go/no-go: a clock that the baseline gives outranks them. Up means that a
    heater has power, not that it is on. Temperatures are by likely minutes; how long a heater may
    be dark is sampled beside them.

    \b
    Examples:
      cablewalk zones configs/outpost.yaml configs/outing-1.yaml
      cablewalk zones configs/outpost.yaml configs/outing-1.yaml --plot plots
    """
    run = replayed(baseline, procedures, keep_going, get_aheads)
    from cablewalk.cli.thermal_page import zones_page
    from cablewalk.reports.thermal import zones_report

    sample = sampled(run.account, run.sources, runs)
    sure, beyond = sample.sureness()
    told = told_of_samples(run.account, sample)
    report = zones_report(told, run.sources, beyond, sure, sample.why_not)
    if folder is not None:
        _plot(report, folder, force)
    publish(report, lambda: zones_page(report), as_json)
    bad = any(finding.severity == "error" for finding in report.findings)
    context.exit(ERRORS if bad else 0)


def _plot(report: ZonesReport, folder: Path, force: bool) -> None:
    """Write a plot of each zone that has an estimate.

    Raises:
        NotPlotted: a file is there already, or cannot be written.
    """
    from cablewalk.drawings.plot import zone_plot
    from cablewalk.files.output import CannotWrite, make_folder, write_text

    rows = [row for row in report.zones if row.judged]
    if not rows:
        say("no plot is written: no zone has a temperature estimate", err=True)
        return
    files = [folder / f"{row.zone}.svg" for row in rows]
    there = [file for file in files if file.exists()]
    if there and not force:
        raise NotPlotted(f"'{there[0]}' is there already; name another folder, or --force")
    try:
        make_folder(folder)
        for row, file in zip(rows, files, strict=True):
            write_text(file, zone_plot(row, report.phases), force)
    except CannotWrite as problem:
        raise NotPlotted(str(problem)) from problem
    say(f"{len(files)} plot{'s' if len(files) != 1 else ''} written to {folder}", err=True)
