"""Recovering what is readable of a damaged log, into a new one; the original is only read."""

from __future__ import annotations

import hashlib
import json
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from cablewalk.files.wording import clipped
from cablewalk.logbook.chain import as_bytes, first_hash, lost, next_hash
from cablewalk.logbook.codec import PREFIX, Unreadable, decode
from cablewalk.logbook.connect import BESIDE, HEADER_BYTES, whole_bytes
from cablewalk.logbook.create import create
from cablewalk.logbook.log import Stored
from cablewalk.logbook.trouble import CannotLog, Damaged
from cablewalk.walk.asrun_entry import Entry, Key

_OPENING = b'{"log":"'
_HASH_BYTES = 32


@dataclass(slots=True)
class Salvaged:
    """What was recovered."""

    entries: list[Entry] = field(default_factory=list)
    missing: list[Key] = field(default_factory=list)
    """Entries of which nothing could be read; they stand as ``lost`` in the new log."""
    rebuilt: list[Key] = field(default_factory=list)
    """Beginnings of phases worked out from the times of other entries."""
    carved: int = 0
    """Entries that only a search through the file's bytes brought up."""
    unproven: list[Key] = field(default_factory=list)
    """Entries whose link to the one before could not be proved by their hashes."""
    cut_bytes: int = 0
    """How many bytes its header says the file had more: later entries may have stood there.

    One entry, the last, stands as ``lost`` for whatever they held, until a correction settles it.
    """


@dataclass(slots=True)
class _Remains:
    opening: bytes = b""
    documents: list[Stored] = field(default_factory=list)
    bodies: dict[Key, tuple[bytes, bytes]] = field(default_factory=dict)
    """Entry to its bytes and its hash."""


def salvage(path: Path, target: Path, documents: Sequence[Stored], utc_s: int) -> Salvaged:
    """Write a new log with all that can be read of a damaged one.

    Args:
        path: the damaged log; it is only read.
        target: the new log; it must not be there yet.
        documents: the baseline and procedures, for where those in the log cannot be read.
        utc_s: now.

    Raises:
        Damaged: nothing can be recovered, or the documents are needed.
        CannotLog: a file cannot be read or written.
    """
    try:
        raw = path.read_bytes()
        wal = path.with_name(path.name + "-wal")
        more = wal.read_bytes() if wal.is_file() else b""
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise CannotLog(f"'{clipped(str(path), 200)}' cannot be read: {reason}") from error
    remains = _by_sql(path)
    result = Salvaged()
    for body, digest in (*_carve(raw), *_carve(more)):
        key = decode(body).key
        if key not in remains.bodies:
            remains.bodies[key] = (body, digest)
            result.carved += 1
    remains.opening = remains.opening or _carved_opening(raw)
    if not remains.bodies:
        raise Damaged(
            f"'{clipped(str(path), 200)}': no entry of a log can be found in it; "
            "look for a copy of it, or for the last as-left baseline handed over"
        )
    kept = _documents(remains, documents)
    _fill(remains, result, path.name)
    result.cut_bytes = max(0, whole_bytes(raw[:HEADER_BYTES]) - len(raw))
    origin = f"{path.name} sha256 {hashlib.sha256(raw).hexdigest()}"
    if result.cut_bytes:
        origin += f", its end cut off: {result.cut_bytes} bytes are missing"
        result.entries.append(_cut_off(result, path.name))
    create(target, kept, result.entries, utc_s, origin)
    return result


def _by_sql(path: Path) -> _Remains:
    """Read what SQLite still reads, from a copy: a journal beside the file belongs to it."""
    remains = _Remains()
    with tempfile.TemporaryDirectory(prefix="cablewalk-") as folder:
        copy = Path(folder) / "log"
        shutil.copyfile(path, copy)
        _padded(copy)
        for ending in BESIDE:
            beside = path.with_name(path.name + ending)
            if beside.is_file():
                shutil.copyfile(beside, copy.with_name(copy.name + ending))
        connection = sqlite3.connect(copy, isolation_level=None)
        try:
            opening = _try(connection, "SELECT body FROM opening WHERE id = 1")
            remains.opening = as_bytes(opening[0]) if opening else b""
            number = 0
            sql = "SELECT kind, name, bytes FROM documents WHERE number = ?"
            while row := _try(connection, sql, number):
                remains.documents.append(Stored(row[0], str(row[1]), as_bytes(row[2])))
                number += 1
            for body, digest in _events(connection):
                remains.bodies[decode(body).key] = (body, digest)
        finally:
            connection.close()
    return remains


def _padded(path: Path) -> None:
    """Give a cut file the length its header says: SQLite reads nothing of it else."""
    with path.open("r+b") as file:
        whole = whole_bytes(file.read(HEADER_BYTES))
        if path.stat().st_size < whole:
            file.truncate(whole)


def _events(connection: sqlite3.Connection) -> Iterator[tuple[bytes, bytes]]:
    """Yield the events SQLite can read, each asked for by itself."""
    found = _try(connection, "SELECT max(seq) FROM events")
    last = found[0] if found else None
    misses, seq = 0, 0
    while misses < 1000 and (not isinstance(last, int) or seq < last):
        seq += 1
        row = _try(connection, "SELECT body, hash FROM events WHERE seq = ?", seq)
        if row is None or not isinstance(row[0], bytes) or not _sound(row[0]):
            misses += 1
            continue
        misses = 0
        yield row[0], as_bytes(row[1])


def _try(connection: sqlite3.Connection, sql: str, *values: object) -> tuple[Any, ...] | None:
    try:
        found: tuple[Any, ...] | None = connection.execute(sql, values).fetchone()
    except (sqlite3.Error, OverflowError, UnicodeDecodeError):
        return None
    return found


def _sound(body: bytes) -> bool:
    try:
        decode(body)
    except Unreadable:
        return False
    return True


def _carve(raw: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Yield events found by their first bytes; the hash stands right behind each."""
    at = raw.find(PREFIX)
    while at >= 0:
        end = _end_of_object(raw, at)
        if end and _sound(raw[at:end]):
            yield raw[at:end], raw[end : end + _HASH_BYTES]
        at = raw.find(PREFIX, at + 1)


def _carved_opening(raw: bytes) -> bytes:
    at = raw.find(_OPENING)
    end = _end_of_object(raw, at) if at >= 0 else None
    return raw[at:end] if end else b""


def _end_of_object(raw: bytes, start: int, longest: int = 100_000) -> int | None:
    """Return the index after the JSON object that begins at ``start``, or None."""
    depth, inside, escaped = 0, False, False
    for at in range(start, min(len(raw), start + longest)):
        byte = raw[at]
        if inside:
            if escaped:
                escaped = False
            elif byte == 0x5C:
                escaped = True
            elif byte == 0x22:
                inside = False
        elif byte == 0x22:
            inside = True
        elif byte == 0x7B:
            depth += 1
        elif byte == 0x7D:
            depth -= 1
            if depth == 0:
                return at + 1
    return None


def _documents(remains: _Remains, given: Sequence[Stored]) -> list[Stored]:
    """Return the documents the log was opened with: those in it, or those given again."""
    try:
        said = [(d["kind"], d["sha256"]) for d in json.loads(remains.opening)["documents"]]
    except (ValueError, KeyError, TypeError):
        said = []
    for documents in (remains.documents, list(given)):
        found = [(d.kind, d.sha256) for d in documents]
        if found and (found == said or (not said and documents is not remains.documents)):
            return documents
    if given:
        raise Damaged("the documents given are not those the log was opened with")
    raise Damaged(
        "the documents in the log cannot be read: give the baseline and the procedures it was "
        "opened with after the name of the new log"
    )


def _fill(remains: _Remains, result: Salvaged, name: str) -> None:
    """Put the entries in order; where one is missing, another stands for it."""
    entries = {key: decode(body) for key, (body, _) in remains.bodies.items()}
    doubtful = _unproven(remains)
    for phase in range(max(key[0] for key in entries) + 1):
        own = {key[1]: entry for key, entry in entries.items() if key[0] == phase}
        last_s = min((e.utc_s for e in own.values()), default=0)
        for serial in range(1, max(own, default=1) + 1):
            key = (phase, serial)
            if serial in own:
                entry = own[serial]
                last_s = entry.utc_s
                if key in doubtful:
                    result.unproven.append(key)
                    doubt = f"its hash in {name} is not that of these bytes: they may be edited"
                    entry = replace(entry, doubt=entry.doubt or doubt)
            else:
                entry = _stand_in(key, own, last_s, name)
                (result.rebuilt if entry.kind == "begin" else result.missing).append(key)
            result.entries.append(entry)


def _cut_off(result: Salvaged, name: str) -> Entry:
    """Return what stands for all that may have stood in the end of a file that was cut off.

    The new log is whole, and would else say nothing of it to whoever reads it later.
    """
    last = result.entries[-1]
    why = f"it and any later ones would stand in the {result.cut_bytes:,} B cut off the end of"
    return lost(last.phase, last.serial + 1, f"{why} {name}", last.utc_s)


def _unproven(remains: _Remains) -> set[Key]:
    """Return the entries whose own hash no hash before them proves.

    The one before stood before it in the file, mostly as the number before in its own phase. An
    entry after one of which nothing is left cannot be proved, and is no more doubtful than that.
    """
    rows = sorted(remains.bodies.items())
    known = [digest for _, (_, digest) in rows]
    if remains.opening:
        known.append(first_hash(remains.opening))
    found: set[Key] = set()
    before = known[-1]
    for (phase, serial), (body, digest) in rows:
        whole = serial == 1 or (phase, serial - 1) in remains.bodies
        proved = next_hash(before, body) == digest or any(
            next_hash(one, body) == digest for one in known
        )
        if whole and not proved and (serial > 1 or remains.opening):
            found.add((phase, serial))
        before = digest
    return found


def _stand_in(key: Key, own: dict[int, Entry], utc_s: int, name: str) -> Entry:
    """Return what stands for a missing entry; when a phase began, the other entries tell."""
    timed = next((e for e in own.values() if e.kind in ("action", "note")), None)
    if key[1] == 1 and timed is not None:
        zero = timed.utc_s - timed.pet_s
        return Entry(
            key[0], 1, "begin", zero, 0, timed.entered_s, text=f"worked out: lost in {name}"
        )
    return lost(key[0], key[1], f"not readable in {name}; nothing proves what follows it", utc_s)
