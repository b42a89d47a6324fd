"""The account of a replay: its trace, with outages, clocks and routes worked out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from cablewalk.continuity.services import State
from cablewalk.documents.baseline import Baseline
from cablewalk.documents.procedure import Procedure
from cablewalk.findings import Finding, Findings
from cablewalk.replay.configuration import ALIVE
from cablewalk.timeline.clocks import Reading, exceeded, read_clocks
from cablewalk.timeline.lesser import StringsLeft, lesser_spells, strings_left
from cablewalk.timeline.routes import Turn, bystanders, not_yet_up, turns
from cablewalk.timeline.spell_findings import said_dark, verified_early, verified_in_vain
from cablewalk.timeline.spells import Spell, outages_of
from cablewalk.walk.run import Ground, ready, replay
from cablewalk.walk.trace import Trace, View


@dataclass(frozen=True, slots=True)
class Account:
    """Everything a report tells of a replay."""

    ground: Ground
    procedures: tuple[Procedure, ...]
    trace: Trace
    outages: tuple[Spell, ...]
    readings: dict[int, list[Reading]]
    """Position of an outage to the readings of its clocks."""
    lesser: tuple[Spell, ...]
    strings_left: tuple[StringsLeft, ...]
    turns: tuple[Turn, ...]
    bystanders: tuple[int, ...]

    @property
    def findings(self) -> Findings:
        """All findings of documents, replay and clocks."""
        return self.trace.findings


def account(
    baseline: Baseline,
    procedures: Sequence[Procedure] = (),
    keep_going: bool = False,
    get_aheads: int = 0,
) -> Account:
    """Replay procedures on a baseline and work out what it did to the services.

    Where the documents have faults that forbid a replay, the account is empty but for the
    findings, and ``trace.unusable`` is set.
    """
    ground = ready(baseline)
    trace = replay(ground, procedures, keep_going, get_aheads)
    if trace.unusable:
        return Account(ground, tuple(procedures), trace, (), {}, (), (), (), ())
    spells = outages_of(trace, baseline.now)
    said_dark(trace, spells, trace.findings)
    readings = read_clocks(baseline, trace, spells)
    exceeded(trace, spells, readings, trace.findings)
    verified_early(trace, spells, trace.findings)
    verified_in_vain(trace, spells, trace.findings)
    turned = turns(trace, spells)
    return Account(
        ground,
        tuple(procedures),
        trace,
        tuple(spells),
        readings,
        tuple(lesser_spells(trace, not_yet_up(spells, turned))),
        tuple(strings_left(trace)),
        tuple(turned),
        tuple(bystanders(trace, spells, turned)),
    )


def with_findings(account: Account, more: Iterable[Finding]) -> Account:
    """Return an account that has more findings; the one given stays as it is."""
    trace = account.trace
    findings = Findings([*trace.findings, *more])
    return replace(account, trace=replace(trace, findings=findings))


def held_at(account: Account, time_s: int) -> dict[int, Spell]:
    """Return the services held dark at a time (``Spell.said``), each with that outage."""
    return {
        spell.service: spell for spell in account.outages if spell.said and spell.lasts_at(time_s)
    }


def believed(account: Account, views: Sequence[View], time_s: int) -> tuple[View, ...]:
    """Return how services stand at a time, those held dark as down.

    The model has them up: only the baseline says that they are dark (``Spell.said``).
    """
    held = held_at(account, time_s)
    return tuple(
        view._replace(state=State.DOWN, unproven=()) if n in held and view.life == ALIVE else view
        for n, view in enumerate(views)
    )
