"""A test that fails or proves nothing, for a service is down that the tested one needs."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from cablewalk.continuity.services import State
from cablewalk.findings import Finding, Severity
from cablewalk.replay.wiring import Wiring
from cablewalk.schedule.tasks import Task


def untested(task: Task, service: str, needs: Sequence[str]) -> Finding:
    """Return the finding on a test of a service whose needed services were found down.

    The way out is not in it: that depends on what has these down.
    """
    down = f"{', '.join(needs)}, which it needs, {'was' if len(needs) == 1 else 'were'} found down"
    return Finding(
        "verify-failed",
        Severity.ERROR,
        task.address,
        f"{service} cannot be verified: {down}",
        expected="what a service needs up when it is verified",
        difference=f"the test proves nothing of {service}",
        step=task.step_id,
        items=(service,),
    )


def way_up(
    wiring: Wiring, states: Sequence[State], is_own: Callable[[int], bool], service: int
) -> str:
    """Return which of the services that one needs are to be brought up before it is verified.

    Empty where none of them is down. Those that are down only for another one they need are not
    named: that one is.

    Args:
        wiring: the hardware.
        states: how every service stands.
        is_own: whether a service is down by itself.
        service: the one that is to be verified.
    """
    services = wiring.services
    roots: dict[int, None] = {}
    todo, seen = [service], {service}
    while todo:
        at = todo.pop(0)
        down = [m for m in services[at].needs if states[m] is State.DOWN]
        if at != service and (not down or is_own(at)):
            roots[at] = None
        todo += [m for m in down if m not in seen]
        seen.update(down)
    if not roots:
        return ""
    own, names = services[service].id, " and ".join(services[m].id for m in roots)
    them = "it is" if len(roots) == 1 else "they are"
    too = f"bring {own} up too, for it is down by itself as well, and then verify it"
    then = too if is_own(service) else f"then verify {own}"
    return f"bring {names} up, which {own} needs, or record that {them} found up; {then}"
