"""Beginning a log: a file that appears whole or not at all."""

from __future__ import annotations

import secrets
import sqlite3
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from cablewalk import __version__
from cablewalk.files.wording import clipped
from cablewalk.logbook.chain import opening_bytes
from cablewalk.logbook.codec import utc_text
from cablewalk.logbook.connect import close, prepare
from cablewalk.logbook.log import Log, Stored
from cablewalk.logbook.schema import migrate
from cablewalk.logbook.trouble import CannotLog, sentences
from cablewalk.walk.asrun_entry import Entry


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
        tidy(beside)


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


def tidy(beside: Path) -> None:
    """Take away what is left of a file that did not get its name."""
    for ending in ("", "-wal", "-shm", "-journal"):
        with suppress(OSError):  # a disk mounted read-only refuses even where nothing is there
            beside.with_name(beside.name + ending).unlink(missing_ok=True)


def give_name(beside: Path, path: Path) -> None:
    """Give the finished file its name, unless that was taken meanwhile."""
    try:
        path.hardlink_to(beside)
    except FileExistsError:
        text = f"'{clipped(str(path), 200)}' exists already and was left as it is"
        raise CannotLog(text) from None
    except OSError:
        beside.rename(path)
