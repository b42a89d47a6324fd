"""``cablewalk asrun do``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, cast

import click

from cablewalk.cli.asrun_common import LOG, clean, record_options, writer
from cablewalk.cli.asrun_recorded import record
from cablewalk.cli.asrun_telling import Telling

if TYPE_CHECKING:
    from cablewalk.logbook.run import Run
    from cablewalk.walk.asrun_entry import Entry, Outcome

OUTCOMES: Final = ("done", "differently", "part-engaged", "failed", "skipped")


@click.command("do")
@LOG
@click.argument("what", metavar="WHAT")
@click.argument("outcome", type=click.Choice(OUTCOMES), default="done")
@click.option("--action", metavar="TEXT", help="With 'differently': what was done instead.")
@click.option("--again", is_flag=True, help="Record once more what was recorded already.")
@record_options
@click.pass_context
def command(
    context: click.Context,
    /,
    log: Path,
    what: str,
    outcome: str,
    action: str | None,
    again: bool,
    **told: Any,
) -> None:
    """Record something planned. WHAT is a step, one action of it, or somebody's next action.

    A step stands for all its actions not recorded yet; STEP/2 for its second action; a role or
    person for the next action the plan has for them.

    \b
    Examples:
      cablewalk asrun do outing-1.log 1-01
      cablewalk asrun do outing-1.log ev1 --witness rurik --lock
      cablewalk asrun do outing-1.log 1-32/6 part-engaged -m "stops half way"
      cablewalk asrun do outing-1.log 1-50 skipped -m "no time left" --pet 3:10
    """
    telling = Telling(**told)
    kind = "done differently" if outcome == "differently" else outcome
    if action is not None and outcome != "differently":
        raise click.UsageError("--action goes with 'differently'")

    def draft(run: Run) -> list[Entry]:
        from cablewalk.logbook.drafts import planned
        from cablewalk.logbook.words import action_of

        deed = None if action is None else action_of(clean(action), clean(telling.reason))
        said = telling.said(run.tracked)
        drafts = planned(run.tracked, clean(what), cast("Outcome", kind), said, deed, again)
        return telling.dated(run.tracked, drafts)

    record(context, log, draft, telling.seen, clean(writer(telling.by)))
