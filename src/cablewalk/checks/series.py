"""Series: the volts that sources and stores one behind the other may put on contacts together."""

from __future__ import annotations

from collections.abc import Iterable

from cablewalk.continuity.graph import chain, net
from cablewalk.continuity.live import Liveness


def volts_with(live: Liveness, feeds: Iterable[int]) -> dict[int, float]:
    """Return, for each of these feeds, the volts it may put on contacts with all in its chain.

    A chain holds every feed whose return another's high may reach, through loads and doubtful
    joins too, and so on from one to the next. All of a chain are summed, though perhaps not all
    of them lie between the contacts touched: the reading that warns. Feeds that merely share a
    return, or a high, are in no chain for that.
    """
    found: dict[int, float] = {}
    for feed in feeds:
        if feed not in found:
            together = _chain(live, feed)
            volts = sum(live.config.wiring.feeds[f].volts for f in together)
            found.update(dict.fromkeys(together, volts))
    return found


def _chain(live: Liveness, feed: int) -> list[int]:
    found = [feed]
    for one in found:
        for other in live.regions:
            if other not in found and (_above(live, one, other) or _above(live, other, one)):
                found.append(other)
    return found


def _above(live: Liveness, upper: int, lower: int) -> bool:
    """Return whether the high of one feed may reach the return of another, not by its high.

    By its high alone the two lie beside each other, not one behind the other.
    """
    wiring = live.config.wiring
    back = wiring.terminals[wiring.feeds[upper].ret].island
    high = wiring.terminals[wiring.feeds[upper].hi].island
    reach = live.regions[lower].live
    if live.components.joined(reach.start, back):
        return True
    if back not in reach.parents:
        return False
    beside = net(live.config, high, sure=True)
    if beside.keys().isdisjoint(chain(reach.parents, back)):
        return True
    if reach.start in beside:
        return False
    seen = {reach.start, *beside}
    stack = [reach.start]
    while stack:
        for island in reach.around(stack.pop()):
            if island not in seen and reach.allowed(island):
                if island == back:
                    return True
                seen.add(island)
                stack.append(island)
    return False
