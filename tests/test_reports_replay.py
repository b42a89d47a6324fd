"""The replay report: actions with their outcome, changes in words, services shifted."""

from __future__ import annotations

from pathlib import Path

import pytest
from test_reports_bench import BASELINE, LOUD, SWAP, replayed, written

from cablewalk.documents.actions import Action
from cablewalk.reports.deed import deed
from cablewalk.reports.replay import ReplayReport, replay_report
from cablewalk.reports.step import ActionRow


def report(folder: Path, keep_going: bool = False, **documents: str) -> ReplayReport:
    """Return the report of documents."""
    return replay_report(*replayed(written(folder, **documents), keep_going))


def changes(action: ActionRow) -> dict[str, tuple[str, str]]:
    """Return item to how it stood before and after."""
    return {change.item: (change.before, change.after) for change in action.changes}


def test_steps_carry_words_and_workers(tmp_path: Path) -> None:
    step = report(tmp_path, bench=BASELINE, swap=SWAP).steps[1]
    assert (step.id, step.by, step.people, step.say) == ("s2", ("ev1",), ("ada",), "W1 off, W2 on.")
    assert step.cautions == ("Watch the pins.",)
    assert (step.begin_min, step.end_min, step.begin_pet.pet) == (2, 9, "0:02")


def test_changes_are_told_in_words(tmp_path: Path) -> None:
    off, work, _ = report(tmp_path, bench=BASELINE, swap=SWAP).steps
    assert changes(off.actions[0]) == {"K1": ("on", "off")}
    assert changes(work.actions[0]) == {"J1": ("mated P1", "bare"), "P1": ("mated J1", "bare")}
    assert changes(work.actions[5]) == {"J1": ("bare", "mated Q1"), "Q1": ("bare", "mated J1")}
    assert work.actions[5].text == "mate Q1 to J1"


def test_services_shift(tmp_path: Path) -> None:
    off, _, on = report(tmp_path, bench=BASELINE, swap=SWAP).steps
    assert [(s.service, s.tag, s.begins, s.at_min) for s in off.actions[0].shifts] == [
        ("heat", "LOST", True, 0),
        ("fan", "LOST", True, 0),
    ]
    back = on.actions[1].shifts
    assert [(s.service, s.tag, s.begins, s.at_min, s.recovery_min) for s in back] == [
        ("heat", "BACK", False, 11, 2),
        ("fan", "BACK", False, 11, 0),
    ]
    assert [(s.before, s.after) for s in back] == [("down", "up unproven")] * 2
    assert [(s.service, s.tag) for s in on.actions[3].shifts] == [("heat", "PROVEN")]


def test_services_at_start_and_end(tmp_path: Path) -> None:
    found = report(tmp_path, keep_going=True, bench=BASELINE, loud=LOUD)
    assert [(s.service, s.state) for s in found.services_at_start] == [
        ("heat", "up"),
        ("fan", "up"),
    ]
    assert [s.state for s in found.services_at_end] == ["down", "down"]
    assert found.services_at_end[0].strings[0].standing == "down"


def test_what_is_not_possible_and_what_follows(tmp_path: Path) -> None:
    found = report(tmp_path, keep_going=True, bench=BASELINE, loud=LOUD)
    step = found.steps[1]
    refused = step.actions[5]
    assert refused.outcome == "not possible"
    assert "C2" in refused.refusal
    assert not (refused.changes or refused.shifts)
    own = [found.findings[n] for n in step.findings]
    assert [(f.rule, f.because_of) for f in own] == [("refused", None), ("not-as-expected", "s2")]
    assert {a.outcome for a in found.steps[2].actions} == {"done"}


def test_a_stopped_replay_leaves_steps_unreached(tmp_path: Path) -> None:
    found = report(tmp_path, bench=BASELINE, loud=LOUD)
    assert found.stopped
    assert [a.outcome for a in found.steps[1].actions][-3:] == [
        "done",
        "not possible",
        "not reached",
    ]
    assert {a.outcome for a in found.steps[2].actions} == {"not reached"}


@pytest.mark.parametrize(
    ("action", "words"),
    [
        ({"mate": {"Q1": "J1"}}, "mate Q1 to J1"),
        ({"fit_cap": {"C1": "Q1"}}, "fit cap C1 on Q1"),
        ({"switch_off": "K1"}, "switch off K1 (MAIN)"),
        ({"release": "CV"}, "release CV"),
        ({"release": {"CV": 1}}, "release 1 fastener of CV"),
        ({"fasten": {"CV": 3}}, "fasten 3 fasteners of CV"),
        ({"walk": "bench"}, "walk to bench"),
        ({"walk": {"to": "bench", "carrying": True}}, "walk to bench, carrying"),
        ({"wait": 2.5}, "wait 2.5 min"),
        ({"route": {"W1.main": "a b"}}, "route W1.main along a, b"),
        ({"verify": "heat"}, "verify heat"),
        ({"verify": {"K1": "blocked"}}, "verify K1 (MAIN) is blocked"),
        ({"expect": {"P1": "mated J1", "heat": "up"}}, "expect P1 is mated J1; heat is up"),
        ({"found": {"P1": "bare"}, "reason": "seen"}, "found P1 is bare"),
        ({"go_call": "go-1"}, "go call go-1"),
    ],
)
def test_an_action_in_words(tmp_path: Path, action: dict[str, object], words: str) -> None:
    account, _ = replayed(written(tmp_path, bench=BASELINE))
    assert deed(account.trace.wiring, Action.model_validate(action)) == words
