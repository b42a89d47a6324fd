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
from cablewalk.timeline.spread import CHUNK, Spread, spread
from cablewalk.timeline.spread_courses import Judge

from .generate import documents

ACTIONS = 200
AT_MOST = 3.0


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
    for done in range(0, runs, CHUNK):
        size = min(CHUNK, runs - done)
        for _ in range(ACTIONS):
            if shape == "beta":
                rng.beta(1 + 4 * 60 / 300, 1 + 4 * 240 / 300, size)
            else:
                rng.triangular(120, 180, 420, size)
    return time.process_time() - began


def main(runs: int) -> bool:
    """Print the two times and their ratio for both shapes; return whether the aim is met."""
    worst = 0.0
    for shape in ("beta", "triangular"):
        result = plan(shape)
        drawn_s = merely_drawn(shape, runs)
        began = time.process_time()
        found = spread(result, [shape], runs, 1)
        took_s = time.process_time() - began
        drawn_s = (drawn_s + merely_drawn(shape, runs)) / 2
        orders = sum(j.orders for _, j in found.engine._judges if isinstance(j, Judge))
        rare = sum(row.runs < runs for row in found.outages.values())
        worst = max(worst, took_s / drawn_s)
        print(
            f"{shape:<11} {runs:>9,} runs  drawn {drawn_s:6.1f} s  spread {took_s:6.1f} s  "
            f"{took_s / drawn_s:4.2f} x  outages {len(found.outages)}, of which {rare} in some "
            f"runs only; {orders} orders; capped: {capped(found)}"
        )
    met = worst <= AT_MOST
    print(f"at most {AT_MOST:g} times the draws wanted: {'met' if met else 'NOT MET'}")
    return met


def capped(found: Spread) -> str:
    """Return which of the order search's limits were hit."""
    left = [f"{len(found.engine.not_judged)} services"] if found.engine.not_judged else []
    left += [f"{found.engine.given_up} runs"] if found.engine.given_up else []
    return ", ".join(left) or "nothing"


if __name__ == "__main__":
    sys.exit(not main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000))
