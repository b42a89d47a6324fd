"""How long a million samples take, against the time numpy takes merely to draw them.

Run from the project's folder::

    python -m tests.benchmarks.spread_speed [RUNS]

A plan of 200 actions by two workers side by side, all estimates spread, on generated hardware:
each worker demates and mates a leg of every other harness. Outages, clocks, critical steps and
slacks are all counted, each sample in its own order. The aim is at most three times the draws.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from cablewalk.documents.baseline import Baseline
from cablewalk.documents.procedure import Procedure
from cablewalk.timeline.account import Account, account
from cablewalk.timeline.spread import CHUNK, spread

from .generate import documents

ACTIONS = 200


def plan(shape: str) -> Account:
    """Return 200 actions of two workers, replayed with likely minutes."""
    baseline, procedure = documents(ACTIONS + 8)
    baseline["people"] = {"w": "outside", "v": "outside"}
    for service in baseline["services"].values():
        service["clocks"] = [{"allowed_min": 6, "source": "invented"}]
    steps = procedure["steps"][: ACTIONS // 2]
    for n, step in enumerate(steps):
        step["by"] = "wv"[n % 2]
        if n % 20 == 10:
            step["after"] = [steps[n - 1]["id"]]
    procedure |= {"steps": steps, "minutes": [2, 3, 7], "spread": shape}
    result = account(Baseline.model_validate(baseline), [Procedure.model_validate(procedure)])
    assert not result.trace.stopped
    assert len(result.trace.phases[0].plan.tasks()) == ACTIONS
    return result


def merely_drawn(shape: str, runs: int) -> float:
    """Return the processor seconds numpy takes to draw the same variates, chunk by chunk."""
    rng = np.random.default_rng(1)
    began = time.process_time()
    for _ in range(runs // CHUNK):
        for _ in range(ACTIONS):
            if shape == "beta":
                rng.beta(1 + 4 * 60 / 300, 1 + 4 * 240 / 300, CHUNK)
            else:
                rng.triangular(120, 180, 420, CHUNK)
    return time.process_time() - began


def main(runs: int) -> None:
    """Print the two times and their ratio for both shapes."""
    runs = max(1, runs // CHUNK) * CHUNK
    for shape in ("beta", "triangular"):
        result = plan(shape)
        drawn_s = merely_drawn(shape, runs)
        began = time.process_time()
        found = spread(result, [shape], runs, 1)
        took_s = time.process_time() - began
        drawn_s = (drawn_s + merely_drawn(shape, runs)) / 2
        orders = sum(len(judge.known) for _, judge in found.engine._judges)
        rare = sum(row.runs < runs for row in found.outages.values())
        print(
            f"{shape:<11} {runs:>9,} runs  drawn {drawn_s:6.1f} s  spread {took_s:6.1f} s  "
            f"{took_s / drawn_s:4.2f} x  outages {len(found.outages)}, of which {rare} in some "
            f"runs only; {orders} orders"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
