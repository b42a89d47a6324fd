"""Speed of the log: ``python tests/benchmarks/logbook.py [FOLDER]``, on a disk, not a tmpfs.

Durable records a second against bare ``sqlite3`` with the same pragmas, in turns in one run; and
``now`` on 10,000 events against opening the file and one replay.
"""

from __future__ import annotations

import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from asrun_bench import entry, new_log

from cablewalk.logbook.codec import encode
from cablewalk.logbook.log import Log
from cablewalk.logbook.run import run_of
from cablewalk.reports.asrun_log import LogFacts
from cablewalk.reports.asrun_now import now_report

TURNS, RECORDS, EVENTS = 40, 25, 10_000


def rate(deed: Callable[[int], None]) -> float:
    """Return how many times a second a deed is done."""
    start = time.perf_counter()
    for n in range(RECORDS):
        deed(n)
    return RECORDS / (time.perf_counter() - start)


def records(folder: Path) -> tuple[float, float]:
    """Return the median records a second of the log, and of bare sqlite3.

    They take short turns, and each is first in every other one: whatever else the disk has to do
    falls on both.
    """
    bare = sqlite3.connect(folder / "bare.db", isolation_level=None)
    bare.execute("PRAGMA journal_mode = WAL")
    bare.execute("PRAGMA synchronous = FULL")
    bare.execute("CREATE TABLE events (seq INTEGER PRIMARY KEY, body BLOB)")

    def insert(n: int) -> None:
        bare.execute("BEGIN IMMEDIATE")
        bare.execute("INSERT INTO events (body) VALUES (?)", (encode(entry(n + 2)),))
        bare.execute("COMMIT")

    with Log(new_log(folder / "speed.log"), write=True) as log:

        def append(n: int) -> None:
            log.append([entry(n + 2)])

        rates: dict[Callable[[int], None], list[float]] = {append: [], insert: []}
        for turn in range(TURNS):
            for deed in (append, insert) if turn % 2 else (insert, append):
                rates[deed].append(rate(deed))
    bare.close()
    return statistics.median(rates[append]), statistics.median(rates[insert])


def now(folder: Path) -> tuple[float, float]:
    """Return seconds of ``now``, and of opening the file and one replay, on many events."""
    path = new_log(folder / "long.log", [entry(n) for n in range(2, EVENTS)])

    def replay() -> None:
        with Log(path) as log:
            run_of(log)

    def whole() -> None:
        with Log(path) as log:
            run = run_of(log)
        facts = LogFacts("long.log", run.reading.head.hex(), run.reading.seq, (), run.plans.sources)
        now_report(run.tracked, facts, run.tracked.trace.end_s).model_dump_json()

    best = [min(_seconds(deed) for _ in range(3)) for deed in (whole, replay)]
    return best[0], best[1]


def check(folder: Path) -> float:
    """Return seconds of the look for damage before a command writes, on as many events."""

    def deed() -> None:
        with Log(folder / "long.log", write=True):
            pass

    return min(_seconds(deed) for _ in range(3))


def _seconds(deed: Callable[[], None]) -> float:
    start = time.perf_counter()
    deed()
    return time.perf_counter() - start


def main() -> None:
    """Measure, and print."""
    parent = sys.argv[1] if len(sys.argv) > 1 else None
    with tempfile.TemporaryDirectory(dir=parent) as name:
        folder = Path(name)
        own, bare = records(folder)
        print(f"durable records: {own:.0f}/s, bare sqlite3 {bare:.0f}/s, ratio {own / bare:.2f}")
        whole, replay = now(folder)
        print(
            f"now on {EVENTS} events: {whole:.2f} s; opening and one replay {replay:.2f} s; "
            f"ratio {whole / replay:.2f}"
        )
        print(f"opening {EVENTS} events to write, looked through for damage: {check(folder):.2f} s")


if __name__ == "__main__":
    main()
