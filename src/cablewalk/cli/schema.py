"""``cablewalk schema``."""

from __future__ import annotations

import json

import click

from cablewalk.cli.console import say

DOCUMENTS = ("baseline", "procedure")
REPORTS = (
    "check", "replay", "outages", "halt", "spread", "zones", "loads", "trace", "tables",
    "asrun-now", "asrun-forecast", "asrun-compare", "asrun-connectors", "asrun-handover",
    "asrun-export",
)  # fmt: skip


@click.command("schema")
@click.argument("document", type=click.Choice(DOCUMENTS), required=False)
@click.option("--report", type=click.Choice(REPORTS), help="The schema of a report's --json.")
def command(document: str | None, report: str | None) -> None:
    """Print the JSON Schema (draft 2020-12) of a document, or of what --json prints.

    \b
    Examples:
      cablewalk schema baseline
      cablewalk schema --report outages
      cablewalk schema --report asrun-now
    """
    if (document is None) == (report is None):
        raise click.UsageError("name a document, or a report with --report: one of the two")
    if document is not None:
        from cablewalk.files.schema import schemas

        schema = schemas()[document]
    else:
        from cablewalk.reports.catalogue import report_schema

        assert report is not None
        schema = report_schema(report)
    say(json.dumps(schema, indent=2, allow_nan=False))
