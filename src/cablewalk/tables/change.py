"""The difference between two moments: thing by thing, and end to end."""

from __future__ import annotations

from cablewalk.reports.table_change import SECTIONS, ChangeRow
from cablewalk.reports.table_way import HopRow
from cablewalk.reports.table_ways import WayChangeRow
from cablewalk.sheets.sheet import Sheet
from cablewalk.tables.stand import NOWHERE, hops_text

_CAPPED: dict[str, str] = {
    "newly capped": "A protective cap is newly on this half.",
    "newly uncapped": "A protective cap is newly off this half.",
}
CAPTIONS: dict[str, str] = {
    heading: meaning
    for section, text in SECTIONS.items()
    for heading, meaning in (_CAPPED if section == "capped" else {section: text}).items()
}
"""Heading to its meaning: the report's sections, the one for caps in two."""
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
    order = list(CAPTIONS)
    rows = tuple(sorted(rows, key=lambda row: order.index(_heading(row))))
    return Sheet(
        name=name,
        title=title,
        columns=(
            "sorted into", "place", "what", "as marked", "was", "is", "runs over it", "retest"
        ),
        rows=tuple(
            (
                _heading(row),
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
        sections=tuple(CAPTIONS),
        notes=(*notes, RETEST) if rows else notes,
        empty="Nothing is otherwise than before.",
    )  # fmt: skip


def _heading(row: ChangeRow) -> str:
    if row.section != "capped":
        return row.section
    return "newly capped" if row.now.startswith("capped by ") else "newly uncapped"


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
