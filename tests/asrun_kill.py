"""Killing a writer at random points, again and again: what the suite and the soak share.

A child is forked from this warm process, records entries one by one, and tells the number of each
once it is acknowledged; then it is killed with SIGKILL. This proves what a killed process leaves,
not what a power cut does: that rests on SQLite's synchronous=FULL.
"""

from __future__ import annotations

import os
import random
import signal
import time
from pathlib import Path

from asrun_bench import begin, entry, folded, new_log

from cablewalk.logbook.log import Log

KILLS_A_LOG = 20
"""Kills before a fresh log is begun, so that no log grows long."""


def one_kill(path: Path, dice: random.Random) -> int:
    """Let a child record until it is killed; return the number of the last it acknowledged."""
    reads, writes = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(reads)
            with Log(path, write=True) as log:
                number = log.count()
                while True:
                    number += 1
                    (added,) = log.append([entry(number)])
                    os.write(writes, added.serial.to_bytes(4, "big"))
        finally:
            os._exit(1)
    os.close(writes)
    told = b""
    if dice.random() < 0.3:
        time.sleep(dice.uniform(0.0, 0.02))  # while it opens the log, and recovers the last one's
    else:
        told = os.read(reads, 4)
        time.sleep(dice.uniform(0.0, 0.008))  # while it records
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    while piece := os.read(reads, 65536):
        told += piece
    os.close(reads)
    return int.from_bytes(told[-4:], "big") if len(told) >= 4 else 0


def kill_often(folder: Path, kills: int, seed: int) -> tuple[int, int]:
    """Kill so many writers, and prove the log after each.

    Returns how many entries were acknowledged in all, and how many kills came after an
    acknowledged entry.

    Raises:
        AssertionError: an acknowledged entry is lost, or one is half there, or otherwise than
            it was recorded, or the state is not that of the replay.
    """
    dice = random.Random(seed)
    acknowledged, after_one = 0, 0
    path = folder / "none"
    for kill in range(kills):
        if kill % KILLS_A_LOG == 0:
            path = new_log(folder / f"kill-{kill}.log")
        last = one_kill(path, dice)
        with Log(path) as log:
            reading = log.read()
        assert not reading.faults
        assert not [link.fault for link in reading.links if link.fault], "no half event"
        count = reading.seq
        assert count >= last, "no acknowledged event is lost"
        expected = [begin(), *(entry(n) for n in range(2, count + 1))]
        assert reading.entries == expected
        if kill % KILLS_A_LOG == KILLS_A_LOG - 1:
            read, told = folded(reading.entries), folded(expected)
            assert read.fold.config == told.fold.config
            acknowledged += count
        after_one += last > 0
    return acknowledged, after_one
