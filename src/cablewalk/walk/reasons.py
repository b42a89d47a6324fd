"""Reasons: the chain from a step to the line it makes or breaks."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from cablewalk.continuity.services import ServiceChange, State
from cablewalk.continuity.verdict import Verdict
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, Join, Wiring
from cablewalk.schedule.tasks import Task
from cablewalk.walk.trace import Reason

Joined = Sequence[tuple[int, Join]]
"""(half or cap, what its join joins) for each join an action is at work on."""


def joined_pairs(config: Configuration, items: Sequence[int]) -> Joined:
    """Return the joins that the items of an action take part in now, each pair once."""
    wiring = config.wiring
    found = []
    seen: set[int] = set()
    for item in items:
        mate = config.link[item]
        if item in seen or wiring.items[item].kind not in ("half", "cap") or mate == NONE:
            continue
        if config.link[mate] != item or not (wiring.joints[item] and wiring.joints[mate]):
            continue
        seen |= {item, mate}
        told = mate if _told_as(wiring, mate) < _told_as(wiring, item) else item
        found.append((told, wiring.join(item, mate)))
    return found


def _told_as(wiring: Wiring, item: int) -> int:
    """Return a rank: of two joined things a reason names the cap, else the free half."""
    entry = wiring.items[item]
    return _TOLD_FIRST.get(entry.role or entry.kind, 2)


_TOLD_FIRST = {"cap": 0, "free": 1}


def reasons(
    config: Configuration,
    task: Task,
    items: Sequence[int],
    pairs: Joined,
    change: ServiceChange | None,
    lost: bool,
) -> tuple[Reason, ...]:
    """Return why a service stands otherwise, one reason a string or line concerned."""
    wiring = config.wiring
    if change is None:
        return ()
    found: list[Reason] = []
    for string, old, new in change.strings:
        verdict = old if lost else new
        reason = _along_pair(wiring, task, pairs, verdict)
        if reason is None:
            what = _what_else(wiring, verdict, new)
            item = wiring.items[items[0]].id if items else ""
            reason = Reason(task.step_id, task.verb, item, "", what or wiring.strings[string].id)
        if reason not in found:
            found.append(reason)
    if not found:
        needs = [wiring.services[n].id for n in wiring.services[change.service].needs]
        item = wiring.items[items[0]].id if items else ""
        found.append(Reason(task.step_id, task.verb, item, "", f"it needs {', '.join(needs)}"))
    return tuple(found)


def _along_pair(wiring: Wiring, task: Task, pairs: Joined, verdict: Verdict) -> Reason | None:
    for item, join in pairs:
        if join.steps.isdisjoint(verdict.steps):
            continue
        for path in verdict.paths:
            if not join.steps.isdisjoint(map(frozenset, pairwise(path))):
                leg = wiring.leg_of.get(item, NONE)
                harness = wiring.items[wiring.items[leg].owner].id if leg != NONE else ""
                ends = f"{wiring.island_name(path[0])} to {wiring.island_name(path[-1])}"
                return Reason(task.step_id, task.verb, wiring.items[item].id, harness, ends)
    return None


def _what_else(wiring: Wiring, verdict: Verdict, new: Verdict) -> str:
    if verdict.feed != NONE:
        return f"feed {wiring.feeds[verdict.feed].id}"
    return new.troubles[0].text if new.troubles else ""


def loses(change: ServiceChange) -> bool:
    """Return whether a service stands worse than before."""
    return change.after < change.before or (
        change.after is State.REDUCED and any(n.standing < o.standing for _, o, n in change.strings)
    )
