"""``cablewalk asrun check``."""

from __future__ import annotations

from pathlib import Path

import click

from cablewalk.cli.asrun_common import LOG, opened
from cablewalk.cli.console import say
from cablewalk.cli.inputs import ERRORS


@click.command("check")
@LOG
@click.option("--head", metavar="HASH", help="The head printed at hand-over: must be in the chain.")
@click.pass_context
def command(context: click.Context, log: Path, head: str | None) -> None:
    """Follow the chain of hashes over every stored byte, and print its head.

    The chain shows any edited, exchanged or missing event. It cannot show that the last events
    were cut off, or that the whole file was written anew: compare the head with the one printed
    at hand-over (--head). What salvage could not prove, or found lost or cut off, is a fault
    until a correction settles it.

    \b
    Example:
      cablewalk asrun check outing-1.log --head 4306fcf041a71c59…
    """
    with opened(log) as file:
        from cablewalk.reports.asrun_log import number
        from cablewalk.walk.asrun_entry import corrected

        file.check_pages()
        reading = file.read()
    effective = corrected(reading.entries)
    faults, settled = [*reading.faults], []
    for link in reading.links:
        entry, fault = link.entry, link.fault
        doubt = f"it was salvaged unproved: {entry.doubt}" if entry.doubt else ""
        doubt = f"it is lost: {entry.text}" if entry.is_lost else doubt
        by = effective.settled_by(entry.key) if doubt and not fault else None
        if by is not None:
            settled.append(f"log {number(entry.key)}: {doubt}; corrected by {number(by)}")
        elif fault or doubt:
            faults.append(f"log {number(entry.key)}: {fault or doubt}")
    wanted = (head or "").strip().rstrip("….").lower()
    hashes = [link.row.hash.hex() for link in reading.links]
    if wanted and not any(h.startswith(wanted) for h in hashes):
        faults.append(
            f"no event has the hash {wanted}: events were cut off, or the file is another"
        )
    for fault in faults:
        say(f"FAULT  {fault}")
    for sentence in settled:
        say(f"SETTLED  {sentence}")
    after = ""
    if wanted and any(h.startswith(wanted) for h in hashes):
        later = len(hashes) - 1 - max(n for n, h in enumerate(hashes) if h.startswith(wanted))
        after = f"; the head given is in it, {later} events before its end"
    say(f"{reading.seq} events, head {reading.head.hex()}{after}")
    context.exit(ERRORS if faults else 0)
