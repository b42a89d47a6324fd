"""Regions: what one feed may make live, and how that changed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from cablewalk.continuity.reach import Reach


@dataclass(slots=True)
class Region:
    """All that one feed may make live, and the reference at which that stops."""

    reference: Reach
    live: Reach
    shorted: bool
    """High and return are joined, surely or doubtfully: there is no reference to stop at."""
    support: Reach | None = None
    """Of a feed that needs its own input: what may keep inputs live, without passing back
    through converters, which would else all keep themselves live."""


class Heat(NamedTuple):
    """Islands that became live, and ceased to be, in one update."""

    gained: frozenset[int] = frozenset()
    gone: frozenset[int] = frozenset()
    stirred: frozenset[int] = frozenset()
    """Islands that other feeds than before make live, those gained included."""


def book(table: dict[int, set[int]], feed: int, gained: Sequence[int], gone: Sequence[int]) -> None:
    """Enter a feed where it gained an island, strike it where it lost one for good."""
    if gained and gone:
        net = Counter(gained)
        net.subtract(gone)
        gained = [island for island, change in net.items() if change > 0]
        gone = [island for island, change in net.items() if change < 0]
    for island in gained:
        feeds = table.get(island)
        if feeds is None:
            table[island] = {feed}
        else:
            feeds.add(feed)
    for island in gone:
        feeds = table[island]
        feeds.discard(feed)
        if not feeds:
            del table[island]
