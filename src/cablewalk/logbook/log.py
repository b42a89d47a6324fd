"""A log: documents and events in one SQLite file."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from cablewalk.files.wording import clipped
from cablewalk.logbook.chain import (
    Link,
    as_bytes,
    first_broken,
    first_hash,
    follow,
    next_hash,
    row_of,
)
from cablewalk.logbook.codec import encode
from cablewalk.logbook.connect import close, connect, cut_bytes
from cablewalk.logbook.trouble import Damaged, sentences
from cablewalk.walk.asrun_entry import Entry

_INSERT = "INSERT INTO events (seq, phase, serial, body, hash) VALUES (?, ?, ?, ?, ?)"
_LAST = "SELECT seq, hash FROM events ORDER BY seq DESC LIMIT 1"
_COUNT = "SELECT coalesce(max(seq), 0) FROM events"
_ROWS = "SELECT seq, phase, serial, body, hash FROM events WHERE seq > ? ORDER BY seq"


@dataclass(frozen=True, slots=True)
class Stored:
    """A document as it was when the log was opened."""

    kind: Literal["baseline", "procedure"]
    name: str
    raw: bytes

    @property
    def sha256(self) -> str:
        """The digest of its bytes, hexadecimal."""
        return hashlib.sha256(self.raw).hexdigest()


@dataclass(frozen=True, slots=True)
class Reading:
    """All that a log holds at one moment."""

    links: tuple[Link, ...]
    head: bytes
    faults: tuple[str, ...]
    """What is wrong with the documents, the opening, or the length of the file."""

    @property
    def entries(self) -> list[Entry]:
        """The entries, as recorded."""
        return [link.entry for link in self.links]

    @property
    def seq(self) -> int:
        """How many events there are: what a reader has seen."""
        return self.links[-1].row.seq if self.links else 0


class Moved(Exception):
    """Others recorded events since the log was read; nothing was added."""

    def __init__(self, news: Sequence[Link]) -> None:
        super().__init__(f"{len(news)} new events")
        self.news = tuple(news)


class Log:
    """An open log. Use it in a ``with``: it closes into one file that can be copied."""

    def __init__(self, path: Path, write: bool = False) -> None:
        """Open a log that is there.

        Raises:
            CannotLog: it cannot be used so.
        """
        self.path = path
        self.write = write
        if write:
            _sound(path)
        cut = _cut_off(path)  # before a connection of our own has its journal beside it
        self.connection = connect(path, write)
        try:
            with sentences(path):
                self.opening, self.documents, faults = self._read_opening()
            self._faults = (*faults, *cut)
        except BaseException:
            self.connection.close()
            raise

    def __enter__(self) -> Log:
        return self

    def __exit__(self, *error: object) -> None:
        self.close()

    def close(self) -> None:
        """Close it; a writer folds its journal into the file where no other holds it."""
        if self.write:
            close(self.connection)
        else:
            self.connection.close()

    def _read_opening(self) -> tuple[bytes, tuple[Stored, ...], tuple[str, ...]]:
        opening = self.connection.execute("SELECT body FROM opening WHERE id = 1").fetchone()
        if opening is None or not isinstance(opening[0], bytes):
            raise sqlite3.DatabaseError("malformed: no opening record")
        rows = self.connection.execute(
            "SELECT kind, name, bytes FROM documents ORDER BY number"
        ).fetchall()
        documents = tuple(Stored(kind, str(name), as_bytes(raw)) for kind, name, raw in rows)
        return opening[0], documents, tuple(document_faults(opening[0], documents))

    # -- reading ----------------------------------------------------------------------

    def read(self) -> Reading:
        """Return every event, followed along the chain; what is wrong stands with each."""
        with sentences(self.path):
            rows = [row_of(row) for row in self.connection.execute(_ROWS, (0,))]
        links = tuple(follow(self.opening, rows))
        head = rows[-1].hash if rows else first_hash(self.opening)
        return Reading(links, head, self._faults)

    def count(self) -> int:
        """Return the number of the last event."""
        with sentences(self.path):
            (last,) = self.connection.execute(_COUNT).fetchone()
            if not isinstance(last, int):
                raise sqlite3.DatabaseError("malformed: an event without a number")
            return last

    def check_pages(self) -> None:
        """Let SQLite check every page of the file.

        Raises:
            Damaged: a page is.
        """
        with sentences(self.path):
            said = self.connection.execute("PRAGMA integrity_check(1)").fetchone()[0]
            if said != "ok":
                raise sqlite3.DatabaseError(f"malformed: {said}")

    # -- writing ----------------------------------------------------------------------

    def append(self, drafts: Sequence[Entry], seen: int | None = None) -> list[Entry]:
        """Add events, all or none, durable when this returns; their serials are given here.

        Args:
            drafts: entries whose serial does not count.
            seen: how many events the writer knew; None: whatever there is.

        Raises:
            Moved: there are more than were seen; nothing was added.
            CannotLog: the disk or the database refuses; nothing was added.
        """
        execute = self.connection.execute
        with sentences(self.path):
            execute("BEGIN IMMEDIATE")
            try:
                seq, head = execute(_LAST).fetchone() or (0, first_hash(self.opening))
                if seen is not None and seq > seen:
                    rows = [row_of(row) for row in execute(_ROWS, (0,))]
                    news = [link for link in follow(self.opening, rows) if link.row.seq > seen]
                    raise Moved(news)
                added = []
                for draft in drafts:
                    seq += 1
                    entry = replace(draft, serial=self._next_serial(draft.phase))
                    body = encode(entry)
                    head = next_hash(head, body)
                    execute(_INSERT, (seq, entry.phase, entry.serial, body, head))
                    added.append(entry)
                execute("COMMIT")
            except BaseException:
                if self.connection.in_transaction:
                    execute("ROLLBACK")
                raise
        return added

    def _next_serial(self, phase: int) -> int:
        found = self.connection.execute(
            "SELECT max(serial) FROM events WHERE phase = ?", (phase,)
        ).fetchone()
        return int(found[0] or 0) + 1


def _cut_off(path: Path) -> list[str]:
    """Return that the end of a file was cut off, where it was."""
    missing = cut_bytes(path)
    if not missing:
        return []
    return [f"its end was cut off, {missing:,} B by its header: later entries may be missing"]


def _sound(path: Path) -> None:
    """Look through a log before anything is written to it, so that a damaged one stays as it is.

    Raises:
        CannotLog: a page, the chain of hashes or a document is damaged, or it is no log.
    """
    with Log(path) as log:
        log.check_pages()
        name = f"'{clipped(str(path), 200)}'"
        way_out = (
            "nothing was recorded, and the file was left as it is; 'cablewalk asrun check' tells "
            "what is wrong, 'cablewalk asrun salvage' recovers what is readable into a new log"
        )
        if log._faults:
            raise Damaged(f"{name} is damaged: {log._faults[0]}: {way_out}")
        with sentences(path):
            rows = [row_of(row) for row in log.connection.execute(_ROWS, (0,))]
        broken = first_broken(log.opening, rows)
        if broken is not None:
            at = f"log {broken.phase + 1}.{broken.serial}"
            raise Damaged(f"{name}: the chain of hashes is broken at {at}: {way_out}")


def document_faults(opening: bytes, documents: Sequence[Stored]) -> list[str]:
    """Return what differs between the documents stored and those the log was opened with."""
    try:
        said = [(d["kind"], d["name"], d["sha256"]) for d in json.loads(opening)["documents"]]
    except (ValueError, KeyError, TypeError):
        return ["the opening record of the log cannot be read"]
    stored = [(d.kind, d.name, d.sha256) for d in documents]
    faults = [
        f"the document {clipped(str(name))} is not the one the log was opened with"
        for (kind, name, sha) in said
        if (kind, name, sha) not in stored
    ]
    if len(said) != len(stored) and not faults:
        faults.append("the log holds other documents than it was opened with")
    return faults
