"""What is to be said of outages: dark and nobody knows why, verified before they are over."""

from __future__ import annotations

from collections.abc import Sequence

from cablewalk.continuity.services import State
from cablewalk.findings import Address, Findings
from cablewalk.timeline.spells import Spell
from cablewalk.units import clock, minutes
from cablewalk.walk.trace import Trace


def said_dark(trace: Trace, spells: Sequence[Spell], findings: Findings) -> None:
    """Note each service that the baseline says is dark, and that nothing in it explains.

    One that was found down is so whatever its joins: they do not explain it.
    """
    for spell in spells:
        if spell.said != trace.wiring.services[spell.service].id:
            continue
        row = trace.wiring.services[spell.service]
        by_joins = trace.start_views[spell.service].state is State.DOWN
        findings.warning(
            "dark-unexplained",
            Address(0, row.path),
            f"{row.id} is said to be dark ({spell.said_as}), and "
            + ("not only by its joins" if by_joins else "all it needs is joined, on and fed"),
            expected="a join, a switch or a feed that says why it is dark",
            difference="it is taken to be down until the plan verifies it"
            if spell.to_s is None
            else f"it is taken to be down until it is verified at {clock(spell.to_s)}",
            way_out="find out why, and write it under 'now'; or verify it, or take "
            f"{spell.said_as} out",
            items=(row.id,),
        )


def verified_early(trace: Trace, spells: Sequence[Spell], findings: Findings) -> None:
    """Note each verify that comes while a service still recovers: it proves nothing."""
    for spell in spells:
        event = spell.restored_by
        if spell.to_s is None or spell.retired or event is None:
            continue
        for service, time_s in trace.verified:
            if service == spell.service and event.time_s <= time_s < spell.to_s:
                if held_dark(trace, spells, service, time_s):
                    continue  # told with what it waits for
                row = trace.wiring.services[service]
                findings.warning(
                    "verified-early",
                    Address(0, row.path),
                    f"{row.id} is verified at {clock(time_s)}, before it is back",
                    expected=f"a verify at {clock(spell.to_s)} or later",
                    difference=f"recovery_min is {minutes(row.recovery_s):g}",
                    way_out="wait for its recovery, then verify",
                    items=(row.id,),
                )


def held_dark(trace: Trace, spells: Sequence[Spell], service: int, time_s: int) -> list[Spell]:
    """Return the outages, held until a verify, of services one needs that last at a time.

    Those that the baseline says are dark though nothing in it explains it (``Spell.said``).
    """
    services = trace.wiring.services
    todo, needed = list(services[service].needs), set[int]()
    while todo:
        n = todo.pop()
        if n not in needed:
            needed.add(n)
            todo += services[n].needs
    return [
        spell
        for spell in spells
        if spell.service in needed
        and spell.said == services[spell.service].id
        and spell.lasts_at(time_s)
    ]


def verified_in_vain(trace: Trace, spells: Sequence[Spell], findings: Findings) -> None:
    """Note each verify of a service while one it needs is held dark: it proves nothing."""
    at = {
        (event.task.action.verify, event.time_s): event
        for event in trace.events
        if not event.begins and isinstance(event.task.action.verify, str)
    }
    for service, time_s in trace.verified:
        held = held_dark(trace, spells, service, time_s)
        if not held:
            continue
        row = trace.wiring.services[service]
        event = at[(row.id, time_s)]
        names = _named(trace, held)
        keys = " and ".join(sorted({spell.said_as for spell in held}))
        never = [spell for spell in held if spell.to_s is None or spell.retired]
        last = max(spell.to_s or 0 for spell in held)
        findings.error(
            "verified-in-vain",
            event.task.address,
            f"{row.id} is verified while {names}, which it needs, "
            f"{'is' if len(held) == 1 else 'are'} said to be dark ({keys})",
            expected=f"{names} verified before it",
            difference=f"the plan verifies {_named(trace, never)} nowhere after it"
            if never
            else f"{names} not verified before {clock(last)}",
            way_out=f"verify {names} first, then {row.id} once it has recovered; or take {names} "
            f"out of {keys}",
            step=event.task.step_id,
            items=(row.id,),
        )


def _named(trace: Trace, spells: Sequence[Spell]) -> str:
    return " and ".join(trace.wiring.services[spell.service].id for spell in spells)
