"""A step recorded at its planned end has the times of the plan, action for action."""

from __future__ import annotations

from pathlib import Path

import pytest

from cablewalk.logbook.create import create
from cablewalk.logbook.drafts import Said, planned
from cablewalk.logbook.log import Log, Stored
from cablewalk.logbook.look import record
from cablewalk.logbook.run import Plans, Run, plans_of, run_of
from cablewalk.reports.asrun_compare import compare_report
from cablewalk.reports.asrun_log import LogFacts
from cablewalk.walk.asrun_entry import Entry

CONFIGS = Path(__file__).resolve().parents[1] / "configs"
ZERO_S = 1_936_000_000


def documents() -> list[Stored]:
    return [
        Stored("procedure" if n else "baseline", name, (CONFIGS / name).read_bytes())
        for n, name in enumerate(("outpost.yaml", "outing-1.yaml"))
    ]


def recorded(path: Path, by_time: bool, late: dict[str, int]) -> Run:
    """Record every step of the demo at its planned end, some seconds later where told."""
    create(path, documents(), [Entry(0, 1, "begin", ZERO_S, 0, ZERO_S, "x")], ZERO_S)
    with Log(path, write=True) as log:
        plans: Plans = plans_of(log.documents)
        run = run_of(log, plans)
        timed = run.tracked.phases[0].timed
        steps = [s for s in timed.plan.steps if s.tasks]
        if by_time:
            steps.sort(key=lambda s: (timed.step_end_s[s.position], s.position))
        for step in steps:
            over = run.tracked.zero_utc_s + timed.step_end_s[step.position] + late.get(step.id, 0)
            said, name = Said(over, over, "x"), step.id

            def draft(now: Run, name: str = name, said: Said = said) -> list[Entry]:
                return planned(now.tracked, name, "done", said)

            record(log, plans, draft, None)
        return run_of(log, plans)


@pytest.mark.parametrize("by_time", [True, False], ids=["as it happens", "worker by worker"])
def test_recorded_as_planned_is_as_planned(tmp_path: Path, by_time: bool) -> None:
    run = recorded(tmp_path / "a.log", by_time, {})
    facts = LogFacts("a.log", "", 0, (), run.plans.sources)
    report = compare_report(run.tracked, facts, run.tracked.trace.end_s)
    assert len(report.actions) > 80
    assert [(r.step, r.action_number, r.late_min) for r in report.actions if r.late_min] == []
    assert [(r.step, r.deviations) for r in report.actions if r.deviations] == []
    assert [f for f in report.findings if f.severity == "error"] == []


def test_a_step_that_took_longer_is_stretched_from_when_it_could_begin(tmp_path: Path) -> None:
    run = recorded(tmp_path / "a.log", True, {"1-01": 120})
    (phase,) = run.tracked.phases
    first = [row for row in run.tracked.played if row.entry.step == "1-01"]
    assert first[0].begin_s >= phase.start_s
    ends = [row.end_s for row in first]
    assert ends == sorted(ends) and ends[-1] == phase.timed.step_end_s[0] + 120
