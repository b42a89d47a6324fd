"""Connections to a log file: how it is opened, and closed into one file again."""

from __future__ import annotations

import sqlite3
import time
from pathlib import Path
from typing import Final

from cablewalk.files.wording import clipped
from cablewalk.logbook.schema import MIGRATIONS, is_log, version
from cablewalk.logbook.trouble import WAIT_S, CannotLog, sentences

BESIDE: Final = ("-wal", "-journal")
"""Endings of the journals that lie beside a log somebody writes to."""
HEADER_BYTES: Final = 100
_MAGIC: Final = b"SQLite format 3\0"
_LONGEST: Final = 1 << 32
"""Bytes no log has: a header that says more is damaged itself."""


def connect(path: Path, write: bool) -> sqlite3.Connection:
    """Return a connection to a log that is there, in the schema of this program.

    Raises:
        CannotLog: the file is missing, no log, of another schema, or cannot be opened so.
    """
    if not path.is_file():
        what = "is no file" if path.exists() else "is not there"
        raise CannotLog(f"'{clipped(str(path), 200)}' {what}: 'cablewalk asrun open' begins a log")
    with sentences(path):
        connection = _open(path, "rw" if write else "ro")
        try:
            _check(connection, path)
            if write:
                prepare(connection)
        except BaseException:
            connection.close()
            raise
    return connection


def _open(path: Path, mode: str) -> sqlite3.Connection:
    try:
        return _asked(f"{path.absolute().as_uri()}?mode={mode}")
    except sqlite3.OperationalError:
        # In a folder that cannot be written, a log left in WAL mode opens only as it lies there.
        if mode == "rw" or path.with_name(path.name + "-wal").exists():
            raise
        return _asked(f"{path.absolute().as_uri()}?immutable=1")


def _asked(uri: str) -> sqlite3.Connection:
    """Return a connection that has answered once."""
    connection = sqlite3.connect(uri, uri=True, timeout=WAIT_S, isolation_level=None)
    try:
        connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except BaseException:
        connection.close()
        raise
    return connection


def _check(connection: sqlite3.Connection, path: Path) -> None:
    name = f"'{clipped(str(path), 200)}'"
    if not is_log(connection):
        raise CannotLog(
            f"{name} is no log of cablewalk, or nothing is left in it: it was left as it is; look "
            "at the name, or begin a log with 'cablewalk asrun open'"
        )
    found = version(connection)
    if found > len(MIGRATIONS):
        raise CannotLog(
            f"{name} was written by a newer cablewalk (schema {found}, this program knows "
            f"{len(MIGRATIONS)}): it was left as it is; use the newer cablewalk"
        )
    if found < len(MIGRATIONS):
        raise CannotLog(
            f"{name} was written by an older cablewalk (schema {found} of {len(MIGRATIONS)}): it "
            "was left as it is; 'cablewalk asrun upgrade' makes a copy this program can use"
        )


def whole_bytes(head: bytes) -> int:
    """Return how many bytes a file has by its header; 0 where that tells no length there can be.

    The page size stands at byte 16, the number of pages at byte 28 (SQLite file format, 1.3).
    """
    if len(head) < HEADER_BYTES or not head.startswith(_MAGIC):
        return 0
    size = int.from_bytes(head[16:18], "big")
    whole = (65536 if size == 1 else size) * int.from_bytes(head[28:32], "big")
    return whole if whole < _LONGEST else 0


def cut_bytes(path: Path) -> int:
    """Return how many bytes are missing at the end of a log that nobody is writing to.

    SQLite reads a file cut within its last page as if it were whole. What cannot be read at all,
    it tells itself. Others may write meanwhile: they write the header before the pages, and remove
    their journal when all are written; no log ever becomes shorter. So a file that has no journal,
    and is missing the same before and after that was seen, was missing it at that moment too.
    """
    before = _lengths(path)
    if not before[0] or any(path.with_name(path.name + end).exists() for end in BESIDE):
        return 0
    after = _lengths(path)
    return max(0, after[0] - after[1]) if after == before else 0


def _lengths(path: Path) -> tuple[int, int]:
    """Return how many bytes a file has by its header, and how many it has."""
    try:
        with path.open("rb") as file:
            return whole_bytes(file.read(HEADER_BYTES)), path.stat().st_size
    except OSError:
        return 0, 0


def prepare(connection: sqlite3.Connection) -> None:
    """Set what makes every commit durable, waiting for others where they switch it just now."""
    until = time.monotonic() + WAIT_S
    while True:
        try:
            mode = connection.execute("PRAGMA journal_mode = WAL").fetchone()[0]
            break
        except sqlite3.OperationalError as error:
            # Switching the journal does not wait for others by itself.
            if "locked" not in str(error) or time.monotonic() > until:
                raise
            time.sleep(0.01)
    # Where the disk cannot do WAL, the rollback journal needs EXTRA to survive a power cut.
    connection.execute(f"PRAGMA synchronous = {'FULL' if mode == 'wal' else 'EXTRA'}")


def close(connection: sqlite3.Connection) -> None:
    """Close a writer, and leave one file that can be copied where no other holds the log."""
    try:
        connection.execute("PRAGMA busy_timeout = 0")
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        connection.execute("PRAGMA journal_mode = DELETE")
    except sqlite3.Error:
        pass  # another has it open, or the disk refuses: every commit is safe in the WAL file
    finally:
        connection.close()
