"""What is to be said of outages: dark and nobody knows why, verified before they are over."""

from __future__ import annotations

from collections.abc import Sequence

from cablewalk.findings import Address, Findings
from cablewalk.timeline.spells import Spell
from cablewalk.units import clock, minutes
from cablewalk.walk.trace import Trace


def said_dark(trace: Trace, spells: Sequence[Spell], findings: Findings) -> None:
    """Note each service that the baseline says is dark, and that nothing in it explains."""
    for spell in spells:
        if spell.said != trace.wiring.services[spell.service].id:
            continue
        row = trace.wiring.services[spell.service]
        findings.warning(
            "dark-unexplained",
            Address(0, row.path),
            f"{row.id} is said to be dark (dark_min), and all it needs is joined, on and fed",
            expected="a join, a switch or a feed that says why it is dark",
            difference="it is taken to be down until the plan verifies it"
            if spell.to_s is None
            else f"it is taken to be down until it is verified at {clock(spell.to_s)}",
            way_out="find out why, and write it under 'now'; or verify it, or take dark_min out",
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
