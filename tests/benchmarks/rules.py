"""What each rule costs, side by side with the replay.

Aims: the local rules together at most 3 times the replay, look-alikes and single failures at
most 20 times each. Run: ``python tests/benchmarks/rules.py [HALVES]``
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests")]

from benchmarks.generate import models  # noqa: E402
from cablewalk.checks.case import Case  # noqa: E402
from cablewalk.checks.registry import RULES  # noqa: E402
from cablewalk.timeline.account import account  # noqa: E402
from cablewalk.walk.run import ready, replay  # noqa: E402

FAR = {"look-alike": "look-alikes", "strings-share": "single", "single-failure": "single"}
AIMS = {"local": 3.0, "look-alikes": 20.0, "single": 20.0}


def _seconds(action: Callable[[], object]) -> float:
    begun = time.perf_counter()
    action()
    return time.perf_counter() - begun


def costs(halves: int) -> dict[str, float]:
    """Return the cost of each group of rules over that of the replay."""
    baseline, procedure = models(halves)
    ground = ready(baseline)
    once = _seconds(lambda: replay(ground, [procedure], True))
    case = Case(account(baseline, [procedure], True))
    spent = dict.fromkeys(AIMS, 0.0)
    spent["local"] += _seconds(lambda: case.survey)
    print(f"{halves} halves: replay {once:.2f} s")
    for name, rule in RULES.items():
        judge = rule.judge
        if judge is not None:
            took = _seconds(lambda judge=judge: list(judge(case)))  # type: ignore[misc]
            spent[FAR.get(name, "local")] += took
            if took > once / 50:
                print(f"  {name:24} {took:7.2f} s  {took / once:6.2f} x")
    return {group: took / once for group, took in spent.items()}


def main() -> None:
    """Print each group's cost beside its aim."""
    for group, times in costs(int(sys.argv[1]) if len(sys.argv) > 1 else 1600).items():
        print(f"{group:24} {times:6.2f} x the replay (aim {AIMS[group]:g})")


if __name__ == "__main__":
    main()
