"""Memory of a baseline of 100,000 contacts and of its replay, in a process of its own.

python -m tests.benchmarks.memory        # prints the bytes resident at each stage, as JSON
"""

from __future__ import annotations

import gc
import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

from .measure import ROOT, Row, environment

HALVES = 2_260
"""Fixed halves, as the generator counts: with the free ones, 100,000 contacts."""


def resident() -> int:
    """Return the bytes this process has in memory now."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * 4096


def stages() -> dict[str, int]:
    """Load, compile and replay, and return the bytes resident after each stage."""
    from cablewalk.walk.run import ready, replay

    from .generate import documents, models

    documents(8)
    found = {"imports": resident()}
    baseline, procedure = models(HALVES)
    gc.collect()
    found["documents"] = resident()
    ground = ready(baseline)
    gc.collect()
    found["wiring"] = resident()
    trace = replay(ground, [procedure])
    gc.collect()
    found["replay"] = resident()
    wiring = ground.wiring
    halves = sum(item.kind == "half" for item in wiring.items)
    found["contacts"] = halves * (len(baseline.interfaces["m20"].contacts) + 1)
    found["actions"] = len(trace.events) // 2
    return found


def memory_rows() -> Iterator[Row]:
    """Yield the rows of memory: no target but that they be reasonable."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.memory"],
        cwd=ROOT,
        env=environment(),
        capture_output=True,
        text=True,
        check=True,
    )
    found = json.loads(done.stdout)
    contacts = found["contacts"]
    imports, documents, wiring, trace = (
        found[key] for key in ("imports", "documents", "wiring", "replay")
    )
    yield Row(
        f"memory: baseline of {contacts:,} contacts, as models", documents - imports,
        "the interpreter with the imports", imports, unit="B",
    )  # fmt: skip
    yield Row(
        "memory: its wiring and configuration", wiring - documents,
        "the interpreter with the imports", imports, unit="B",
    )  # fmt: skip
    yield Row(
        f"memory: a replay of {found['actions']:,} actions, with its trace", trace - wiring,
        "the interpreter with the imports", imports, unit="B",
    )  # fmt: skip


if __name__ == "__main__":
    print(json.dumps(stages()))
