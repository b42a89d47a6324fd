"""What runs over what: the islands of cables, and the services that ever ride on them."""

from __future__ import annotations

from cablewalk.continuity.services import State
from cablewalk.replay.wiring import NONE, STRUCTURE
from cablewalk.timeline.account import Account
from cablewalk.walk.harness_tree import hard_wired_ends
from cablewalk.walk.trace import View


def islands_of(view: View) -> set[int]:
    """Return the islands that a service runs over."""
    return {island for paths in view.via for path in paths for island in path}


def ridden(view: View) -> set[int]:
    """Return the islands that a service runs over now: none while it is down."""
    return set() if view.state is State.DOWN else islands_of(view)


def cable_islands(account: Account) -> dict[int, frozenset[int]]:
    """Return the islands of each harness: of its halves, and where it is wired to a unit."""
    wiring = account.trace.wiring
    found: dict[int, set[int]] = {}
    for harness, legs in wiring.legs_of.items():
        halves = [wiring.half_of[leg] for leg in legs if leg in wiring.half_of]
        found[harness] = set[int]().union(*(wiring.joints[half] for half in halves))
    for island, legs in hard_wired_ends(account.ground.baseline, wiring).items():
        for leg in legs:
            found[wiring.items[leg].owner].add(island)
    return {h: frozenset(islands - {STRUCTURE, NONE}) for h, islands in found.items()}


def carried_by(account: Account, cables: dict[int, frozenset[int]]) -> dict[int, tuple[int, ...]]:
    """Return which services ever run over each half, and each harness with its islands.

    Islands of a harness are its own: what is joined for good stays within one piece of hardware.
    """
    trace = account.trace
    wiring = trace.wiring
    islands: list[set[int]] = [set() for _ in wiring.services]
    views = [*enumerate(trace.start_views)]
    views += [(s.service, s.after) for event in trace.events for s in event.shifts]
    for service, view in views:
        islands[service] |= islands_of(view)
    riding: dict[int, set[int]] = {}
    for n, via in enumerate(islands):
        for island in via:
            riding.setdefault(island, set()).add(n)
    found: dict[int, tuple[int, ...]] = {}
    for half in wiring.ids("half"):
        own = set(wiring.joints[half]) - {STRUCTURE, NONE}
        found[half] = tuple(sorted(set[int]().union(*(riding.get(i, ()) for i in own))))
    for harness, own_islands in cables.items():
        riders = (riding.get(i, ()) for i in own_islands)
        found[harness] = tuple(sorted(set[int]().union(*riders)))
    return found
