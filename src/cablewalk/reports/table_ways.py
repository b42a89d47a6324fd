"""The difference between two moments, end to end."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from cablewalk.reports.base import Part
from cablewalk.reports.table_change import ChangeRow
from cablewalk.reports.table_way import HopRow, WayRow, WaysTable

WaySection = Literal["removed", "added", "re-routed", "disturbed"]
WAY_SECTIONS: tuple[WaySection, ...] = ("removed", "added", "re-routed", "disturbed")


class WayChangeRow(Part):
    """Two ends that are no longer, newly or otherwise joined, or whose way was disturbed."""

    section: WaySection = Field(description="What it is sorted into.")
    place: str = Field(description="Id of the place where it starts; empty: not known.")
    start: tuple[str, ...] = Field(description="The terminals it starts from.")
    end: tuple[str, ...] = Field(description="The terminals, or the contact, it ends on.")
    end_kind: str = Field(description="As in a way: terminal, structure, open or spare.")
    was: tuple[tuple[HopRow, ...], ...] = Field(description="The ways before that are no more.")
    now: tuple[tuple[HopRow, ...], ...] = Field(description="The ways after that are new.")
    strings: tuple[str, ...] = Field(
        description="Strings that run over them: before where removed, else after."
    )
    opened: tuple[str, ...] = Field(
        description="For disturbed: the free halves and caps of it that were touched in between."
    )


Ends = tuple[tuple[str, ...], tuple[str, ...]]


def way_change_rows(
    before: WaysTable, after: WaysTable, changes: tuple[ChangeRow, ...]
) -> tuple[WayChangeRow, ...]:
    """Return which ends are joined otherwise, by section, then by place and terminal.

    ``changes`` tells which joins were disturbed though unchanged.
    """
    was, now = _by_ends(before), _by_ends(after)
    touched = {r.item for r in changes if r.section == "disturbed" and r.kind in ("half", "cap")}
    rows: list[WayChangeRow] = []
    for ends in [*now, *(ends for ends in was if ends not in now)]:
        old, new = was.get(ends, []), now.get(ends, [])
        gone = [way for way in old if _pairs(way) not in map(_pairs, new)]
        come = [way for way in new if _pairs(way) not in map(_pairs, old)]
        used = {half for way in new for hop in way.hops for half in (hop.near, hop.far)}
        opened = sorted(touched & used)
        if gone or come:
            section: WaySection = "re-routed" if old and new else "added" if new else "removed"
        elif opened:
            section = "disturbed"
        else:
            continue
        example = (new or old)[0]
        carriers = old if section == "removed" else new
        rows.append(
            WayChangeRow(
                section=section,
                place=example.place,
                start=ends[0],
                end=ends[1],
                end_kind=example.end_kind,
                was=tuple(way.hops for way in gone),
                now=tuple(way.hops for way in come),
                strings=tuple(dict.fromkeys(s for way in carriers for s in way.strings)),
                opened=tuple(opened) if section == "disturbed" else (),
            )
        )
    return tuple(sorted(rows, key=lambda row: WAY_SECTIONS.index(row.section)))


def _by_ends(table: WaysTable) -> dict[Ends, list[WayRow]]:
    found: dict[Ends, list[WayRow]] = {}
    for way in table.rows:
        found.setdefault((way.start, way.end), []).append(way)
    return found


def _pairs(way: WayRow) -> tuple[tuple[str, str, tuple[str, ...]], ...]:
    """Return the hops of a way without how sure they are."""
    return tuple((hop.near, hop.far, hop.contacts) for hop in way.hops)
