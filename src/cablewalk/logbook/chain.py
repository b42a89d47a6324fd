"""The chain: each event's hash holds the one before, over the bytes as they are stored.

An unkeyed chain shows every edited, exchanged or missing event but the last ones: whoever cuts
the tail, or writes the whole file anew, has a sound chain. So its head is printed at hand-over.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from cablewalk.logbook.codec import Unreadable, decode
from cablewalk.walk.asrun_entry import Entry


@dataclass(frozen=True, slots=True)
class Row:
    """An event as it is stored."""

    seq: int
    phase: int
    serial: int
    body: bytes
    hash: bytes


def row_of(values: Sequence[object]) -> Row:
    """Return what SQLite read as an event: a damaged page may hold values of any type.

    Bytes that are none are taken for no bytes, so that the event shows as unreadable.

    Raises:
        sqlite3.DatabaseError: not even its number or its key can be read.
    """
    seq, phase, serial, body, digest = values
    if not (isinstance(seq, int) and isinstance(phase, int) and isinstance(serial, int)):
        raise sqlite3.DatabaseError("malformed: an event without a number")
    return Row(seq, phase, serial, as_bytes(body), as_bytes(digest))


def as_bytes(value: object) -> bytes:
    """Return bytes as they are; none for what is no bytes."""
    return value if isinstance(value, bytes) else b""


@dataclass(frozen=True, slots=True)
class Link:
    """A stored event read: its entry, and what is wrong with it, or nothing."""

    row: Row
    entry: Entry
    fault: str


def first_hash(opening: bytes) -> bytes:
    """Return the hash the chain begins with."""
    return hashlib.sha256(b"cablewalk log\n" + opening).digest()


def next_hash(before: bytes, body: bytes) -> bytes:
    """Return the hash of an event."""
    return hashlib.sha256(before + body).digest()


def follow(opening: bytes, rows: Iterable[Row]) -> Iterator[Link]:
    """Yield every event with what is wrong with it: an edited byte shows in some event.

    An event whose bytes are none any longer yields an entry of kind ``lost``.
    """
    before, seq = first_hash(opening), 0
    serials: dict[int, int] = {}
    for row in rows:
        seq += 1
        serials[row.phase] = serials.get(row.phase, 0) + 1
        fault = ""
        try:
            entry = decode(row.body)
        except Unreadable as problem:
            fault = f"its bytes cannot be read ({problem})"
            entry = lost(row.phase, row.serial, fault)
        if not fault and entry.key != (row.phase, row.serial):
            fault = "it bears another key than it is stored under"
            entry = lost(row.phase, row.serial, fault)
        if next_hash(before, row.body) != row.hash:
            fault = fault or "its bytes, or its hash, are not those that were recorded"
        if row.seq != seq or row.serial != serials[row.phase]:
            fault = fault or "an event before it is missing"
            seq, serials[row.phase] = row.seq, row.serial
        before = row.hash
        yield Link(row, entry, fault)


def first_broken(opening: bytes, rows: Iterable[Row]) -> Row | None:
    """Return the first event whose place or hash is not as recorded; its bytes are not read."""
    before = first_hash(opening)
    serials: dict[int, int] = {}
    for seq, row in enumerate(rows, start=1):
        serials[row.phase] = serials.get(row.phase, 0) + 1
        if (row.seq, row.serial) != (seq, serials[row.phase]):
            return row
        if next_hash(before, row.body) != row.hash:
            return row
        before = row.hash
    return None


def lost(phase: int, serial: int, why: str, utc_s: int = 0) -> Entry:
    """Return the entry that stands for one that cannot be read."""
    return Entry(phase, serial, "lost", utc_s, 0, utc_s, text=why)


def opening_bytes(fields: dict[str, object]) -> bytes:
    """Return the opening record as bytes."""
    return json.dumps(fields, ensure_ascii=False, separators=(",", ":")).encode()
