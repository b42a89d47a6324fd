"""Switches."""

from __future__ import annotations

from cablewalk.replay.attempt import Attempt
from cablewalk.replay.wiring import NONE

REMOTE = frozenset({"inside", "ground"})


def commandable(attempt: Attempt, switch: int) -> None:
    """Refuse where a switch can be neither commanded nor reached."""
    wiring = attempt.wiring
    service = wiring.command_service.get(switch, NONE)
    if service != NONE and attempt.is_down(service):
        raise attempt.refuse(
            switch,
            f"{attempt.named(switch)} is commanded through {wiring.services[service].id}, which is "
            "down",
            f"{wiring.services[service].id} up",
            blame=(),
            service=service,
        )
    remote = all(wiring.items[w].role in REMOTE for w in attempt.workers)
    if switch in wiring.by_hand or not remote:
        attempt.reach(switch)


def operate(attempt: Attempt, name: str, event: str) -> None:
    """Send a switch through an event: switch_off, switch_on, block, unblock or reset."""
    switch = attempt.known(name, "switch")
    commandable(attempt, switch)
    # Blocking what is off, or switching off again, can make nothing live meanwhile.
    state = attempt.state(switch)
    quiet = (state in ("off", "blocked") and event != "switch_on") or (
        state == "on" and event == "switch_on"
    )
    attempt.event(switch, event, moves=not quiet)
