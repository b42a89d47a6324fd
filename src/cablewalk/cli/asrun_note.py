"""``cablewalk asrun note``."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cablewalk.cli.asrun_common import BY, LOG, clean
from cablewalk.cli.asrun_correct import key_of
from cablewalk.cli.asrun_recorded import record
from cablewalk.cli.asrun_telling import Telling

if TYPE_CHECKING:
    from cablewalk.logbook.run import Run
    from cablewalk.walk.asrun_entry import Entry


@click.command("note")
@LOG
@click.argument("text", nargs=-1, required=True)
@click.option("--item", multiple=True, metavar="ID", help="An item it is about.")
@click.option("--open", "is_open", is_flag=True, help="It is an open item: somebody owes work.")
@click.option("--closes", metavar="ENTRY", help="It closes this open item.")
@click.option("--who", multiple=True, metavar="NAME", help="Who said or saw it.")
@click.option("--pet", metavar="H:MM[:SS]", help="When, PET (now).")
@click.option("--utc", metavar="TIME", help="When, UTC (now).")
@BY
@click.pass_context
def command(
    context: click.Context,
    log: Path,
    text: tuple[str, ...],
    item: tuple[str, ...],
    is_open: bool,
    closes: str | None,
    who: tuple[str, ...],
    pet: str | None,
    utc: str | None,
    by: str | None,
) -> None:
    """Record a note. Open items are handed over until a note closes them.

    Where nobody says when, it is now; where this computer's clock is days off the phase, as in a
    rehearsal, it is when the last action was over.

    \b
    Examples:
      cablewalk asrun note outing-1.log "glove of EV2 is worn at the thumb" --who ev2
      cablewalk asrun note outing-1.log --open --item GP-J1 "pin 3 looks dark: inspect"
    """
    telling = Telling("", pet, utc, None, None, who, "", "", None, None, by, None)
    closed = None if closes is None else key_of(closes)

    def draft(run: Run) -> list[Entry]:
        from cablewalk.logbook.amend import note

        told = telling.said(run.tracked, telling.last_if_far_off(run.tracked))
        said = replace(told, text=clean(" ".join(text)).strip())
        return [note(run.tracked, said, item, is_open, closed)]

    record(context, log, draft, None)
