"""The outages report: moments in both clocks, the tightest clock, and what became of a service."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

from test_reports_bench import AGAIN, BASELINE, LOUD, SWAP, replayed, written

from cablewalk.cli.outages_page import outages_page
from cablewalk.reports.outages import OutagesReport, outages_report
from cablewalk.reports.replay import replay_report


def report(folder: Path, keep_going: bool = False, **documents: str) -> OutagesReport:
    """Return the report of documents."""
    return outages_report(*replayed(written(folder, **documents), keep_going))


def facts(row: Any, *names: str) -> dict[str, Any]:
    """Return some fields of a row; a moment as ``phase H:MM``."""
    found = {}
    for name in names:
        value = getattr(row, name)
        found[name] = f"{value.phase} {value.pet}" if name.endswith("_pet") and value else value
    return found


def test_heading_names_the_files(tmp_path: Path) -> None:
    found = report(tmp_path, bench=BASELINE, swap=SWAP, again=AGAIN)
    assert found.baseline.file == str(tmp_path / "bench.yaml")
    assert found.baseline.sha256 == hashlib.sha256(BASELINE.encode()).hexdigest()
    assert [p.sha256 for p in found.procedures] == [
        hashlib.sha256(text.encode()).hexdigest() for text in (SWAP, AGAIN)
    ]
    assert [(p.id, p.start_min, p.end_min) for p in found.procedures] == [
        ("swap", 0, 15),  # 2 + 7 + (1 + 1 + 2 + 1 + 1) minutes
        ("again", 75, 76),  # 60 minutes later
    ]
    assert [(p.zero_min, p.gap_min, p.complete) for p in found.phases] == [
        (0, None, True),
        (75, 60, True),
    ]


def test_outage_goes_to_power_back_and_recovery(tmp_path: Path) -> None:
    """Off at 0:00; on again at 11 (2 + 7 + unblock, close); 2 minutes to recover; seen at 14."""
    heat = report(tmp_path, bench=BASELINE, swap=SWAP).outages[0]
    names = "service kind label planned planned_because lost_by_step lost_by_phase"
    assert facts(heat, *names.split()) == {
        "service": "heat",
        "kind": "heater",
        "label": "Tank heater",
        "planned": True,
        "planned_because": "the harness goes",
        "lost_by_step": "s1",
        "lost_by_phase": "swap",
    }
    names = (
        "from_min to_min duration_min verified_min from_pet to_pet verified_pet restored_by_step"
    )
    assert facts(heat, *names.split()) == {
        "from_min": 0,
        "to_min": 13,
        "duration_min": 13,
        "verified_min": 14,
        "from_pet": "swap 0:00",
        "to_pet": "swap 0:13",
        "verified_pet": "swap 0:14",
        "restored_by_step": "s3",
    }
    reason = heat.reasons[0]
    assert (reason.step, reason.verb, reason.item, reason.item_label) == (
        "s1",
        "switch_off",
        "K1",
        "MAIN",
    )


def test_clock_accumulates_over_phases(tmp_path: Path) -> None:
    """13 of 15 minutes are used in the first phase; down at 75, it must be back by 77.

    It recovers for 2 minutes, so that it must be reconnected by 75.
    """
    first, _, second = report(tmp_path, bench=BASELINE, swap=SWAP, again=AGAIN).outages
    names = ("clock_min", "used_min", "used_before_min", "margin_min", "accumulates")
    assert [getattr(first, name) for name in names] == [15, 13, 0, 2, True]
    assert [getattr(second, name) for name in names] == [15, 1, 13, -1, True]
    assert (second.reconnect_by_min, second.recovery_min, second.runs_out_min) == (75, 2, 77)
    assert facts(second, "reconnect_by_pet", "from_pet", "to_pet", "verified_min") == {
        "reconnect_by_pet": "again 0:00",
        "from_pet": "again 0:00",
        "to_pet": None,
        "verified_min": None,
    }


def test_tightest_clock_stands_in_the_flat_fields(tmp_path: Path) -> None:
    two = BASELINE.replace(
        'clock: {allowed_min: 15, source: "thermal note 7 (invented)"}',
        "clocks: [{allowed_min: 60, source: a}, {allowed_min: 14, source: b}, "
        "{allowed_min: 12, source: c, starts: demate}]",
    )
    heat = report(tmp_path, bench=two, swap=SWAP).outages[0]
    assert [(c.clock_source, c.margin_min) for c in heat.clocks] == [
        ("a", 47),
        ("b", 1),
        ("c", 1),  # the demate begins 2 minutes after the switch-off
    ]
    assert (heat.clock_source, heat.clock_min, heat.margin_min) == ("b", 14, 1)


def test_a_service_without_a_clock_has_none(tmp_path: Path) -> None:
    fan = report(tmp_path, bench=BASELINE, swap=SWAP).outages[1]
    assert fan.clocks == ()
    assert fan.clock_min is fan.margin_min is None
    assert fan.accumulates is None
    assert fan.reconnect_by_pet is None


def test_a_loss_that_nobody_plans(tmp_path: Path) -> None:
    found = report(tmp_path, keep_going=True, bench=BASELINE, loud=LOUD)
    assert [(row.service, row.planned, row.to_min) for row in found.outages] == [
        ("heat", True, None),
        ("fan", False, None),
    ]
    finding = found.findings[0]
    assert (finding.rule, finding.severity, finding.phase, finding.step) == (
        "unplanned-loss",
        "error",
        "swap",
        "s1",
    )
    assert finding.line == LOUD.splitlines().index("    do: [switch_off: K1, block: K1]") + 1


def test_turns_and_lesser_spells(tmp_path: Path) -> None:
    found = report(tmp_path, bench=BASELINE, swap=SWAP, again=AGAIN)
    assert [(row.service, row.by_step) for row in found.retired] == [("fan", "a2")]
    assert [(row.service, row.by_step) for row in found.rerouted] == [("heat", "s2")]
    assert [(row.service, row.from_min, row.to_min) for row in found.unproven] == [
        ("fan", 11, 15),
        ("heat", 13, 14),  # two minutes of recovery: not up before
    ]
    assert not (found.established or found.bystanders or found.reduced)


def test_down_at_the_start(tmp_path: Path) -> None:
    cold = BASELINE.replace("  on: K1\n", "  off: K1\n  dark_min: {heat: 5}\n")
    heat, fan = report(tmp_path, bench=cold, swap=SWAP).outages[:2]
    assert (heat.at_start, heat.planned, heat.lost_by_step, heat.from_min) == (True, None, None, -5)
    assert (heat.from_pet.pet, heat.duration_min, fan.from_min) == ("-0:05", 18, 0)


def test_what_is_down_at_the_start_says_why(tmp_path: Path) -> None:
    """As the finding does: no feed; or nothing explains what dark_min says."""
    cold = BASELINE.replace("  on: K1\n", "  off: K1\n")
    found = report(tmp_path, bench=cold, swap=SWAP)
    told = {f.items[0]: f.difference for f in found.findings if f.rule == "down-at-start"}
    starts = [row for row in found.outages if row.at_start]
    assert [[r.line for r in row.reasons] for row in starts] == [[told[r.service]] for r in starts]
    assert told == dict.fromkeys(("heat", "fan"), "feed SRC is not up")
    page = outages_page(found).text
    assert page.count("  why") == len([row for row in found.outages if row.reasons])
    assert f"why       {told['heat']}" in page
    said = BASELINE.replace("now:\n", "now:\n  dark_min: {heat: 5}\n")
    (heat,) = (row for row in report(tmp_path, bench=said, swap=SWAP).outages if row.at_start)
    assert [r.line for r in heat.reasons] == [
        "dark_min says so; nothing in the baseline explains it"
    ]


def test_a_stopped_replay_says_where(tmp_path: Path) -> None:
    found = report(tmp_path, bench=BASELINE, loud=LOUD, again=AGAIN)
    assert found.stopped
    assert found.end_min == 7  # the second mate would have begun then
    assert [phase.complete for phase in found.phases] == [False]
    assert [(p.start_min, p.end_min) for p in found.procedures] == [(0, 7), (None, None)]


def test_what_is_held_dark_is_down_in_the_replay_too(tmp_path: Path) -> None:
    """The model has it up; the baseline says it is dark, and the plan verifies it at last."""
    said = BASELINE.replace("now:\n", "now:\n  dark_min: {heat: 5}\n")
    assert said != BASELINE
    idle = "cablewalk: 1\nprocedure: idle\nminutes: 1\n"
    idle += "steps: [{id: i1, by: ada, do: [{wait: 5}]}]\n"
    seen = idle.replace("{wait: 5}", "{wait: 5}, {verify: heat}")
    for plan, ended in ((idle, "down"), (seen, "up")):
        account, sources = replayed(written(tmp_path, bench=said, idle=plan))
        told = replay_report(account, sources)
        assert {r.service: r.state for r in told.services_at_start}["heat"] == "down"
        assert {r.service: r.state for r in told.services_at_end}["heat"] == ended
