"""``cablewalk asrun open``."""

from __future__ import annotations

from pathlib import Path

import click

from cablewalk.cli.asrun_common import BY, LOG, Fail, clean, now_utc_s, told, utc_of, writer
from cablewalk.cli.console import say
from cablewalk.cli.inputs import replayed


@click.command("open")
@LOG
@click.argument("baseline", metavar="BASELINE")
@click.argument("procedures", metavar="PROCEDURE [PROCEDURE …]", nargs=-1, required=True)
@click.option(
    "--zero",
    metavar="TIME",
    help="UTC at which PET is 0:00; where not given, the first step may begin now.",
)
@click.option(
    "--left",
    metavar="TIME",
    help="UTC at which BASELINE was true: what was dark then has been so since.",
)
@BY
def command(
    log: Path,
    baseline: str,
    procedures: tuple[str, ...],
    zero: str | None,
    left: str | None,
    by: str | None,
) -> None:
    """Begin a log, with the documents stored inside, and the first phase with it.

    \b
    Examples:
      cablewalk asrun open outing-1.log configs/outpost.yaml configs/outing-1.yaml
      cablewalk asrun open outing-2.log left.yaml configs/outing-2.yaml --left 2031-05-06T20:11:00Z
    """
    run = replayed(baseline, procedures, keep_going=True, get_aheads=0)
    from cablewalk.logbook.create import create
    from cablewalk.logbook.log import Stored
    from cablewalk.units import clock, parse_clock
    from cablewalk.walk.asrun_entry import Entry

    documents = [
        Stored("procedure" if n else "baseline", clean(name), Path(name).read_bytes())
        for n, name in enumerate((baseline, *procedures))
    ]
    for document, source in zip(documents, run.sources, strict=True):
        if document.sha256 != source.sha256:
            raise Fail(f"'{source.name}' was changed while it was read: try again")
    start = parse_clock(run.account.procedures[0].start_pet)
    now = now_utc_s()
    zero_s = utc_of(zero) if zero is not None else now - start
    left_s = utc_of(left) if left is not None else None
    if left_s is not None and left_s > zero_s + start:
        raise Fail("--left lies after the phase's first step may begin")
    begin = Entry(0, 1, "begin", zero_s, 0, now, clean(writer(by)), left_s=left_s)
    with told():
        create(log, documents, [begin], now)
    first = run.account.procedures[0]
    say(f"{log}: a log of {first.procedure}, which begins at PET {clock(start)}")
    errors = [f for f in run.account.findings if str(f.severity) == "error"]
    if errors:
        say(
            f"The plan itself has {len(errors)} findings of severity error: "
            "'cablewalk check' and 'cablewalk replay' tell them.",
        )
