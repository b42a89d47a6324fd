"""Whether any feed could be shorted, or tied to another, in a replay: without solving anything.

Every join that is ever made counts as made all the time. Where that joins no feed's high to its
return, nor to another feed, no moment of the replay can; where it does, the circuits are looked at
moment by moment (:mod:`cablewalk.timeline.electrical`). So documents without draws are judged for
shorts too, and those that cannot short are told at once.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from cablewalk.replay.change import Change, Field
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, Wiring


def could_short(start: Configuration, changes: Iterable[Change]) -> bool:
    """Return whether the joins there are, and those that changes make, could short a feed.

    Or tie two that are not meant to be joined.
    """
    wiring = start.wiring
    feeds, terminals = wiring.feeds, wiring.terminals
    mates = _mates(start, changes)
    returns = {terminals[feed.ret].island for feed in feeds}
    for n, feed in enumerate(feeds):
        reached = _reached(wiring, mates, terminals[feed.hi].island)
        if not reached.isdisjoint(returns):
            return True
        for other in range(n):
            line = feeds[other]
            if other in feed.parallel_with or line.hi == feed.hi:
                continue
            if terminals[line.hi].island in reached:
                return True
    return False


def _mates(start: Configuration, changes: Iterable[Change]) -> Mapping[int, set[int]]:
    """Return half or cap to whatever it is ever linked with."""
    mates = {item: {mate} for item, mate in enumerate(start.link) if mate != NONE}
    for field, item, _, new in changes:
        if field == Field.LINK and isinstance(new, int) and new != NONE:
            mates.setdefault(item, set()).add(new)
    return mates


def _reached(wiring: Wiring, mates: Mapping[int, set[int]], start: int) -> set[int]:
    """Return the islands joined to one by all that is ever mated, through structure too."""
    joints, stubs = wiring.joints, wiring.stubs
    reached = {start}
    stack = [start]
    while stack:
        for item, position in wiring.sites[stack.pop()]:
            for mate in mates.get(item, ()):
                # A cap that only hangs on its half's tether is linked one way only.
                if item not in mates.get(mate, ()) or position >= len(joints[mate]):
                    continue
                other = joints[mate][position]
                if other not in reached and other not in stubs:
                    reached.add(other)
                    stack.append(other)
    return reached
