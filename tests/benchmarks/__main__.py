"""Every figure beside its comparison, measured in the same run.

    python -m tests.benchmarks               # the whole table, some minutes
    python -m tests.benchmarks --quick       # fewer repeats
    python -m tests.benchmarks --only load   # one part

From the root of the repository. Exit code 1 where a target is missed.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
from collections.abc import Callable, Iterator

from .book_speed import book_rows
from .loading import load_rows
from .measure import Row
from .memory import memory_rows
from .pictures import picture_rows
from .replayed import machine_rows, replay_rows
from .starting import command_rows


def rows(repeats: int, only: str) -> Iterator[Row]:
    """Yield all rows, or those of one part, each as soon as it is measured."""
    parts: dict[str, Callable[[], Iterator[Row]]] = {
        "replay": lambda: replay_rows(repeats),
        "machine": lambda: machine_rows(repeats),
        "load": lambda: load_rows(repeats),
        "command": lambda: command_rows(2 * repeats),
        "picture": lambda: picture_rows(repeats),
        "memory": memory_rows,
        "book": lambda: book_rows(repeats),
    }
    for name, part in parts.items():
        if only in ("", name):
            yield from part()


def quantity(value: float, unit: str) -> str:
    """Return seconds or bytes with a prefix that makes them short."""
    if unit == "B":
        return f"{value / 1e6:.1f} MB" if value >= 1e5 else f"{value / 1e3:.2f} kB"
    for size, prefix in ((1, "s"), (1e-3, "ms"), (1e-6, "µs")):
        if value >= size:
            return f"{value / size:.3g} {prefix}"
    return f"{value * 1e9:.3g} ns"


def line(row: Row) -> str:
    """Return one line of the table."""
    target = "-"
    ratio = f"{row.ratio:.2f}x"
    if row.faster is not None:
        target, ratio = f">= {row.faster:g}x faster", f"{row.ratio:.1f}x faster"
    elif row.at_most is not None:
        target = f"<= {row.at_most:g}x"
    met = {True: "met", False: "MISSED", None: ""}[row.met]
    cells = (
        f"{row.work:<58}",
        f"{quantity(row.figure, row.unit):>9}",
        f"{row.comparison:<50}",
        f"{quantity(row.compared, row.unit):>9}",
        f"{ratio:>13}",
        f"{target:<15}",
        met,
    )
    return "  ".join(cells).rstrip()


def main() -> int:
    """Print the table; return 1 where a target is missed."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("--repeats", type=int, default=9)
    parser.add_argument("--quick", action="store_true", help="three repeats")
    parser.add_argument(
        "--only", default="", help="one part: replay, machine, load, command, picture, memory, book"
    )
    given = parser.parse_args()
    repeats = 3 if given.quick else given.repeats
    print(
        f"Python {platform.python_version()}, {os.cpu_count()} processors, "
        f"medians of {repeats} repeats, processor time"
    )
    missed = 0
    for row in rows(repeats, given.only):
        print(line(row), flush=True)
        missed += row.met is False
    print(f"{missed} of the targets missed" if missed else "all targets met")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
