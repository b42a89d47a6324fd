"""``cablewalk asrun handover``."""

from __future__ import annotations

from pathlib import Path

import click

from cablewalk.cli.asrun_common import (
    JSON,
    LOG,
    NOW,
    Fail,
    as_of,
    facts_of,
    read,
    show,
    utc_of,
)
from cablewalk.cli.asrun_spare import spare
from cablewalk.cli.console import say


@click.command("handover")
@LOG
@click.argument("as_left", metavar="AS_LEFT", type=click.Path(path_type=Path))
@click.option("--until", metavar="TIME", help="Count minutes dark up to this UTC time.")
@click.option("--gap", metavar="MIN", type=float, help="Count them so many minutes further.")
@click.option("--force", is_flag=True, help="Overwrite AS_LEFT.")
@NOW[0]
@NOW[1]
@JSON
@click.pass_context
def command(
    context: click.Context,
    log: Path,
    as_left: Path,
    until: str | None,
    gap: float | None,
    force: bool,
    pet: str | None,
    utc: str | None,
    as_json: bool,
) -> None:
    """Hand on: write the baseline as left to AS_LEFT, and print what the next phase must know.

    Minutes dark are counted up to the moment of hand-over. 'asrun open --left' adds the time to
    the next phase; for the other commands count it here, with --until or --gap.

    \b
    Example:
      cablewalk asrun handover outing-1.log outing-1-left.yaml
      cablewalk outages outing-1-left.yaml configs/outing-2.yaml
    """
    run = read(log)
    spare(as_left, log, run)
    from cablewalk.cli.asrun_pages import handover_page
    from cablewalk.files.output import CannotWrite, write_text
    from cablewalk.reports.asrun_handover import handover_report
    from cablewalk.reports.asrun_left import as_left_text, clipped_minutes, faults_of

    tracked = run.tracked
    now_s = as_of(run, pet, utc)
    if until is not None and gap is not None:
        raise click.UsageError("give --until or --gap, not both")
    until_s = now_s if until is None else tracked.mission_s(utc_of(until))
    if gap is not None:
        until_s = now_s + round(gap * 60)
    if until_s < now_s:
        raise Fail("--until lies before the hand-over")
    report = handover_report(tracked, facts_of(log, run), now_s, until_s)
    try:
        text = as_left_text(run.plans.sources[0].text, tracked, report)
        faults = faults_of(text, str(as_left), tracked)
        told = (*faults, *clipped_minutes(report, str(as_left)), *report.findings)
        report = report.model_copy(update={"findings": told})
        write_text(as_left, text, force)
    except CannotWrite as problem:
        raise Fail(str(problem)) from problem
    for fault in faults:
        say(f"{as_left} cannot be replayed on as it is: {fault.found}", err=True)
    if not as_json:
        say(f"{as_left}: the baseline as left {report.left_utc}")
        say(f"head of the log: {report.log.head} ({report.log.events} events)")
        if until_s == now_s:
            say(f"next: cablewalk asrun open NEXT.log {as_left} PROCEDURE --left {report.left_utc}")
        say("")
    show(context, report, as_json, handover_page)
