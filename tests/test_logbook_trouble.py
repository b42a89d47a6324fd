"""What can befall a log file: a sentence, the original untouched, the readable recovered."""

from __future__ import annotations

import errno
import json
import os
import random
import resource
import signal
import sqlite3
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from asrun_bench import DOCUMENTS, ZERO_S, begin, entry, folded, new_log
from click.testing import CliRunner, Result

from cablewalk.cli import commands
from cablewalk.logbook.log import Log
from cablewalk.logbook.salvage import salvage
from cablewalk.logbook.schema import MIGRATIONS, migrate
from cablewalk.logbook.trouble import CannotLog, Damaged

LINUX = pytest.mark.skipif(sys.platform != "linux", reason="file size limits of Linux")
ENTRIES = [entry(n, text=f"entry {n} " * 4) for n in range(2, 120)]


def asrun(*arguments: object) -> Result:
    result = CliRunner().invoke(commands, ["asrun", *map(str, arguments)], prog_name="cablewalk")
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return new_log(tmp_path / "a.log", ENTRIES)


def a_sentence(result: Result, *words: str) -> None:
    """Assert exit code 2, and one sentence without a traceback that has these words."""
    assert result.exit_code == 2, result.output
    assert "Traceback" not in result.output
    assert result.stderr.startswith("Error: "), result.stderr
    for word in words:
        assert word in result.stderr, result.stderr


# -- full, read-only --------------------------------------------------------------------


def test_a_full_database_is_a_sentence_and_loses_nothing(path: Path) -> None:
    with Log(path, write=True) as log:
        pages = log.connection.execute("PRAGMA page_count").fetchone()[0]
        log.connection.execute(f"PRAGMA max_page_count = {pages + 2}")
        with pytest.raises(CannotLog, match="disk is full"):
            for n in range(200):
                log.append([entry(120 + n, text="x" * 3000)])
        count = log.count()
        log.connection.execute("PRAGMA max_page_count = 100000")
        assert log.append([entry(2)])[0].serial == count + 1, "it goes on once there is room"
    with Log(path) as log:
        assert not any(link.fault for link in log.read().links)


def in_child(deed: Callable[[], str], limit: int) -> str:
    """Return what ``deed`` says in a child process whose files may grow to ``limit`` bytes."""
    reads, writes = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
            os.write(writes, deed().encode())
        finally:
            os._exit(0)
    os.close(writes)
    os.waitpid(child, 0)
    with os.fdopen(reads) as said:
        return said.read()


@LINUX
@pytest.mark.filterwarnings("ignore:This process .* is multi-threaded:DeprecationWarning")
def test_a_disk_that_refuses_is_a_sentence_and_loses_nothing(path: Path) -> None:
    def deed() -> str:
        with Log(path, write=True) as log:
            for n in range(100):
                try:
                    log.append([entry(200 + n, text="y" * 2000)])
                except CannotLog as problem:
                    return f"{n} {problem}"
        return "it was never refused"

    said = in_child(deed, path.stat().st_size + 20_000)
    added, _, sentence = said.partition(" ")
    assert "not recorded" in sentence or "nothing was recorded" in sentence, said
    with Log(path) as log:
        reading = log.read()
    assert reading.seq == 119 + int(added), "what was acknowledged is there, and no more"
    assert not any(link.fault for link in reading.links)


@LINUX
@pytest.mark.filterwarnings("ignore:This process .* is multi-threaded:DeprecationWarning")
def test_a_log_that_cannot_be_begun_leaves_nothing(tmp_path: Path) -> None:
    def deed() -> str:
        try:
            new_log(tmp_path / "b.log")
        except CannotLog as problem:
            return str(problem)
        return "it was made"

    said = in_child(deed, 9000)
    assert "b.log" in said and "made" not in said
    assert list(tmp_path.iterdir()) == []


def test_read_only(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    raw = path.read_bytes()
    connection = sqlite3.connect

    def read_only(name: object, **rest: object) -> sqlite3.Connection:
        # A superuser writes where file modes forbid it, so SQLite itself is told.
        return connection(str(name).replace("mode=rw", "mode=ro"), **rest)  # type: ignore[call-overload, no-any-return]

    monkeypatch.setattr(sqlite3, "connect", read_only)
    a_sentence(asrun("do", path, "s1", "--pet", "9:00"), "read-only", "nothing was recorded")
    monkeypatch.undo()
    assert path.read_bytes() == raw
    assert asrun("now", path).exit_code in (0, 1)


def test_a_folder_that_cannot_be_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(self: Path, target: object) -> None:
        raise OSError(errno.EROFS, "Read-only file system")

    monkeypatch.setattr(Path, "hardlink_to", refuse)
    monkeypatch.setattr(Path, "rename", refuse)
    with pytest.raises(CannotLog, match="read-only file system"):
        new_log(tmp_path / "b.log")
    assert list(tmp_path.iterdir()) == []


def test_a_read_only_disk_refuses_the_tidying_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a disk mounted read-only, taking away a file that is not there fails as well."""

    def refuse(self: Path, missing_ok: bool = False) -> None:
        raise OSError(errno.EROFS, "Read-only file system")

    def closed(*_: object, **__: object) -> None:
        raise sqlite3.OperationalError("unable to open database file")

    monkeypatch.setattr(Path, "unlink", refuse)
    monkeypatch.setattr(sqlite3, "connect", closed)
    with pytest.raises(CannotLog, match=r"cannot be opened: check .* the rights on the folder"):
        new_log(tmp_path / "b.log")


# -- what is no log, or of another time ---------------------------------------------------


def test_missing(tmp_path: Path) -> None:
    a_sentence(asrun("now", tmp_path / "none.log"), "is not there", "asrun open")
    a_sentence(asrun("now", tmp_path), "is no file")


@pytest.mark.parametrize("raw", [b"", b"hello\n" * 400, os.urandom(9000)])
def test_not_a_log(tmp_path: Path, raw: bytes) -> None:
    path = tmp_path / "a.log"
    path.write_bytes(raw)
    for arguments in (("now", path), ("do", path, "s1")):
        a_sentence(asrun(*arguments), "no log of cablewalk")
        assert path.read_bytes() == raw


def test_another_database(tmp_path: Path) -> None:
    path = tmp_path / "a.log"
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE events (a)")
    connection.commit()
    connection.close()
    a_sentence(asrun("now", path), "no log of cablewalk")


def set_schema(path: Path, number: int) -> None:
    connection = sqlite3.connect(path)
    connection.execute(f"PRAGMA user_version = {number}")
    connection.commit()
    connection.close()


def test_a_newer_schema(path: Path) -> None:
    set_schema(path, len(MIGRATIONS) + 1)
    raw = path.read_bytes()
    for arguments in (("now", path), ("do", path, "s1"), ("check", path)):
        a_sentence(asrun(*arguments), "newer cablewalk", "left as it is")
    a_sentence(asrun("upgrade", path, path.with_name("b.log")), "newer cablewalk")
    assert path.read_bytes() == raw


def old_log(path: Path) -> Path:
    """Return a log as the schema before the guards had it."""
    connection = sqlite3.connect(path, isolation_level=None)
    migrate(connection, "2031-01-01T00:00:00Z", upto=1)
    connection.close()
    full = new_log(path.with_name("full.log"), ENTRIES)
    connection = sqlite3.connect(path)
    connection.execute("ATTACH ? AS full", (str(full),))
    for table in ("opening", "documents", "events"):
        connection.execute(f"INSERT INTO {table} SELECT * FROM full.{table}")
    connection.commit()
    connection.close()
    full.unlink()
    return path


def test_an_older_schema_is_upgraded_into_a_copy(tmp_path: Path) -> None:
    path, new = old_log(tmp_path / "old.log"), tmp_path / "new.log"
    raw = path.read_bytes()
    for arguments in (("now", path), ("do", path, "s1")):
        a_sentence(asrun(*arguments), "older cablewalk", "asrun upgrade")
    assert asrun("upgrade", path, new).exit_code == 0
    assert path.read_bytes() == raw
    with Log(new) as log:
        assert log.read().entries == [begin(), *ENTRIES]
    connection = sqlite3.connect(new)
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        connection.execute("DELETE FROM events")
    connection.close()
    a_sentence(asrun("upgrade", new, tmp_path / "c.log"), "nothing to do")
    a_sentence(asrun("upgrade", path, new), "exists already")


def test_a_migration_and_its_record_are_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(db: object) -> None:
        db.execute("CREATE TABLE half (a)")  # type: ignore[attr-defined]
        raise sqlite3.OperationalError("stop")

    connection = sqlite3.connect(tmp_path / "a", isolation_level=None)
    monkeypatch.setattr("cablewalk.logbook.schema.MIGRATIONS", (*MIGRATIONS[:1], ("x", fails)))
    with pytest.raises(sqlite3.OperationalError, match="stop"):
        migrate(connection, "2031-01-01T00:00:00Z", upto=2)
    assert connection.execute("PRAGMA user_version").fetchone() == (1,)
    assert connection.execute("SELECT count(*) FROM migrations").fetchone() == (1,)
    assert not connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'half'").fetchall()
    connection.close()


# -- damage, and what is recovered --------------------------------------------------------


def page_of(path: Path, what: bytes) -> tuple[int, int]:
    """Return page size and the number, from 0, of the page in which these bytes stand."""
    raw = path.read_bytes()
    size = int.from_bytes(raw[16:18], "big")
    return size, raw.index(what) // size


def smash(path: Path, page: int, size: int, seed: int = 1) -> None:
    raw = bytearray(path.read_bytes())
    raw[page * size : (page + 1) * size] = random.Random(seed).randbytes(size)
    path.write_bytes(raw)


def test_a_corrupt_page_is_a_sentence_and_the_rest_is_recovered(path: Path) -> None:
    size, page = page_of(path, b'"serial":60,')
    smash(path, page, size)
    raw = path.read_bytes()
    result = asrun("now", path)
    a_sentence(result, "damaged", "asrun salvage")
    a_sentence(asrun("check", path), "damaged")
    assert path.read_bytes() == raw
    new = path.with_name("new.log")
    said = asrun("salvage", path, new)
    assert said.exit_code == 1, "something is lost"
    assert path.read_bytes() == raw, "the original is only read"
    with Log(new) as log:
        reading = log.read()
        assert log.documents == DOCUMENTS
    recovered = [e for e in reading.entries if e.kind != "lost"]
    missing = [e.serial for e in reading.entries if e.kind == "lost"]
    everything = {e.serial: e for e in (begin(), *ENTRIES)}
    assert all(everything[e.serial] == e for e in recovered)
    assert 0 < len(missing) < 30 and 60 in missing
    assert len(recovered) + len(missing) == len(everything)
    assert not any(link.fault for link in reading.links), "the new log has a sound chain"
    rules = {f.rule for f in folded(reading.entries).findings}
    assert "entry-lost" in rules
    now = json.loads(asrun("now", new, "--json").stdout)
    assert now["log"]["events"] == len(everything)


def test_nothing_is_written_into_a_log_with_a_damaged_page(path: Path) -> None:
    size, page = page_of(path, b'"serial":60,')
    smash(path, page, size)
    raw = path.read_bytes()
    a_sentence(asrun("do", path, "s1"), "damaged", "asrun salvage")
    a_sentence(asrun("note", path, "x"), "damaged", "asrun salvage")
    assert path.read_bytes() == raw, "byte for byte, its header too"
    assert [p.name for p in path.parent.iterdir()] == [path.name]


def test_nothing_is_written_into_a_log_whose_chain_is_broken(path: Path) -> None:
    raw = path.read_bytes()
    assert raw.count(b"entry 40 ") == 4
    edited = raw.replace(b"entry 40 ", b"entry 4O ", 1)
    path.write_bytes(edited)
    said = asrun("do", path, "s1")
    a_sentence(said, "chain of hashes is broken at log 1.40", "asrun check", "asrun salvage")
    assert path.read_bytes() == edited
    assert asrun("now", path).exit_code == 1, "it can still be read, and says so"


@pytest.mark.parametrize(
    ("change", "exit_code", "word"),
    [
        ("events SET body = 'words' WHERE seq = 7", 1, "log 1.7: its bytes cannot be read"),
        ("events SET hash = 5 WHERE seq = 7", 1, "log 1.7: its bytes, or its hash"),
        ("events SET phase = 'x' WHERE seq = 7", 2, "is damaged"),
        ("opening SET body = 'words'", 2, "is damaged"),
        ("documents SET bytes = 3000000000 WHERE number = 1", 2, "cannot be used"),
        ("documents SET name = 3 WHERE number = 1", 1, "the document swap.yaml is not"),
    ],
)
def test_a_value_of_another_type_is_no_traceback(
    path: Path, change: str, exit_code: int, word: str
) -> None:
    """SQLite hands out what stands in a damaged page, whatever the column was declared as."""
    connection = sqlite3.connect(path)
    names = connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for (name,) in names:
        connection.execute(f"DROP TRIGGER {name}")
    connection.execute(f"UPDATE {change}")
    connection.commit()
    connection.close()
    raw = path.read_bytes()
    now = asrun("now", path)
    assert now.exit_code == exit_code, now.output
    told = now.output if exit_code == 2 else asrun("check", path).output
    assert word in told
    assert asrun("note", path, "a word").exit_code == 2
    assert path.read_bytes() == raw
    documents = [path.with_name(document.name) for document in DOCUMENTS]
    for document, name in zip(DOCUMENTS, documents, strict=True):
        name.write_bytes(document.raw)
    assert asrun("salvage", path, path.with_name("b.log"), *documents).exit_code in (0, 1)


def test_entries_without_an_index_to_them_are_found_in_the_bytes(path: Path) -> None:
    connection = sqlite3.connect(path)
    (root,) = connection.execute(
        "SELECT rootpage FROM sqlite_master WHERE name='events'"
    ).fetchone()
    connection.close()
    size, _ = page_of(path, b"event")
    smash(path, root - 1, size)
    result = salvage(path, path.with_name("new.log"), [], ZERO_S)
    assert result.carved == len(ENTRIES) + 1
    assert not result.missing and not result.unproven
    with Log(path.with_name("new.log")) as log:
        assert log.read().entries == [begin(), *ENTRIES]


def test_a_truncated_file(path: Path) -> None:
    raw = path.read_bytes()
    path.write_bytes(raw[: len(raw) * 2 // 3])
    cut = path.read_bytes()
    a_sentence(asrun("now", path), "damaged", "asrun salvage")
    new = path.with_name("new.log")
    said = asrun("salvage", path, new)
    assert said.exit_code == 1
    assert f"was cut off, {len(raw) - len(cut):,} B by its header: later entries" in said.stdout
    assert path.read_bytes() == cut
    assert "that is known of" not in said.stdout
    with Log(new) as log:
        recovered = [e for e in log.read().entries if e.kind != "lost"]
    assert len(recovered) > len(ENTRIES) // 3
    last = log_numbers(new)[-1]
    for name in ("now", "forecast", "compare", "connectors"):
        told = asrun(name, new)
        assert told.exit_code == 1, name
        assert "cut off the end of" in " ".join(told.stdout.split()), name
    handed = asrun("handover", new, path.with_name("left.yaml"))
    assert handed.exit_code == 1 and f"log {last} could not be read: it and" in handed.stdout
    # A salvage of the salvaged log forgets it no more than the log does.
    newer = path.with_name("newer.log")
    asrun("salvage", new, newer)
    for log_file in (new, newer):
        assert f"FAULT  log {last}: it is lost: it and any later ones" in faults_told(log_file)
    settled = asrun("correct", newer, last, "--void", "-m", "ann wrote nothing after that")
    assert settled.exit_code == 0, settled.output
    assert f"FAULT  log {last}" not in faults_told(newer)


def faults_told(path: Path) -> str:
    said = asrun("check", path)
    assert said.exit_code in (0, 1)
    return said.stdout


def log_numbers(path: Path) -> list[str]:
    with Log(path) as log:
        return [f"{e.phase + 1}.{e.serial}" for e in log.read().entries]


def test_a_file_cut_behind_all_that_can_be_read_may_have_held_more(path: Path) -> None:
    """Nothing that is known of is lost, and yet nobody can tell: that is told, and no success."""
    raw = path.read_bytes()
    whole = asrun("salvage", path, path.with_name("whole.log"))
    assert whole.exit_code == 0 and "cut off" not in whole.stdout
    path.write_bytes(raw[:-1])
    new = path.with_name("new.log")
    now, checked = asrun("now", path), asrun("check", path)
    assert now.exit_code == 1 and checked.exit_code in (1, 2), "both hold it to be damaged"
    assert "THE LOG IS DAMAGED: its end was cut off, 1 B by" in " ".join(now.stdout.split())
    a_sentence(asrun("note", path, "x"), "damaged", "asrun salvage")
    said = asrun("salvage", path, new)
    assert said.exit_code == 1 and "cut off, 1 B by its header" in said.stdout
    assert "lost: none" not in said.stdout
    with Log(new) as log:
        assert b"its end cut off" in log.opening
    last = log_numbers(new)[-1]
    checked = asrun("check", new)
    assert checked.exit_code == 1 and f"FAULT  log {last}: it is lost" in checked.stdout
    done = asrun("correct", new, last, "--void", "-m", "everybody has said what he wrote")
    assert done.exit_code == 0, done.output
    checked = asrun("check", new)
    assert f"FAULT  log {last}" not in checked.stdout
    assert f"SETTLED  log {last}: it is lost" in checked.stdout
    assert "entry-lost" in asrun("now", new).stdout, "a warning from then on"


def test_a_smashed_first_page_needs_the_documents_again(path: Path, tmp_path: Path) -> None:
    size, _ = page_of(path, b"event")
    smash(path, 0, size)
    a_sentence(asrun("now", path), "no log of cablewalk")
    new = path.with_name("new.log")
    names = []
    for document in DOCUMENTS:
        (tmp_path / document.name).write_bytes(document.raw)
        names.append(tmp_path / document.name)
    a_sentence(asrun("salvage", path, new), "give the baseline and the procedures")
    (tmp_path / "wrong.yaml").write_bytes(DOCUMENTS[0].raw + b"# other\n")
    a_sentence(asrun("salvage", path, new, tmp_path / "wrong.yaml", names[1]), "not those")
    assert asrun("salvage", path, new, *names).exit_code == 0
    with Log(new) as log:
        assert log.read().entries == [begin(), *ENTRIES]


def test_the_beginning_of_a_phase_is_worked_out_from_the_rest(path: Path) -> None:
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("DROP TRIGGER events_no_update")
    connection.execute("UPDATE events SET body = x'00' WHERE seq = 1")
    connection.execute("VACUUM")
    connection.close()
    result = salvage(path, path.with_name("new.log"), [], ZERO_S)
    assert result.rebuilt == [(0, 1)]
    with Log(path.with_name("new.log")) as log:
        first = log.read().entries[0]
    assert (first.kind, first.utc_s) == ("begin", ZERO_S)


def test_an_edited_event_stays_doubtful_in_the_salvaged_log(path: Path) -> None:
    path.write_bytes(path.read_bytes().replace(b"entry 40 ", b"entry 4O ", 1))
    new, newer = path.with_name("new.log"), path.with_name("newer.log")
    said = asrun("salvage", path, new)
    assert said.exit_code == 1 and "not proved by the chain of hashes: 1.40" in said.stdout
    told = "its hash in a.log is not that of these bytes"
    for name in ("check", "now", "export"):
        result = asrun(name, new, *(("--format", "json") if name == "export" else ()))
        assert told in " ".join(result.stdout.split()), name
        assert (result.exit_code == 1) is (name != "export")
    handed = asrun("handover", new, path.with_name("left.yaml"))
    assert "log 1.40 was salvaged unproved" in handed.stdout and handed.exit_code == 1
    (row,) = [r for r in asrun("export", new).stdout.splitlines() if "entry 4O" in r]
    assert told in row, "in CSV too"
    assert asrun("salvage", new, newer).exit_code == 0, "its own chain is sound"
    assert told in asrun("check", newer).stdout, "and it is still doubtful"
    corrected = asrun("correct", new, "1.40", "--outcome", "done", "-m", "so it was")
    assert corrected.exit_code == 0, corrected.output
    with Log(new) as log:
        entries = log.read().entries
    assert [e.serial for e in entries if e.doubt] == [40], "a correction is proved"


def test_the_first_event_and_corrections_of_an_earlier_phase_are_proved(tmp_path: Path) -> None:
    """The chain follows the order of recording, not that of phases."""
    later = [replace(begin(), phase=1), replace(entry(2), corrects=(0, 2), text="look"), entry(4)]
    path = new_log(tmp_path / "a.log", [entry(2), *later])
    result = salvage(path, tmp_path / "b.log", [], ZERO_S)
    assert [e.key for e in result.entries] == [(0, 1), (0, 2), (0, 3), (0, 4), (1, 1)]
    assert not result.unproven
    raw = path.read_bytes()
    path.write_bytes(raw.replace(b'"kind":"begin","utc":"2', b'"kind":"begin","utc":"3'))
    assert salvage(path, tmp_path / "c.log", [], ZERO_S).unproven == [(0, 1), (1, 1)]


def test_nothing_to_recover(tmp_path: Path) -> None:
    path = tmp_path / "a.log"
    path.write_bytes(os.urandom(20_000))
    with pytest.raises(Damaged, match="no entry of a log"):
        salvage(path, tmp_path / "b.log", [], ZERO_S)


@pytest.mark.parametrize("seed", range(12))
def test_whatever_is_smashed_is_a_sentence_or_a_report(path: Path, seed: int) -> None:
    dice = random.Random(seed)
    raw = bytearray(path.read_bytes())
    for _ in range(dice.choice((1, 5, 400))):
        raw[dice.randrange(len(raw))] = dice.randrange(256)
    path.write_bytes(raw)
    for arguments in (("now", path), ("check", path), ("export", path)):
        result = asrun(*arguments)
        assert result.exit_code in (0, 1, 2)
        assert "Traceback" not in result.output
    assert path.read_bytes() == raw, "reading never writes"
    assert asrun("salvage", path, path.with_name("new.log")).exit_code in (0, 1, 2)
    assert path.read_bytes() == raw


# -- settled ----------------------------------------------------------------------------


def rules_of(path: Path, rule: str) -> list[dict[str, object]]:
    findings = json.loads(asrun("now", path, "--json").stdout)["findings"]
    return [f for f in findings if f["rule"] == rule]


def test_a_doubtful_entry_that_was_confirmed_is_no_fault(path: Path) -> None:
    path.write_bytes(path.read_bytes().replace(b"entry 40 ", b"entry 4O ", 1))
    new, newer = path.with_name("new.log"), path.with_name("newer.log")
    asrun("salvage", path, new)
    before = asrun("check", new)
    assert before.exit_code == 1 and "FAULT  log 1.40: it was salvaged unproved" in before.stdout
    (row,) = rules_of(new, "entry-unproved")
    assert (row["file"], row["line"], row["step"]) == (str(new), None, "log 1.40")
    assert asrun("correct", new, "1.39", "-m", "so it was").exit_code == 2, "nothing to confirm"
    confirmed = asrun("correct", new, "1.40", "-m", "so it was, says ada")
    assert confirmed.exit_code == 0, confirmed.output
    after = asrun("check", new)
    assert after.exit_code == 0, after.stdout
    assert "FAULT" not in after.stdout
    assert "SETTLED  log 1.40" in after.stdout and "corrected by 1.120" in after.stdout
    (row,) = rules_of(new, "entry-unproved")
    assert row["severity"] == "warning"
    # A second salvage keeps what was confirmed.
    asrun("salvage", new, newer)
    assert asrun("check", newer).exit_code == 0


def test_a_doubtful_correction_is_settled_by_the_next(tmp_path: Path) -> None:
    doubtful = replace(entry(3), corrects=(0, 2), text="look", doubt="edited")
    log = new_log(tmp_path / "b.log", [entry(2), doubtful])
    assert "FAULT  log 1.3" in asrun("check", log).stdout
    assert asrun("correct", log, "1.3", "-m", "so it was").exit_code == 0
    assert asrun("check", log).exit_code == 0
    (row,) = rules_of(log, "entry-unproved")
    assert (row["step"], row["severity"]) == ("log 1.3", "warning")


def test_a_lost_entry_is_settled_by_recording_it_anew_and_taking_it_back(path: Path) -> None:
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("DROP TRIGGER events_no_update")
    connection.execute("UPDATE events SET body = x'00' WHERE seq = 40")
    connection.execute("VACUUM")
    connection.close()
    new = path.with_name("new.log")
    assert asrun("salvage", path, new).exit_code == 1
    (row,) = rules_of(new, "entry-lost")
    assert (row["file"], row["step"], row["severity"]) == (str(new), "log 1.40", "error")
    assert "asrun correct 1.40 --void" in str(row["way_out"])
    refused = asrun("correct", new, "1.40", "--action", "inspect J1", "-m", "x")
    a_sentence(refused, "nothing of log 1.40 could be read", "asrun also")
    also = ("inspect J1", "--who", "ada", "--pet", "0:40", "--by", "t")
    assert asrun("also", new, *also).exit_code in (0, 1)
    settled = asrun("correct", new, "1.40", "--void", "-m", "recorded anew as 1.120")
    assert settled.exit_code == 0, settled.output
    assert "never happened" not in settled.stdout
    (row,) = rules_of(new, "entry-lost")
    assert row["severity"] == "warning", "once: the correction is no lost entry itself"
    checked = asrun("check", new)
    assert checked.exit_code == 0 and "SETTLED  log 1.40: it is lost" in checked.stdout
    assert "takes back 1.40, which could not be read" in " ".join(asrun("now", new).stdout.split())
