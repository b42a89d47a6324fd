"""What could make contacts live, and the inhibit that would make them dead."""

from __future__ import annotations

from collections.abc import Iterable

from cablewalk.checks.touches import Touch
from cablewalk.documents.inhibits import Every, Expression, Fact, Some
from cablewalk.replay.wiring import Wiring


def dead(wiring: Wiring, touch: Touch, feed: int, seen: frozenset[int] = frozenset()) -> Expression:
    """Return the condition under which a feed cannot make contacts live.

    One of its switches is off, or all that could reach its input is dead. A feed that only
    keeps itself alive is dead.
    """
    row = wiring.feeds[feed]
    ways: list[Expression] = [Fact(wiring.items[s].id, "off") for s in row.switches]
    if row.input is not None:
        sources = [s for s in touch.upstream.get(feed, ()) if s not in seen]
        above = seen | {feed}
        ways.append(Every(tuple(dead(wiring, touch, s, above) for s in sources)))
    return Some(tuple(ways))


def proposal(wiring: Wiring, touch: Touch, feeds: Iterable[int]) -> tuple[str, tuple[str, ...]]:
    """Return the inhibit that makes these feeds dead, and the feeds no switch can make dead.

    One switch a feed: one that is off already, else the one nearest to the contacts.
    """
    chosen: dict[str, None] = {}
    beyond = []
    for feed in feeds:
        switches = _switches(wiring, touch, feed, frozenset())
        if switches is None:
            beyond.append(wiring.feeds[feed].id)
            continue
        chosen.update(dict.fromkeys(wiring.items[s].id for s in switches))
    return " and ".join(f"{name} blocked" for name in chosen), tuple(beyond)


def _switches(
    wiring: Wiring, touch: Touch, feed: int, seen: frozenset[int]
) -> tuple[int, ...] | None:
    """Return switches that make a feed dead; None where there are none."""
    row = wiring.feeds[feed]
    if row.switches:
        off = [s for s in row.switches if s in touch.off]
        return ((off or list(row.switches))[-1],)
    if row.input is None:
        return None
    found: list[int] = []
    for source in touch.upstream.get(feed, ()):
        if source in seen:
            continue
        inner = _switches(wiring, touch, source, seen | {feed})
        if inner is None:
            return None
        found.extend(inner)
    return tuple(found)


def killers(wiring: Wiring, touch: Touch) -> set[str]:
    """Return the ids of all switches that stand before what could reach the contacts."""
    feeds = {*touch.reach, *touch.upstream, *(s for u in touch.upstream.values() for s in u)}
    return {wiring.items[s].id for feed in feeds for s in wiring.feeds[feed].switches}


def at_stake(touch: Touch, volts: float | None) -> tuple[int, ...]:
    """Return the feeds that could reach a touch with ``volts`` or more (any, for None).

    Feeds that may be in series with one another count with the sum of their volts.
    """
    return tuple(f for f in touch.reach if volts is None or touch.volts[f] >= volts)
