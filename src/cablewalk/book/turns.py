"""Services that are up for the first time, re-routed, or retired: off for good, by plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from cablewalk.reports.life import TurnRow
from cablewalk.reports.outages import OutagesReport
from cablewalk.timeline.account import Account
from cablewalk.units import clock_up, seconds


@dataclass(frozen=True, slots=True)
class Turn:
    """One service, at the moment of its turn."""

    kind: str
    """``retired``, ``first up`` or ``re-routed``."""
    service: str
    label: str
    """Its label; its kind where it bears none."""
    string: str
    """Of a re-routed service of several strings: which of them."""
    phase_number: int
    """From 1."""
    step: str
    at_min: float
    """Mission elapsed minutes."""
    pet: str
    """Of what is up first, rounded up; else to the nearest minute."""
    why: str
    """The reason that the procedure gives for retiring it; may be empty."""


KINDS: Final = {
    "retired": "Off for good, by plan",
    "first up": "Up for the first time",
    "re-routed": "Re-routed: the same ends by another way",
}
"""Kind to its heading, in the order in which they stand."""


def turns_of(account: Account, report: OutagesReport) -> list[Turn]:
    """Return the turns of the report that a step made, by kind, then by time."""
    rows = {
        "retired": report.retired,
        "first up": report.established,
        "re-routed": report.rerouted,
    }
    return [_turn(account, report, kind, row) for kind in KINDS for row in rows[kind] if row.at_pet]


def _turn(account: Account, report: OutagesReport, kind: str, row: TurnRow) -> Turn:
    assert row.at_pet is not None and row.at_min is not None and row.by_step is not None
    phase = report.phases[row.at_pet.phase_number - 1]
    after_s = seconds(row.at_min) - seconds(phase.zero_min)
    return Turn(
        kind,
        row.service,
        row.label or row.kind.replace("_", " "),
        row.string if row.string and row.string != row.service else "",
        row.at_pet.phase_number,
        row.by_step,
        row.at_min,
        clock_up(after_s) if kind == "first up" else row.at_pet.pet,
        _reason(account, row) if kind == "retired" else "",
    )


def _reason(account: Account, row: TurnRow) -> str:
    assert row.at_pet is not None
    plan = account.trace.phases[row.at_pet.phase_number - 1].plan
    for step in plan.steps:
        for task in step.tasks:
            if step.id == row.by_step and task.action.retire == row.service:
                return task.action.reason
    return ""
