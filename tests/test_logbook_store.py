"""The log as a store: keys without doubles or gaps, nothing changed ever, one file to copy."""

from __future__ import annotations

import multiprocessing
import shutil
import sqlite3
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from asrun_bench import DOCUMENTS, ZERO_S, begin, entry, new_log

from cablewalk.logbook.chain import first_hash, next_hash
from cablewalk.logbook.codec import Unreadable, decode, encode
from cablewalk.logbook.connect import prepare
from cablewalk.logbook.create import create
from cablewalk.logbook.log import Log, Moved
from cablewalk.logbook.schema import MIGRATIONS
from cablewalk.logbook.trouble import CannotLog

ENTRIES = [entry(n) for n in range(2, 30)]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return new_log(tmp_path / "a.log", ENTRIES)


def test_what_is_read_is_what_was_recorded(path: Path) -> None:
    with Log(path) as log:
        reading = log.read()
        assert log.documents == DOCUMENTS
    assert reading.entries == [begin(), *ENTRIES]
    assert not reading.faults
    assert not any(link.fault for link in reading.links)


@pytest.mark.parametrize("number", range(2, 12))
def test_bytes_and_back(number: int) -> None:
    one = replace(
        entry(number), reads="so", text="p\u00e4per \u2013 \u202e \n", witness="w", inspection="i",
        lock_verified=False, cap_fitted=True, corrects=(0, 1), void=True, open_item=True,
        closes=(0, 2), spread=True, began_s=ZERO_S, items=("P1",), step="s1", task=0, left_s=ZERO_S,
    )  # fmt: skip
    assert decode(encode(one)) == one


@pytest.mark.parametrize(
    "body",
    [
        b"", b"{}", b"[]", b"\xff", b'{"event":2}', b"1e999", b"[" * 3000,
        encode(entry(3)).replace(b'"action"', b'"deed"'),
        encode(entry(3)).replace(b'"serial":3', b'"serial":"3"'),
        encode(entry(3)).replace(b'"serial":3', b'"serial":true'),
        encode(entry(3)).replace(b"mate", b"glue"),
        encode(entry(3)).replace(b"T", b" "),
    ],
)  # fmt: skip
def test_what_is_no_entry_is_refused(body: bytes) -> None:
    with pytest.raises(Unreadable):
        decode(body)


# -- keys -------------------------------------------------------------------------------


def insert(path: Path, seq: int, phase: int, serial: int) -> None:
    connection = sqlite3.connect(path)
    try:
        connection.execute(
            "INSERT INTO events (seq, phase, serial, body, hash) VALUES (?, ?, ?, x'00', x'00')",
            (seq, phase, serial),
        )
        connection.commit()
    finally:
        connection.close()


@pytest.mark.parametrize(
    ("seq", "phase", "serial"),
    [(30, 0, 29), (30, 0, 31), (31, 0, 30), (29, 0, 30), (30, 2, 1), (30, 1, 2), (30, 0, 0)],
    ids=["double", "gap", "gap in order", "double in order", "phase skipped", "phase not from 1",
         "zero"],
)  # fmt: skip
def test_the_database_refuses_doubles_and_gaps(
    path: Path, seq: int, phase: int, serial: int
) -> None:
    with pytest.raises(sqlite3.IntegrityError):
        insert(path, seq, phase, serial)


@pytest.mark.parametrize(("seq", "phase", "serial"), [(30, 0, 30), (30, 1, 1)])
def test_the_database_takes_what_comes_next(path: Path, seq: int, phase: int, serial: int) -> None:
    insert(path, seq, phase, serial)


@pytest.mark.parametrize("table", ["events", "documents", "opening"])
@pytest.mark.parametrize(
    "sql", ["DELETE FROM {}", "UPDATE {} SET {} = x'41'"], ids=["delete", "update"]
)
def test_the_database_refuses_changes(path: Path, table: str, sql: str) -> None:
    column = "bytes" if table == "documents" else "body"
    connection = sqlite3.connect(path)
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        connection.execute(sql.format(table, column))
    connection.close()


def test_replacing_is_refused_too(path: Path) -> None:
    connection = sqlite3.connect(path)
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        connection.execute("INSERT OR REPLACE INTO events VALUES (3, 0, 3, x'00', x'00')")
    connection.close()


def test_all_or_none(path: Path) -> None:
    class Stop(Exception):
        pass

    class Bad:
        phase = 0

        def __getattr__(self, name: str) -> object:
            raise Stop

    with Log(path, write=True) as log:
        with pytest.raises((Stop, TypeError)):
            log.append([entry(30), Bad()])  # type: ignore[list-item]
        assert log.read().entries == [begin(), *ENTRIES]
        assert [e.serial for e in log.append([entry(99), entry(99)])] == [30, 31]


# -- one file, durable ------------------------------------------------------------------


def test_the_pragmas_are_those_that_survive_a_power_cut(path: Path) -> None:
    with Log(path, write=True) as log:
        assert log.connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert log.connection.execute("PRAGMA synchronous").fetchone() == (2,)  # 2 is FULL


def test_where_there_is_no_wal_the_journal_is_made_extra_safe() -> None:
    connection = sqlite3.connect(":memory:", isolation_level=None)
    prepare(connection)
    assert connection.execute("PRAGMA synchronous").fetchone() == (3,)  # 3 is EXTRA
    connection.close()


def test_it_closes_into_one_file_that_can_be_copied(path: Path) -> None:
    with Log(path, write=True) as log:
        log.append([entry(30)])
    assert [p.name for p in path.parent.iterdir()] == [path.name]
    copy = Path(shutil.copy(path, path.with_name("copy.log")))
    with Log(copy) as log:
        assert log.read().seq == 30


def test_reading_leaves_nothing_beside_it(path: Path) -> None:
    raw = path.read_bytes()
    with Log(path) as log:
        log.read()
    assert [p.name for p in path.parent.iterdir()] == [path.name]
    assert path.read_bytes() == raw


def test_migrations_are_recorded(path: Path) -> None:
    connection = sqlite3.connect(path)
    rows = connection.execute("SELECT number, name FROM migrations ORDER BY number").fetchall()
    assert rows == [(n + 1, name) for n, (name, _) in enumerate(MIGRATIONS)]
    assert connection.execute("PRAGMA user_version").fetchone() == (len(MIGRATIONS),)
    connection.close()


def test_a_log_is_never_written_over(path: Path) -> None:
    raw = path.read_bytes()
    with pytest.raises(CannotLog, match="exists already"):
        create(path, DOCUMENTS, [begin()], ZERO_S)
    assert path.read_bytes() == raw
    assert [p.name for p in path.parent.iterdir()] == [path.name]


# -- the chain --------------------------------------------------------------------------


def test_the_chain_is_over_the_stored_bytes(path: Path) -> None:
    connection = sqlite3.connect(path)
    (head,) = connection.execute("SELECT body FROM opening").fetchone()
    rows = connection.execute("SELECT body, hash FROM events ORDER BY seq").fetchall()
    connection.close()
    before = first_hash(head)
    for body, digest in rows:
        assert digest == next_hash(before, body)
        before = digest


def tampered(path: Path, sql: str, *values: object) -> list[str]:
    """Return the faults found after a change made behind the guards' back."""
    connection = sqlite3.connect(path)
    for (name,) in connection.execute(
        "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    ).fetchall():
        connection.execute(f"DROP TRIGGER {name}")
    connection.execute(sql, values)
    connection.commit()
    connection.close()
    with Log(path) as log:
        reading = log.read()
    return [*reading.faults, *(link.fault for link in reading.links if link.fault)]


def test_any_edited_byte_of_an_event_is_found(path: Path) -> None:
    original = path.read_bytes()
    connection = sqlite3.connect(path)
    body, digest = connection.execute("SELECT body, hash FROM events WHERE seq = 5").fetchone()
    connection.close()
    for column, raw in (("body", body), ("hash", digest)):
        for at in range(0, len(raw), 3 if column == "body" else 4):
            changed = raw[:at] + bytes([raw[at] ^ 1]) + raw[at + 1 :]
            found = tampered(path, f"UPDATE events SET {column} = ? WHERE seq = 5", changed)
            assert found, f"byte {at} of {column}"
            path.write_bytes(original)


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE events SET serial = 99 WHERE seq = 29",
        "UPDATE events SET phase = 1 WHERE seq = 29",
        "DELETE FROM events WHERE seq = 7",
        "UPDATE opening SET body = CAST(replace(CAST(body AS TEXT), 'bench', 'bunch') AS BLOB)",
        "UPDATE documents SET bytes = CAST(replace(CAST(bytes AS TEXT), '28', '29') AS BLOB)",
        "DELETE FROM documents WHERE number = 1",
        "UPDATE documents SET name = 'other.yaml' WHERE number = 1",
    ],
)
def test_any_other_edit_is_found(path: Path, sql: str) -> None:
    assert tampered(path, sql)


def test_a_cut_tail_shows_only_by_the_head(path: Path) -> None:
    with Log(path) as log:
        head = log.read().head
    assert not tampered(path, "DELETE FROM events WHERE seq = 29"), "no chain can show this"
    with Log(path) as log:
        assert log.read().head != head


# -- several writers --------------------------------------------------------------------


def test_a_moved_head_is_told(path: Path) -> None:
    with Log(path, write=True) as one, Log(path, write=True) as two:
        seen = one.read().seq
        two.append([entry(30, who="two")])
        with pytest.raises(Moved) as moved:
            one.append([entry(31)], seen)
        assert [link.entry.entered_by for link in moved.value.news] == ["two"]
        assert one.append([entry(31)], seen + 1)[0].serial == 31


WRITERS, EACH = 8, 25


def write_some(path: str, name: str, reopen: bool) -> None:
    """Record entries as one of several processes; any error makes its exit code 1."""
    log = Log(Path(path), write=True)
    for n in range(EACH):
        log.append([entry(2 + n, who=name, text=f"{name} {n}")])
        if reopen:
            log.close()
            log = Log(Path(path), write=True)
    log.close()


@pytest.mark.parametrize("reopen", [False, True], ids=["kept open", "opened each time"])
@pytest.mark.skipif(sys.platform == "win32", reason="forks its writers")
@pytest.mark.filterwarnings("ignore:This process .* is multi-threaded:DeprecationWarning")
def test_eight_writers_lose_and_double_nothing(tmp_path: Path, reopen: bool) -> None:
    path = new_log(tmp_path / "a.log")
    fork = multiprocessing.get_context("fork")
    writers = [
        fork.Process(target=write_some, args=(str(path), f"w{n}", reopen)) for n in range(WRITERS)
    ]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join(240)
    assert [writer.exitcode for writer in writers] == [0] * WRITERS, "no error reached a writer"
    with Log(path) as log:
        reading = log.read()
    assert not any(link.fault for link in reading.links)
    said = [e.text for e in reading.entries[1:]]
    assert sorted(said) == sorted(f"w{w} {n}" for w in range(WRITERS) for n in range(EACH))
    for w in range(WRITERS):
        own = [text for text in said if text.startswith(f"w{w} ")]
        assert own == [f"w{w} {n}" for n in range(EACH)], "each writer's entries in their order"
    assert [p.name for p in tmp_path.iterdir()] == ["a.log"]
