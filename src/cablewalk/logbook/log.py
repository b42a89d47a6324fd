"""A log: documents and events in one SQLite file."""

from __future__ import annotations

import hashlib
import json
import secrets
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from cablewalk import __version__
from cablewalk.files.wording import clipped
from cablewalk.logbook.chain import (
    Link,
    Row,
    first_broken,
    first_hash,
    follow,
    next_hash,
    opening_bytes,
)
from cablewalk.logbook.codec import encode, utc_text
from cablewalk.logbook.connect import close, connect, prepare
from cablewalk.logbook.schema import migrate
from cablewalk.logbook.trouble import CannotLog, Damaged, sentences
from cablewalk.walk.asrun_entry import Entry

_INSERT = "INSERT INTO events (seq, phase, serial, body, hash) VALUES (?, ?, ?, ?, ?)"
_LAST = "SELECT seq, hash FROM events ORDER BY seq DESC LIMIT 1"
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
    """What is wrong with the documents or the opening."""

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
        self.connection = connect(path, write)
        try:
            with sentences(path):
                self.opening, self.documents, self._faults = self._read_opening()
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
        if opening is None:
            raise sqlite3.DatabaseError("malformed: no opening record")
        rows = self.connection.execute(
            "SELECT kind, name, bytes FROM documents ORDER BY number"
        ).fetchall()
        documents = tuple(Stored(*row) for row in rows)
        return bytes(opening[0]), documents, tuple(document_faults(opening[0], documents))

    # -- reading ----------------------------------------------------------------------

    def read(self) -> Reading:
        """Return every event, followed along the chain; what is wrong stands with each."""
        with sentences(self.path):
            rows = [Row(*row) for row in self.connection.execute(_ROWS, (0,))]
        links = tuple(follow(self.opening, rows))
        head = rows[-1].hash if rows else first_hash(self.opening)
        return Reading(links, head, self._faults)

    def count(self) -> int:
        """Return the number of the last event."""
        with sentences(self.path):
            return int(
                self.connection.execute("SELECT coalesce(max(seq), 0) FROM events").fetchone()[0]
            )

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
                    rows = [Row(*row) for row in execute(_ROWS, (0,))]
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
            raise Damaged(f"{name}: {log._faults[0]}: {way_out}")
        with sentences(path):
            rows = [Row(*row) for row in log.connection.execute(_ROWS, (0,))]
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


def create(
    path: Path, documents: Sequence[Stored], entries: Sequence[Entry], utc_s: int, origin: str = ""
) -> None:
    """Begin a log with its documents and first events; it appears whole or not at all.

    ``origin`` tells what it was recovered from, where it was.

    Raises:
        CannotLog: the name is taken, or the disk refuses.
    """
    fields: dict[str, object] = {
        "log": secrets.token_hex(16),
        "cablewalk": __version__,
        "utc": utc_text(utc_s),
        "documents": [{"kind": d.kind, "name": d.name, "sha256": d.sha256} for d in documents],
    }
    if origin:
        fields["recovered_from"] = origin
    opening = opening_bytes(fields)
    if path.exists():
        raise CannotLog(
            f"'{clipped(str(path), 200)}' exists already and was left as it is: "
            "choose another name, or record into it"
        )
    beside = path.parent / f".cablewalk-{secrets.token_hex(6)}"
    try:
        with sentences(path):
            connection = sqlite3.connect(beside, isolation_level=None)
            try:
                _fill(connection, opening, documents, utc_s)
            finally:
                close(connection)
        if entries:
            with Log(beside, write=True) as log:
                log.append(entries)
        give_name(beside, path)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise CannotLog(f"'{clipped(str(path), 200)}' cannot be written: {reason}") from error
    finally:
        for ending in ("", "-wal", "-shm", "-journal"):
            beside.with_name(beside.name + ending).unlink(missing_ok=True)


def _fill(
    connection: sqlite3.Connection, opening: bytes, documents: Sequence[Stored], utc_s: int
) -> None:
    migrate(connection, utc_text(utc_s))
    prepare(connection)
    connection.execute("BEGIN IMMEDIATE")
    connection.execute("INSERT INTO opening (id, body) VALUES (1, ?)", (opening,))
    connection.executemany(
        "INSERT INTO documents (number, kind, name, sha256, bytes) VALUES (?, ?, ?, ?, ?)",
        [(n, d.kind, d.name, d.sha256, d.raw) for n, d in enumerate(documents)],
    )
    connection.execute("COMMIT")


def give_name(beside: Path, path: Path) -> None:
    """Give the finished file its name, unless that was taken meanwhile."""
    try:
        path.hardlink_to(beside)
    except FileExistsError:
        text = f"'{clipped(str(path), 200)}' exists already and was left as it is"
        raise CannotLog(text) from None
    except OSError:
        beside.rename(path)
