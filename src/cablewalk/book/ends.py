"""End to end: where each contact goes that is wired to a unit, before, after and otherwise."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from cablewalk.reports.table_ways import WayChangeRow
from cablewalk.reports.tables import StandTable, TablesReport
from cablewalk.tables.change import WAY_CAPTIONS, way_change_sheet
from cablewalk.tables.stand import way_sheet

MOST_WAYS: Final = 400
"""Ways that a table of a book has at most; the whole is told by ``cablewalk tables``."""
MANY_HALVES: Final = 1000
"""With more halves than this only the difference is told end to end."""


@dataclass(frozen=True, slots=True)
class Ends:
    """One table, folded on the screen."""

    title: str
    meaning: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    left_off: int = 0
    """Ways there is no room for."""
    is_printed: bool = False
    """Whether it is opened for the printer; else only if the reader has opened it."""


def end_tables(report: TablesReport) -> list[Ends]:
    """Return what is joined otherwise, by section, then all ways that services run over.

    Args:
        report: with the difference end to end; with before and after, if those are wanted.
    """
    assert report.difference is not None and report.difference.ways is not None
    standing = [(report.before, "Before, end to end"), (report.after, "After, end to end")]
    found = [
        _changed(section, tuple(r for r in report.difference.ways if r.section == section))
        for section in WAY_CAPTIONS
    ]
    return [
        *(table for table in found if table.rows),
        *(_standing(table, title) for table, title in standing if table is not None),
    ]


def _changed(section: str, rows: tuple[WayChangeRow, ...]) -> Ends:
    sheet = way_change_sheet("", "", rows, ())
    return Ends(
        f"End to end, {section}",
        WAY_CAPTIONS[section],
        sheet.columns[1:],
        tuple(row[1:] for row in sheet.rows[:MOST_WAYS]),
        max(0, len(rows) - MOST_WAYS),
        True,
    )


def _standing(table: StandTable, title: str) -> Ends:
    assert table.ways is not None, "it was asked for"
    used = tuple(row for row in table.ways.rows if row.strings)
    shown = table.ways.model_copy(update={"rows": used[:MOST_WAYS]})
    sheet = way_sheet("", "", shown, ())
    keep = [n for n, name in enumerate(sheet.columns) if name != "how it ends"]
    return Ends(
        title,
        "Every way that something runs over. On paper only where it is open here.",
        tuple(sheet.columns[n] for n in keep),
        tuple(tuple(row[n] for n in keep) for row in sheet.rows),
        len(used) - len(shown.rows),
    )
