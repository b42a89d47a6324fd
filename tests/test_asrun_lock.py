"""A lock verified once more is only looked at: what is known to be made is put in no doubt."""

from __future__ import annotations

from pathlib import Path

from asrun_bench import ZERO_S, begin, folded
from test_asrun_commands import asrun, done, log, shown

from cablewalk.continuity.services import State
from cablewalk.documents.actions import Action
from cablewalk.timeline.asrun import asrun_account
from cablewalk.walk.asrun_entry import Entry, Outcome
from cablewalk.walk.asrun_state import Tracked

__all__ = ["log"]  # the fixture


def locked(*before: tuple[Action, Outcome], outcome: Outcome = "done") -> Tracked:
    """Return the bench after these actions and a lock of P1 that lasts two minutes."""
    entries = [begin()]
    for n, (action, how) in enumerate((*before, (Action(lock="P1"), outcome)), start=2):
        end = ZERO_S + 120 * n
        entries.append(
            Entry(0, n, "action", end, 120 * n, end, "t", end - 120, ("ada",), action, how)
        )
    return folded(entries)


def test_a_lock_verified_again_loses_and_disturbs_nothing() -> None:
    tracked = locked()
    assert tracked.trace.events and not any(e.shifts for e in tracked.trace.events)
    assert not asrun_account(tracked, tracked.trace.end_s).outages
    assert not any(tracked.fold.config.disturbed)
    assert not tracked.fold.overrides and not list(tracked.findings)


def test_one_that_was_not_verified_is_by_the_lock() -> None:
    seated: tuple[Action, Outcome] = (Action(found={"P1": "unverified J1"}, reason="x"), "found")
    tracked = locked(seated)
    (view,) = tracked.fold.views
    assert view.state is State.UP and view.unproven, "it was made doubtful, and no test since"
    (spell,) = asrun_account(tracked, tracked.trace.end_s).outages
    assert (spell.from_s, spell.to_s) == (120, 360)


def test_a_lock_of_what_is_apart_is_still_told() -> None:
    assert [f.rule for f in locked((Action(demate="P1"), "done")).findings][
        -1
    ] == "done-all-the-same"


def test_a_lock_that_was_seen_not_to_hold_is_not_verified_any_more() -> None:
    """What people saw goes before the model: the join is doubtful, and what needs it is down."""
    tracked = locked(outcome="failed")
    config = tracked.fold.config
    assert {config.state_name(config.wiring.by_id[half]) for half in ("P1", "J1")} == {"unverified"}
    (view,) = tracked.fold.views
    assert view.state is State.DOWN
    rules = {f.rule: f for f in tracked.findings}
    assert set(rules) >= {"failed", "found-otherwise"}
    assert rules["failed"].difference == ""
    assert rules["found-otherwise"].expected == "P1 mated J1"


def test_the_connector_log_has_it(log: Path) -> None:
    said = done("also", log, "lock P1", "--who", "ev1", "--witness", "ev2", "--pet", "0:03")
    assert "LOST" not in said and "WARNING" not in said
    (row,) = [r for r in shown("connectors", log)["entries"] if r["half"] == "P1"]
    assert (row["did"], row["state"], row["witness"]) == ("lock", "mated", "bob")
    assert asrun("now", log, "--pet", "0:03").exit_code == 0
