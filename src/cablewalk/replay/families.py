"""Families: which terminals some service means to be joined."""

from __future__ import annotations

from cablewalk.replay.joiner import Merger
from cablewalk.replay.wiring import NONE, Wiring


def set_families(wiring: Wiring) -> None:
    """Give every terminal its family, and every line the family of its ends.

    Two terminals belong together when a line, a load with an accepted feed, or two feeds in
    parallel say so; so do the ends of services already retired. A terminating terminal is
    allowed in every family of the strings that name it; the input of a converter that takes any
    feed is allowed on any power net, high on high. Family 0 is structure's.
    """
    merger = Merger()
    merger.nodes(len(wiring.terminals))

    def node(terminal: int) -> int:
        return 0 if terminal == NONE else terminal + 1

    for string in wiring.strings:
        for line in string.lines:
            merger.join(node(line.a_terminal), node(line.b_terminal))
        if string.load is not None:
            hi, ret = string.load
            for number in string.feeds:
                merger.join(node(hi.a_terminal), node(wiring.feeds[number].hi))
                merger.join(node(ret.a_terminal), node(wiring.feeds[number].ret))
    for feed in wiring.feeds:
        for other in feed.parallel_with:
            merger.join(node(feed.hi), node(wiring.feeds[other].hi))
            merger.join(node(feed.ret), node(wiring.feeds[other].ret))
        if feed.grounded:
            merger.join(node(feed.ret), 0)
        if feed.input is not None:
            if not feed.accepts:
                wiring.any_power[feed.input[0]] = "hi"
                wiring.any_power[feed.input[1]] = "ret"
            for source in feed.accepts:
                merger.join(node(feed.input[0]), node(wiring.feeds[source].hi))
                merger.join(node(feed.input[1]), node(wiring.feeds[source].ret))
    for n, terminal_row in enumerate(wiring.terminals):
        terminal_row.family = merger.root(n + 1)
    wiring.structure_family = merger.root(0)
    allowed: dict[int, set[int]] = {}
    for string in wiring.strings:
        own = {merger.root(node(line.a_terminal)) for line in [*string.lines, *(string.load or ())]}
        for line in [*string.lines, *(string.load or ())]:
            line.family = merger.root(node(line.a_terminal))
        for terminal in string.terminated:
            allowed.setdefault(terminal, set()).update(own)
    wiring.allowed = {terminal: frozenset(families) for terminal, families in allowed.items()}
