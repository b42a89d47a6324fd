"""``cablewalk asrun upgrade``."""

from __future__ import annotations

from pathlib import Path

import click

from cablewalk.cli.asrun_common import LOG, now_utc_s, told
from cablewalk.cli.asrun_spare import spare
from cablewalk.cli.console import say


@click.command("upgrade")
@LOG
@click.argument("new", metavar="NEW", type=click.Path(path_type=Path))
def command(log: Path, new: Path) -> None:
    """Copy a log an older cablewalk wrote into the present schema; LOG is only read.

    \b
    Example:
      cablewalk asrun upgrade outing-1.log outing-1-new.log
    """
    from cablewalk.logbook.upgrade import upgrade

    spare(new, log)
    with told():
        old, now = upgrade(log, new, now_utc_s())
    say(f"{new}: a copy of {log}, schema {old} → {now}")
