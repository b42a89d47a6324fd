"""How everything stands at one moment: by half, and end to end."""

from __future__ import annotations

from cablewalk.reports.table_half import CapRow, HalfRow, LegRow, RideRow
from cablewalk.reports.table_way import HopRow, WayRow, WaysTable
from cablewalk.reports.table_words import spoken
from cablewalk.sheets.sheet import Sheet

NOWHERE = "place not known"


def named(name: str, label: str) -> str:
    """Return an id, and the label as marked where that says more."""
    return f"{name}  {label}" if label and label != name else name


def half_sheet(name: str, title: str, rows: tuple[HalfRow, ...], notes: tuple[str, ...]) -> Sheet:
    """Return the table by half."""
    return Sheet(
        name=name,
        title=title,
        columns=(
            "place", "on", "half", "as marked", "stands", "mated to", "cap", "leg",
            "rides on it now",
        ),
        rows=tuple(_half(row) for row in rows),
        groups=2,
        notes=notes,
        empty="There is no half.",
    )  # fmt: skip


def _half(row: HalfRow) -> tuple[str, ...]:
    there = "" if row.there == "installed" else f" ({row.there})"
    return (
        row.place or NOWHERE,
        f"{named(row.on, row.on_label)}{there}",
        row.half,
        row.label,
        _stands(row),
        row.mated_to,
        "; ".join(_cap(cap, row.half) for cap in row.caps),
        _leg(row.leg),
        ", ".join(_ride(ride) for ride in row.rides),
    )


def _stands(row: HalfRow) -> str:
    text = spoken(row.state)
    if row.parked:
        text = text.replace("mated", "parked")
    if row.role == "parking" and not row.mated_to:
        text = f"{text}, for parking"
    return f"{text}, being worked on" if row.under_way else text


def _cap(cap: CapRow, half: str) -> str:
    if cap.state == "fitted":
        return cap.cap if cap.where == half else f"{cap.cap} on {cap.where}"
    if cap.state == "tethered":
        where = "hangs free" if cap.where == half else f"tethered at {cap.where}"
        return f"{cap.cap} {where}"
    if cap.state == "lost":
        return f"{cap.cap} LOST"
    return f"{cap.cap} {'held by' if cap.state == 'held' else 'packed in'} {cap.where}"


def _leg(leg: LegRow | None) -> str:
    if leg is None:
        return ""
    joint = {"person": "of", "bag": "in", "place": "at", "": ""}[leg.where_kind]
    parts = [" ".join(part for part in (spoken(leg.state), joint, leg.where) if part)]
    if leg.along:
        parts.append(f"along {' '.join(leg.along)}")
    if leg.ties:
        parts.append(f"tied {' '.join(leg.ties)}")
    return ", ".join(parts)


def _ride(ride: RideRow) -> str:
    marks = [ride.standing] if ride.standing != "up" else ["unproven"] if ride.unproven else []
    return f"{ride.string} ({marks[0]})" if marks else ride.string


def way_sheet(name: str, title: str, table: WaysTable, notes: tuple[str, ...]) -> Sheet:
    """Return the table end to end."""
    if table.left_off:
        notes = (*notes, f"TOO MANY WAYS, some are left off: from {', '.join(table.left_off)}")
    return Sheet(
        name=name,
        title=title,
        columns=("place", "on", "from", "by way of", "to", "how it ends", "what runs over it"),
        rows=tuple(_way(row) for row in table.rows),
        groups=2,
        notes=notes,
        empty="No contact is wired to a unit.",
    )


def _way(row: WayRow) -> tuple[str, ...]:
    state = {
        "open": f"OPEN: {row.end_state}",
        "spare": "spare: wired to nothing",
        "structure": "",
        "terminal": "",
    }[row.end_kind]
    return (
        row.place or NOWHERE,
        named(row.on, row.on_label),
        " ".join(row.start),
        hops_text(row.hops),
        " ".join(row.end),
        state,
        ", ".join(row.strings),
    )


def hops_text(hops: tuple[HopRow, ...]) -> str:
    """Return mated pairs in a line: ``J1=P1 .3``; a join in doubt is marked ``?``."""
    return " → ".join(_hop(hop) for hop in hops)


def _hop(hop: HopRow) -> str:
    return f"{hop.near}{'=' if hop.sure else '=?='}{hop.far}.{'+'.join(hop.contacts)}"
