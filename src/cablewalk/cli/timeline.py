"""``cablewalk timeline``."""

from __future__ import annotations

from pathlib import Path

import click

from cablewalk.cli.console import say
from cablewalk.cli.inputs import UNUSABLE, going_on_options, replayed


class NotDrawn(click.ClickException):
    """The picture could not be written; the text says why."""

    exit_code = UNUSABLE


@click.command("timeline")
@click.argument("baseline", metavar="BASELINE")
@click.argument("procedures", metavar="PROCEDURE...", nargs=-1, required=True)
@click.option(
    "--out",
    metavar="FILE.svg",
    required=True,
    type=click.Path(dir_okay=False, path_type=Path),
    help="File to write; its folder is made where it is not there.",
)
@click.option("--force", is_flag=True, help="Write over a file that is there.")
@going_on_options
@click.pass_context
def command(
    context: click.Context,
    baseline: str,
    procedures: tuple[str, ...],
    out: Path,
    force: bool,
    keep_going: bool,
    get_aheads: int,
) -> None:
    """Draw who does what when, and what is down meanwhile.

    A lane for each actor on the clock of the phase, GO calls and inhibits at their time, and the
    outages beneath, each against its tightest clock. The picture is SVG and can be told without
    colour.

    \b
    Example:
      cablewalk timeline configs/outpost.yaml configs/outing-1.yaml --out outing-1.svg
    """
    run = replayed(baseline, procedures, keep_going, get_aheads)
    from cablewalk.drawings.lanes import timeline_svg
    from cablewalk.files.output import CannotWrite, make_folder, write_text

    if out.suffix.lower() != ".svg":
        raise NotDrawn(f"'{out}' is no name for an SVG: end it in .svg")
    if out.exists() and not force:
        raise NotDrawn(f"'{out}' is there already; name another file, or --force to write over it")
    try:
        make_folder(out.parent)
        write_text(out, timeline_svg(run.account), force)
    except CannotWrite as problem:
        raise NotDrawn(str(problem)) from problem
    say(f"Timeline written to {out}")
    context.exit(run.exit_code)
