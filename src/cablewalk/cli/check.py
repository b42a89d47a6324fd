"""``cablewalk check``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from cablewalk.cli.beside import told_of_estimates, told_of_samples
from cablewalk.cli.console import print_rows, say
from cablewalk.cli.inputs import ERRORS, refuse
from cablewalk.cli.sampling import runs_option, sampled

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cablewalk.checks.waive import Waived
    from cablewalk.files.place import Source
    from cablewalk.findings import Finding


@click.command("check")
@click.argument("documents", metavar="BASELINE [PROCEDURE …]", nargs=-1)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@click.option(
    "--sarif",
    "sarif_file",
    metavar="FILE",
    help="Write the findings as SARIF 2.1.0 too, for editors and review tools.",
)
@click.option("--force", is_flag=True, help="With --sarif: overwrite FILE where it is there.")
@click.option("--explain", metavar="RULE", help="Tell what a rule is for, and nothing else.")
@click.option(
    "--get-aheads",
    metavar="N",
    type=click.IntRange(min=0),
    default=0,
    help="Let in the first N get-aheads of each procedure, by priority.",
)
@runs_option
@click.pass_context
def command(
    context: click.Context,
    documents: tuple[str, ...],
    as_json: bool,
    sarif_file: str | None,
    force: bool,
    explain: str | None,
    get_aheads: int,
    runs: int | None,
) -> None:
    """Find what is unsafe or unfinished: inhibits, live contacts, look-alikes, what is left.

    BASELINE alone is checked by itself; each PROCEDURE starts from what the one before left.
    What is impossible is skipped, and what follows from it is told beneath it. Findings that a
    procedure waives are listed apart. Where the documents give what it takes, clocks and phase
    limits are held against samples too, and temperatures and loads are estimated.

    \b
    Examples:
      cablewalk check configs/outpost.yaml configs/outing-1.yaml
      cablewalk check configs/faulty/bench.yaml configs/faulty/swap.yaml
      cablewalk check --explain look-alike
    """
    if explain is not None:
        _explain(explain)
        return
    if force and sarif_file is None:
        raise click.UsageError("--force goes with --sarif")
    if not documents:
        raise click.UsageError("Missing argument 'BASELINE [PROCEDURE …]'.", context)
    from cablewalk.checks.run import check
    from cablewalk.files.load import load_baseline, load_procedure
    from cablewalk.timeline.account import account

    base = load_baseline(documents[0])
    rest = [load_procedure(path, n + 1) for n, path in enumerate(documents[1:])]
    sources = (base.source, *(loaded.source for loaded in rest))
    models = [loaded.model for loaded in rest if loaded.model is not None]
    if base.model is None or len(models) < len(rest):
        every = [*base.findings, *(f for one in rest for f in one.findings)]
        _refuse(every, sources, sarif_file, force)
    assert base.model is not None
    found = account(base.model, models, True, get_aheads)
    if found.trace.unusable:
        _refuse(list(found.findings), sources, sarif_file, force)
    sample = sampled(found, sources, runs)
    checked = check(told_of_estimates(told_of_samples(found, sample)))
    if sarif_file is not None:
        _write_sarif(sarif_file, force, checked.findings, checked.waived, sources)
    from cablewalk.cli.check_page import check_page
    from cablewalk.reports.checked import check_report
    from cablewalk.reports.text import report_json

    report = check_report(
        checked, sources, sample.found.runs if sample.found else None, sample.why_not
    )
    if as_json:
        say(report_json(report))
    else:
        print_rows(check_page(report).rows)
    context.exit(ERRORS if checked.has_errors else 0)


def _refuse(
    findings: list[Finding], sources: Sequence[Source], sarif_file: str | None, force: bool
) -> None:
    """Write the findings of documents that cannot be used, as SARIF too, and leave."""
    if sarif_file is not None:
        _write_sarif(sarif_file, force, findings, (), sources)
    refuse(findings, sources)


def _write_sarif(
    file: str,
    force: bool,
    findings: Sequence[Finding],
    waived: Sequence[Waived],
    sources: Sequence[Source],
) -> None:
    from cablewalk.files.output import CannotWrite, write_text
    from cablewalk.reports.sarif import sarif

    try:
        write_text(file, sarif(findings, waived, sources), force)
    except CannotWrite as error:
        raise click.UsageError(str(error)) from None


def _explain(name: str) -> None:
    from cablewalk.checks.registry import RULES, near
    from cablewalk.cli.check_page import explain_page

    rule = RULES.get(name)
    if rule is None:
        close = ", ".join(near(name)) or ", ".join(RULES)
        raise click.UsageError(f"there is no rule '{name}'; did you mean {close}?")
    print_rows(explain_page(rule).rows)
