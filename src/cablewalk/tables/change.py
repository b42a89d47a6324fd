"""The difference between two moments: thing by thing, and end to end."""

from __future__ import annotations

from cablewalk.reports.table_change import SECTIONS, ChangeRow
from cablewalk.reports.table_way import HopRow
from cablewalk.reports.table_ways import WayChangeRow
from cablewalk.sheets.sheet import Sheet
from cablewalk.tables.stand import NOWHERE, hops_text

CAPTIONS: dict[str, str] = {name: meaning for name, meaning in SECTIONS.items()}  # noqa: C416
"""The report's sections, as the headings of a sheet."""
RETEST = (
    "retest: OWED names services disturbed here and not verified since; 'none owed': all were; "
    "'-': no retest of this item, for no service runs over it now."
)
WAY_CAPTIONS = {
    "removed": "Ends that were joined, and are no longer.",
    "added": "Ends that are joined, and were not.",
    "re-routed": "The same ends, over other mated pairs.",
    "disturbed": "The same ends over the same pairs, one of which was opened in between.",
}


def change_sheet(
    name: str, title: str, rows: tuple[ChangeRow, ...], notes: tuple[str, ...]
) -> Sheet:
    """Return the difference thing by thing."""
    return Sheet(
        name=name,
        title=title,
        columns=(
            "sorted into", "place", "what", "as marked", "was", "is", "runs over it", "retest"
        ),
        rows=tuple(
            (
                row.section,
                row.place or NOWHERE,
                row.item if row.kind != "leg" else f"{row.item} (leg)",
                row.label,
                row.was,
                row.now,
                ", ".join(row.strings),
                _retest(row),
            )
            for row in rows
        ),
        groups=1,
        captions=CAPTIONS,
        sections=tuple(SECTIONS),
        notes=(*notes, RETEST) if rows else notes,
        empty="Nothing is otherwise than before.",
    )  # fmt: skip


def _retest(row: ChangeRow) -> str:
    if row.retest:
        return f"OWED: {', '.join(row.retest)}"
    if row.section != "removed" and row.strings:
        return "none owed"
    return "-"


def way_change_sheet(
    name: str, title: str, rows: tuple[WayChangeRow, ...], notes: tuple[str, ...]
) -> Sheet:
    """Return the difference end to end."""
    return Sheet(
        name=name,
        title=title,
        columns=("sorted into", "place", "from", "to", "was by", "is by", "runs over it"),
        rows=tuple(
            (
                row.section,
                row.place or NOWHERE,
                " ".join(row.start),
                _end(row),
                _ways(row.was),
                _ways(row.now) or (f"opened: {' '.join(row.opened)}" if row.opened else ""),
                ", ".join(row.strings),
            )
            for row in rows
        ),
        groups=1,
        captions=WAY_CAPTIONS,
        sections=tuple(WAY_CAPTIONS),
        notes=notes,
        empty="All ends are joined as before.",
    )


def _end(row: WayChangeRow) -> str:
    mark = {"open": " (open)", "spare": " (spare)"}.get(row.end_kind, "")
    return f"{' '.join(row.end)}{mark}"


def _ways(ways: tuple[tuple[HopRow, ...], ...]) -> str:
    return "; ".join(hops_text(hops) or "no mated pair" for hops in ways)
