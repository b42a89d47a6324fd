"""Measuring: processor time of pieces of work taken in turn, and medians over the repeats.

Processor time, because the machines that run this are shared: what waits costs nothing.
"""

from __future__ import annotations

import gc
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median

ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True)
class Row:
    """A figure beside its comparison, both in seconds (or bytes) for the same amount of work."""

    work: str
    figure: float
    comparison: str
    compared: float
    faster: float | None = None
    """The comparison is to take at least so many times as long."""
    at_most: float | None = None
    """The figure is to be at most so many times the comparison."""
    unit: str = "s"

    @property
    def ratio(self) -> float:
        """How many times faster, or how many times dearer."""
        if self.faster is not None:
            return self.compared / self.figure
        return self.figure / self.compared

    @property
    def met(self) -> bool | None:
        """Whether the target is reached; None where there is none."""
        if self.faster is not None:
            return self.ratio >= self.faster
        return None if self.at_most is None else self.ratio <= self.at_most


def in_turn(repeats: int, *pieces: Callable[[], object]) -> list[float]:
    """Return the median seconds of each piece of work; each repeat runs them all, in turn."""
    taken: list[list[float]] = [[] for _ in pieces]
    for piece in pieces:
        piece()
    for _ in range(repeats):
        for times, piece in zip(taken, pieces, strict=True):
            gc.collect()
            begin = time.process_time()
            piece()
            times.append(time.process_time() - begin)
    return [median(times) for times in taken]


def environment() -> dict[str, str]:
    """Return the environment of a process that finds the package in the working tree."""
    return {**os.environ, "PYTHONPATH": str(ROOT / "src")}


def processes_in_turn(repeats: int, *commands: Sequence[str]) -> list[float]:
    """Return the median processor seconds of each command of a new interpreter, run in turn.

    The first run of each, not counted, leaves compiled bytecode, as installing a package does: it
    is there of the packages compared with, and a working tree may have none.
    """
    taken: list[list[float]] = [[] for _ in commands]
    with tempfile.TemporaryDirectory() as compiled:
        variables = {**environment(), "PYTHONPYCACHEPREFIX": compiled}
        variables.pop("PYTHONDONTWRITEBYTECODE", None)
        for _ in range(repeats + 1):
            for times, command in zip(taken, commands, strict=True):
                started = subprocess.Popen(
                    [sys.executable, *command],
                    cwd=ROOT,
                    env=variables,
                    stdout=subprocess.DEVNULL,
                    stderr=subprocess.DEVNULL,
                )
                _, status, used = os.wait4(started.pid, 0)
                started.returncode = os.waitstatus_to_exitcode(status)
                if started.returncode not in (0, 1):
                    raise RuntimeError(f"{' '.join(command)} ended with {started.returncode}")
                times.append(used.ru_utime + used.ru_stime)
    return [median(times[1:]) for times in taken]
