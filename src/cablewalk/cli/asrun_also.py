"""``cablewalk asrun also``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from cablewalk.cli.asrun_common import LOG, clean, record_options, writer
from cablewalk.cli.asrun_recorded import record
from cablewalk.cli.asrun_telling import Telling

if TYPE_CHECKING:
    from cablewalk.logbook.run import Run
    from cablewalk.walk.asrun_entry import Entry


@click.command("also")
@LOG
@click.argument("action", metavar="ACTION", nargs=-1, required=True)
@click.option("--step", default="", metavar="STEP", help="The step in whose course it was done.")
@record_options
@click.pass_context
def command(
    context: click.Context, /, log: Path, action: tuple[str, ...], step: str, **told: Any
) -> None:
    """Record an action no step has, or what was found otherwise than anybody thought.

    ACTION is a few words, or the form a procedure has it in. 'found' needs a reason, and
    overrides the model: the log never refuses reality.

    \b
    Examples:
      cablewalk asrun also outing-1.log demate N1-P2 --who ev2 --witness ev1
      cablewalk asrun also outing-1.log "mate: {N1-P2: GP-J1}" --who ev2 --no-lock
      cablewalk asrun also outing-1.log found TRAY part_fastened 5 -m "one fastener stands proud"
    """
    telling = Telling(**told)

    def draft(run: Run) -> list[Entry]:
        from cablewalk.logbook.drafts import unplanned
        from cablewalk.logbook.words import action_of

        deed = action_of(clean(" ".join(action)), clean(telling.reason))
        drafts = [unplanned(run.tracked, deed, telling.said(run.tracked), clean(step))]
        return telling.dated(run.tracked, drafts)

    record(context, log, draft, telling.seen, clean(writer(telling.by)))
