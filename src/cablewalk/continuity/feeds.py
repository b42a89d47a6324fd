"""Feeds: which are up, which may be on."""

from __future__ import annotations

from cablewalk.continuity.components import Components
from cablewalk.machines.compiled import COMPILED
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, FeedLine

SWITCH = COMPILED["switch"].state_index
ON = SWITCH["on"]
OFF = SWITCH["off"]
SURELY_OFF = frozenset({SWITCH["off"], SWITCH["blocked"]})
INSTALLED = COMPILED["unit"].state_index["installed"]


def unit_there(config: Configuration, unit: int) -> bool:
    """Return whether a unit is installed and nobody is at work on it."""
    return config.state[unit] == INSTALLED and not config.moving(unit)


def is_gone(config: Configuration, owner: int) -> bool:
    """Return whether what a terminal belongs to is a unit that is surely not there."""
    if config.wiring.items[owner].kind == "cap":
        return False
    return config.state[owner] != INSTALLED and not config.moving(owner)


def switches_on(config: Configuration, feed: FeedLine, but: int = NONE) -> bool:
    """Return whether every switch of a feed is surely on (``but`` is taken as on)."""
    return all(s == but or (config.state[s] == ON and not config.moving(s)) for s in feed.switches)


def may_be_on(config: Configuration, feed: FeedLine) -> bool:
    """Return whether no switch of a feed is surely off and its unit may be there."""
    if config.state[feed.unit] != INSTALLED and not config.moving(feed.unit):
        return False
    return not any(config.state[s] in SURELY_OFF and not config.moving(s) for s in feed.switches)


class FeedInputs:
    """What reaches the input of each feed that has one."""

    def __init__(self, config: Configuration, components: Components) -> None:
        self.config = config
        self.components = components
        self.reaching: dict[int, tuple[int, ...]] = {}
        """Feed to the feeds surely joined to its input, the right way round."""
        self.find_all()

    def find_all(self) -> None:
        """Find anew what reaches each input; a short across an input lets nothing through."""
        wiring = self.config.wiring
        for n, feed in enumerate(wiring.feeds):
            if feed.input is not None:
                hi, ret = (wiring.terminals[t].island for t in feed.input)
                near = () if self.components.joined(hi, ret) else self._near(n, hi, ret)
                self.reaching[n] = tuple(near)

    def _near(self, number: int, hi: int, ret: int) -> list[int]:
        wiring = self.config.wiring
        accepts = wiring.feeds[number].accepts
        found = []
        for other, end in self.components.feeds_on(hi):
            if end != "hi" or (accepts and other not in accepts):
                continue
            source = wiring.feeds[other]
            ends = (wiring.terminals[source.hi].island, wiring.terminals[source.ret].island)
            if not self.components.joined(ret, ends[1]):
                continue
            if self.components.path(hi, ends[0]) and self.components.path(ret, ends[1]):
                found.append(other)
        return found

    def up(self, assume_on: int = NONE) -> bytearray:
        """Return which feeds are up: the least solution (a loop does not feed itself)."""
        config = self.config
        feeds = config.wiring.feeds
        ready = [
            unit_there(config, feed.unit) and switches_on(config, feed, assume_on) for feed in feeds
        ]
        up = bytearray(1 if ready[n] and feed.input is None else 0 for n, feed in enumerate(feeds))
        changed = True
        while changed:
            changed = False
            for n, sources in self.reaching.items():
                if not up[n] and ready[n] and any(up[s] for s in sources):
                    up[n] = 1
                    changed = True
        return up
