"""Trials: what some changes would do to services and to power, taken back afterwards."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from cablewalk.continuity.feeds import may_be_on
from cablewalk.continuity.graph import net
from cablewalk.continuity.services import Continuity, State
from cablewalk.replay.change import Change, Field
from cablewalk.replay.configuration import ALIVE, Configuration

AT_ONCE = ", live at once"


@dataclass(slots=True)
class Harm:
    """What changes on a configuration do: texts by what makes them the same harm."""

    live: dict[tuple[int, str], str] = field(default_factory=dict)
    """(feed, terminal that its high would reach though not its own) to the text."""
    shorts: dict[str, None] = field(default_factory=dict)
    down: dict[str, None] = field(default_factory=dict)
    """Services that would be down and are not."""


class Bench:
    """A configuration with its continuity, on which changes are tried and taken back."""

    def __init__(self, config: Configuration) -> None:
        self.config = config
        self.wiring = config.wiring
        self.continuity = Continuity(config)

    def apply(self, changes: Sequence[Change]) -> None:
        """Apply changes for good."""
        self.config.apply(changes)
        self.continuity.update(changes)

    def harm(self, wanted: dict[int, tuple[int, int]]) -> Harm:
        """Return what setting items to a (state, link) would do; nothing stays changed."""
        config, wiring = self.config, self.wiring
        changes = [
            Change(field, item, config.value(field, item), new)
            for item, (state, link) in wanted.items()
            for field, new in ((Field.STATE, state), (Field.LINK, link))
            if config.value(field, item) != new
        ]
        before = list(self.continuity.states)
        high = {n: self._strangers(n) for n in self._feeds_near(wanted)}
        self.apply(changes)
        found = Harm()
        for n, state in enumerate(self.continuity.states):
            if state is State.DOWN and before[n] is not State.DOWN and config.life[n] == ALIVE:
                found.down[wiring.services[n].id] = None
        for s, (old, new) in sorted(self.continuity.rejudged.items()):
            for trouble in new.troubles:
                if trouble.rule and trouble not in old.troubles:
                    found.shorts[f"{wiring.strings[s].id}: {trouble.text}"] = None
        for n in self._feeds_near(wanted):
            row = wiring.feeds[n]
            now = AT_ONCE if may_be_on(config, row) else f", live once {row.id} is on"
            for name in sorted(self._strangers(n) - high.get(n, set())):
                found.live[n, name] = f"{row.id} ({row.volts:g} V) on {name}{now}"
        config.undo(changes)
        self.continuity.update([change.inverse for change in reversed(changes)])
        return found

    def _feeds_near(self, items: Iterable[int]) -> list[int]:
        """Return the feeds whose high is in the net of one of these items' contacts."""
        of = self.continuity.components.of
        near = {id(of[i]) for item in items for i in self.wiring.joints[item]}
        terminals = self.wiring.terminals
        return [
            n for n, row in enumerate(self.wiring.feeds) if id(of[terminals[row.hi].island]) in near
        ]

    def _strangers(self, feed: int) -> set[str]:
        """Return the terminals joined to a feed's high that no service means to be there."""
        terminals = self.wiring.terminals
        row = terminals[self.wiring.feeds[feed].hi]
        return {
            terminals[t].name
            for island in net(self.config, row.island)
            for t in self.wiring.island_terminals[island]
            if terminals[t].family != row.family
        }
