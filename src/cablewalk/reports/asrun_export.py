"""The whole log as a table."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from cablewalk.reports.asrun_log import EntryRow, LogFacts, LogReport, entry_rows, log_heading
from cablewalk.sheets.sheet import Sheet
from cablewalk.walk.asrun_state import Tracked


class ExportReport(LogReport):
    """Every entry as it was recorded, corrections among them."""

    report: Literal["asrun-export"] = Field(description="Which report this is.")
    entries: tuple[EntryRow, ...] = Field(description="By serial number.")


def export_report(tracked: Tracked, facts: LogFacts, now_s: int) -> ExportReport:
    """Return every entry of a log."""
    fields, _ = log_heading(tracked, facts, now_s)
    return ExportReport(report="asrun-export", entries=entry_rows(tracked), **fields)


def export_sheet(report: ExportReport) -> Sheet:
    """Return the entries as a sheet, a column a field."""
    columns = tuple(EntryRow.model_fields)
    rows = tuple(tuple(_cell(getattr(entry, name)) for name in columns) for entry in report.entries)
    return Sheet(
        name="asrun",
        title=f"As run: {report.log.file}, {report.log.events} events, head {report.log.head}",
        columns=columns,
        rows=rows,
        empty="nothing is recorded",
    )


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return " ".join(value) if isinstance(value, tuple) else str(value)
