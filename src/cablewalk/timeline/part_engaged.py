"""Halves that the work of a log leaves, or will leave, part-engaged."""

from __future__ import annotations

from cablewalk.findings import Address, Finding, Severity
from cablewalk.replay.configuration import Configuration
from cablewalk.walk.asrun_state import Phase


def left_part_engaged(config: Configuration, phase: Phase) -> list[Finding]:
    """Return an error for each pair of halves that a phase leaves part-engaged."""
    wiring, found = config.wiring, []
    for half in wiring.ids("half"):
        mate = config.link[half]
        if config.state_name(half) != "part_engaged" or half > mate:
            continue
        one, other = wiring.items[half], wiring.items[mate]
        found.append(
            Finding(
                "part-engaged-at-end",
                Severity.ERROR,
                Address(phase.number + 1),
                f"{one.named} is left part-engaged with {other.named}: each contact may touch or "
                "not",
                expected="mated with its lock verified, or demated and capped",
                difference="it is neither: its contacts count as whichever is worse",
                way_out=f"finish the mate of {one.id} and {other.id}, or demate them",
                items=(one.id, other.id),
            )
        )
    return found
