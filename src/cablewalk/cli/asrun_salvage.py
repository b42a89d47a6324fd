"""``cablewalk asrun salvage``."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from cablewalk.cli.asrun_common import LOG, Fail, clean, now_utc_s, told
from cablewalk.cli.asrun_spare import spare
from cablewalk.cli.console import say
from cablewalk.cli.inputs import ERRORS


@click.command("salvage")
@LOG
@click.argument("new", metavar="NEW", type=click.Path(path_type=Path))
@click.argument("documents", metavar="[BASELINE PROCEDURE …]", nargs=-1)
@click.pass_context
def command(context: click.Context, log: Path, new: Path, documents: tuple[str, ...]) -> None:
    """Recover what is readable of a damaged LOG into a NEW one; LOG is only read.

    First SQLite is asked for each event, then the bytes of the file are searched for the rest.
    An event that is nowhere stands in NEW as lost, so that the others keep their numbers. The
    documents are needed only where those in the log cannot be read.

    \b
    Examples:
      cablewalk asrun salvage outing-1.log recovered.log
      cablewalk asrun salvage outing-1.log recovered.log configs/outpost.yaml configs/outing-1.yaml
    """
    from cablewalk.logbook.log import Stored
    from cablewalk.logbook.salvage import salvage
    from cablewalk.reports.asrun_log import number

    spare(new, log)
    try:
        given = [
            Stored("procedure" if n else "baseline", clean(name), Path(name).read_bytes())
            for n, name in enumerate(documents)
        ]
    except OSError as error:
        raise Fail(f"'{error.filename}' cannot be read: {(error.strerror or '').lower()}") from None
    with told():
        result = salvage(log, new, given, now_utc_s())

    def listed(keys: Sequence[tuple[int, int]]) -> str:
        return ", ".join(number(key) for key in keys) or "none"

    cut = result.cut_bytes
    whole = len(result.entries) - len(result.missing) - len(result.rebuilt) - bool(cut)
    say(f"{new}: {whole} entries recovered, {result.carved} of them from the file's bytes alone")
    if cut:
        say(
            f"the end of {log} was cut off, {cut:,} B by its header: later entries may be missing; "
            f"{number(result.entries[-1].key)} stands for them, and every report says so until it "
            "is settled: compare the entries before it with what people know to have been recorded"
        )
    if result.missing or not cut:
        say(f"lost: {listed(result.missing)}")
    if result.rebuilt:
        say(f"worked out from other entries: {listed(result.rebuilt)}")
    if result.unproven:
        say(f"not proved by the chain of hashes: {listed(result.unproven)}")
    context.exit(ERRORS if result.missing or result.unproven or cut else 0)
