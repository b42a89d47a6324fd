"""The tables of a log, made by migrations that each record themselves as they are made."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from sqlite_utils import Database

APPLICATION_ID: Final = 0x43574C47
"""Marks a SQLite file as a log of cablewalk: the letters CWLG."""


def _tables(db: Database) -> None:
    db.table("opening").create({"id": int, "body": bytes}, pk="id", not_null={"body"})
    db.table("documents").create(
        {"number": int, "kind": str, "name": str, "sha256": str, "bytes": bytes},
        pk="number",
        not_null={"kind", "name", "sha256", "bytes"},
    )
    # The hash stands right after the body: salvage finds it there in a damaged file.
    db.table("events").create(
        {"seq": int, "phase": int, "serial": int, "body": bytes, "hash": bytes},
        pk="seq",
        not_null={"phase", "serial", "body", "hash"},
    )
    db.table("events").create_index(["phase", "serial"], "events_key", unique=True)


def _guards(db: Database) -> None:
    """Refuse gaps, changes and removals, whoever writes."""
    refuse = "SELECT RAISE(ABORT, 'append-only: {}')"
    db.execute(
        f"""CREATE TRIGGER events_in_order BEFORE INSERT ON events
        WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM events)
          OR NEW.serial IS NOT
             (SELECT coalesce(max(serial), 0) + 1 FROM events WHERE phase = NEW.phase)
          OR (NEW.serial = 1 AND NEW.phase <> 0
              AND NOT EXISTS (SELECT 1 FROM events WHERE phase = NEW.phase - 1))
        BEGIN {refuse.format("an event out of order")}; END"""
    )
    for table in ("opening", "documents", "events"):
        for verb in ("UPDATE", "DELETE"):
            db.execute(
                f"""CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table}
                BEGIN {refuse.format(f"no {verb.lower()}")}; END"""
            )


MIGRATIONS: Final[tuple[tuple[str, Callable[[Database], None]], ...]] = (
    ("tables", _tables),
    ("guards", _guards),
)
"""Name and deed of each migration; a log's schema number counts those it has had."""


def database(connection: sqlite3.Connection) -> Database:
    """Return the library's view of a connection."""
    from sqlite_utils import Database

    return Database(connection, recursive_triggers=True, execute_plugins=False)


def migrate(connection: sqlite3.Connection, utc: str, upto: int = len(MIGRATIONS)) -> None:
    """Bring a log to schema ``upto``, each migration with its record in one transaction."""
    db = database(connection)
    while (number := version(connection)) < upto:
        name, deed = MIGRATIONS[number]
        connection.execute("BEGIN IMMEDIATE")
        try:
            if number == 0:
                connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                db.table("migrations").create({"number": int, "name": str, "utc": str}, pk="number")
            deed(db)
            db.table("migrations").insert({"number": number + 1, "name": name, "utc": utc})
            connection.execute(f"PRAGMA user_version = {number + 1}")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise
        connection.execute("COMMIT")


def version(connection: sqlite3.Connection) -> int:
    """Return the schema number of a log."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def is_log(connection: sqlite3.Connection) -> bool:
    """Return whether the file says of itself that it is a log of cablewalk."""
    return bool(connection.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID)
