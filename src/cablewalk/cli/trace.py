"""``cablewalk trace``."""

from __future__ import annotations

import click

from cablewalk.cli.console import print_rows, say
from cablewalk.cli.inputs import going_on_options, replayed, spot_of


@click.command("trace")
@click.argument("baseline", metavar="BASELINE")
@click.argument("procedures", metavar="[PROCEDURE]...", nargs=-1)
@click.option(
    "--of",
    "name",
    metavar="ITEM_OR_CONTACT",
    required=True,
    help="What to ask about, by its id; a contact is written J1.3, a terminal UNIT.hi.",
)
@click.option(
    "--at",
    "step",
    metavar="STEP",
    help="Ask when this step is over (PROCEDURE/STEP where several have it); else at the baseline.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@going_on_options
@click.pass_context
def command(
    context: click.Context,
    baseline: str,
    procedures: tuple[str, ...],
    name: str,
    step: str | None,
    as_json: bool,
    keep_going: bool,
    get_aheads: int,
) -> None:
    """Tell where a contact goes, what rides on an item, and what losing it would do.

    BASELINE is the hardware as it is now; each PROCEDURE starts from what the one before left.
    One can ask about a contact, terminal, half or leg, harness, segment (W1.main), cap, cover,
    panel, unit, feed, switch, service or string (heat.a). Without --at the answer is that of the
    baseline, whatever procedures are given.

    \b
    Examples:
      cablewalk trace configs/outpost.yaml --of TP1-J1
      cablewalk trace configs/outpost.yaml configs/outing-1.yaml --of KP-J1.3 --at 1-02
    """
    if step is not None and not procedures:
        raise click.UsageError("--at names a step, and no procedure is given to have it")
    run = replayed(baseline, procedures, keep_going, get_aheads)
    from cablewalk.cli.trace_page import trace_page
    from cablewalk.files.wording import inert
    from cablewalk.reports.asking import trace_report
    from cablewalk.reports.text import report_json
    from cablewalk.walk.subject import find_subject

    subject = find_subject(run.account.trace.wiring, name)
    if isinstance(subject, str):
        raise click.UsageError(inert(subject))
    spot = spot_of(run.account, step)
    report = trace_report(run.account, run.sources, subject, spot)
    if as_json:
        say(report_json(report))
    else:
        print_rows(trace_page(report).rows)
    context.exit(run.exit_code)
