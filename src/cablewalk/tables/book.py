"""All sheets of a report, in the order in which they are read."""

from __future__ import annotations

from cablewalk.reports.table_moment import MomentRow
from cablewalk.reports.tables import DifferenceTable, StandTable, TablesReport
from cablewalk.sheets.sheet import Sheet
from cablewalk.tables.change import change_sheet, way_change_sheet
from cablewalk.tables.stand import half_sheet, way_sheet


def sheets(report: TablesReport) -> list[Sheet]:
    """Return the sheets of a report."""
    found = []
    for word, table in (("before", report.before), ("after", report.after)):
        if table is not None:
            found.extend(_stand(report, word, table))
    if report.difference is not None:
        found.extend(_difference(report, report.difference))
    return found


def _stand(report: TablesReport, word: str, table: StandTable) -> list[Sheet]:
    found = []
    title = f"{word.upper()}: {report.baseline.id} {_at(report, table.moment)}"
    notes = _notes(report)
    if table.halves is not None:
        found.append(half_sheet(f"{word}-by-half", f"{title}, by half", table.halves, notes))
    if table.ways is not None:
        found.append(way_sheet(f"{word}-end-to-end", f"{title}, end to end", table.ways, notes))
    return found


def _difference(report: TablesReport, table: DifferenceTable) -> list[Sheet]:
    found = []
    moments = f"{_at(report, table.before)} → {_at(report, table.after)}"
    title = f"DIFFERENCE: {report.baseline.id} {moments}"
    notes = _notes(report)
    if table.things is not None:
        name = "difference-by-half"
        found.append(change_sheet(name, f"{title}, thing by thing", table.things, notes))
    if table.ways is not None:
        name = "difference-end-to-end"
        found.append(way_change_sheet(name, f"{title}, end to end", table.ways, notes))
    return found


def _at(report: TablesReport, moment: MomentRow) -> str:
    phase = f"{moment.at_pet.phase} " if len(report.phases) > 1 else ""
    return f"{moment.words} ({phase}PET {moment.at_pet.pet})"


def _notes(report: TablesReport) -> tuple[str, ...]:
    """Return what a reader must know before trusting a table."""
    notes = []
    refused = [finding for finding in report.findings if finding.rule == "refused"]
    if report.stopped:
        at = "".join(f" step {f.step}: {f.found}" for f in refused[-1:])
        at = at or " an action that is not possible"
        notes.append(f"THE REPLAY STOPPED at{at}; no more is known.")
    elif refused:
        s = "s" * (len(refused) != 1)
        notes.append(
            f"{len(refused)} ACTION{s.upper()} NOT DONE, skipped: step {refused[0].step}: "
            f"{refused[0].found}" + (f", and {len(refused) - 1} more." if len(refused) > 1 else ".")
        )
    errors = sum(finding.severity == "error" for finding in report.findings)
    if errors:
        s = "s" * (errors != 1)
        notes.append(f"The replay has {errors} error{s}: see 'cablewalk replay'.")
    return tuple(notes)
