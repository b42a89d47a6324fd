"""How fast circuits are kept up to date: run ``python -m tests.benchmarks.power_speed [HALVES]``.

Measures (1) a step by step update against solving all circuits at every step, on the large
generated configuration, continuity's own update counted with the first; (2) one solution by size,
dense, and sparse where scipy is installed: a ladder, of which no two pieces are in series.
"""

from __future__ import annotations

import statistics
import sys
import time
from importlib.util import find_spec
from itertools import islice
from unittest.mock import patch

from cablewalk.continuity.services import Continuity
from cablewalk.documents.baseline import Baseline
from cablewalk.documents.procedure import Procedure
from cablewalk.power import linear
from cablewalk.power.copper import Copper
from cablewalk.power.grid import Grid
from cablewalk.power.nodal import Branch, Port, Source, solve
from cablewalk.walk.run import ready, replay

from .generate import documents

STEPS = 60
AT_LEAST = 10.0


def loaded(halves: int) -> tuple[Baseline, Procedure]:
    """Return the generated configuration with loads, lengths and contacts given."""
    document, procedure = documents(halves)
    for unit in document["places"]["hall"]["units"].values():
        if unit["kind"] == "load":
            unit["draws"] = {"main": {"power_w": 40, "min_volts": 100, "source": "bench"}}
    for harness in document["harnesses"].values():
        harness["gauge_awg"] = 20
        if len(harness["legs"]) == 2:
            harness["length_m"] = 4
        else:
            harness["segments"] = {
                leg: {"between": f"{leg} split", "length_m": 2} for leg in harness["legs"]
            }
    document["electrical"] = {
        "wire": {"conductor_c": 20, "source": "bench"},
        "contacts": {"20": {"catalogue": "series-iii", "rating_a": 5, "source": "bench"}},
        "contact_sizes": {"m20": "20"},
    }
    procedure["steps"] = procedure["steps"][:STEPS]
    return Baseline.model_validate(document), Procedure.model_validate(procedure)


def step_by_step(halves: int) -> float:
    """Print and return how many times faster updating is than solving all."""
    baseline, procedure = loaded(halves)
    ground = ready(baseline)
    trace = replay(ground, [procedure])
    assert not trace.stopped
    config = trace.start.copy()
    continuity = Continuity(config)
    copper = Copper(baseline, config.wiring)
    grid = Grid(config, continuity, copper)
    circuits, loads = len(grid.circuits), sum(len(c.loads) for c in grid.circuits.values())
    assert loads
    kept: list[float] = []
    whole: list[float] = []
    solved = 0
    for n, event in enumerate(trace.events):
        config.apply(event.changes)
        began = time.perf_counter()
        continuity.update(event.changes)
        solved += len(grid.update(event.changes))
        kept.append(time.perf_counter() - began)
        if n % 10 == 0:
            began = time.perf_counter()
            fresh = Grid(config, continuity, copper)
            whole.append(time.perf_counter() - began)
            assert numbers(fresh) == numbers(grid)
    ratio = statistics.mean(whole) / statistics.mean(kept)
    print(
        f"{halves} halves, {circuits} circuits, {loads} loads, {len(kept)} events, "
        f"{solved} solved again: {statistics.mean(kept) * 1e3:.2f} ms an event kept, "
        f"{statistics.mean(whole) * 1e3:.1f} ms all anew: {ratio:.0f} times"
    )
    return ratio


def numbers(grid: Grid) -> dict[int, float]:
    """Return load to its volts, rounded."""
    return {n: round(r.volts, 6) for c in grid.circuits.values() for n, r in c.loads.items()}


def one_solution() -> None:
    """Print the time of one whole solution by number of nodes, dense and sparse."""
    for rungs in (3, 25, 75, 100, 200, 400):
        branches = [Branch(1 + 2 * n, 2 + 2 * n, 0.3) for n in range(rungs)]
        branches += [Branch(n, n + 2, 0.002) for n in range(1, 2 * rungs - 1)]
        ports = [Port(n, 0, power_w=1) for n in range(2, 2 * rungs, max(1, rungs // 16))][:32]
        took: dict[str, float] = {}
        for name, most in (("dense", 10**9), ("sparse", 0)):
            if name == "sparse" and find_spec("scipy") is None:
                continue
            with patch.object(linear, "DENSE_UP_TO", most):
                took[name] = _median(branches, [Source(1, 0, 120)], ports)
        times = ", ".join(f"{name} {seconds * 1e3:.2f} ms" for name, seconds in took.items())
        print(f"{2 * rungs} nodes, {len(ports)} loads: {times}")


def _median(branches: list[Branch], sources: list[Source], ports: list[Port]) -> float:
    """Return the median seconds of a solution."""
    times = []
    for _ in range(21):
        began = time.perf_counter()
        assert solve(branches, sources, ports, [0]).converged
        times.append(time.perf_counter() - began)
    return statistics.median(times)


if __name__ == "__main__":
    one_solution()
    sizes = [int(text) for text in islice(sys.argv, 1, None)] or [3200]
    worst = min(step_by_step(size) for size in sizes)
    print(f"at least {AT_LEAST:g} times wanted: {'met' if worst >= AT_LEAST else 'NOT MET'}")
    sys.exit(worst < AT_LEAST)
