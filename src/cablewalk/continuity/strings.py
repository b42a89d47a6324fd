"""Strings: whether one way of providing a service is made, fed, isolated and terminated."""

from __future__ import annotations

from itertools import combinations

from cablewalk.continuity.components import Components
from cablewalk.continuity.feeds import INSTALLED, OFF, ON, is_gone
from cablewalk.continuity.graph import FITTED, chain, net
from cablewalk.continuity.verdict import Standing, Trouble, Verdict
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, STRUCTURE, Conductor, StringLine


class _Judge:
    """Gathers what is wrong with one string."""

    def __init__(self, config: Configuration, components: Components, string: StringLine) -> None:
        self.config = config
        self.components = components
        self.wiring = config.wiring
        self.string = string
        self.troubles: list[Trouble] = []
        self.paths: list[tuple[int, ...]] = []

    def trouble(self, kind: str, text: str, path: tuple[int, ...] = (), rule: str = "") -> None:
        self.troubles.append(Trouble(kind, text, path, rule))

    # -- lines ------------------------------------------------------------------------

    def made(self, line: Conductor, a: int, b: int) -> bool:
        """Return whether a line is made between two islands, noting its path."""
        if line.parallel:
            paths = []
            for island in line.parallel:
                others = frozenset(line.parallel) - {island, a, b}
                path = self.components.path(
                    a, b, line.banned | others, (*line.through, frozenset({island}))
                )
                if path is not None:
                    paths.append(path)
            self.paths.extend(paths)
            return len(paths) >= line.need
        banned = line.banned - {a, b} if line.banned else line.banned
        path = self.components.path(a, b, banned, line.through)
        if path is None:
            return False
        self.paths.append(path)
        return True

    def end_there(self, terminal: int) -> bool:
        """Return whether the thing a terminal belongs to is there."""
        if terminal == NONE:
            return True
        config, owner = self.config, self.wiring.terminals[terminal].owner
        there = FITTED if self.wiring.items[owner].kind == "cap" else INSTALLED
        return config.state[owner] == there and not config.moving(owner)

    def line(self, line: Conductor) -> None:
        """Judge a line that joins two terminals."""
        wiring = self.wiring
        for terminal in (line.a_terminal, line.b_terminal):
            if not self.end_there(terminal):
                owner = wiring.items[wiring.terminals[terminal].owner]
                self.trouble("gap", f"{owner.id} is not there")
        a, b, of = line.a, line.b, self.components.of
        joined = self.components.joined(a, b)
        self.isolated(line, a if a != STRUCTURE else b)
        if not joined and STRUCTURE not in (a, b):
            self.isolated(line, b)
        if not (joined and self.made(line, a, b)):
            self.trouble("gap", f"{line.name} is not joined")
        if len(of[a].special) < 2 and len(of[b].special) < 2:
            return  # no two feeds to tie
        for end in {id(of[i]): i for i in (b, a) if i != STRUCTURE}.values():
            if len(of[end].special) > 1:
                found = [n for n, side in self.components.feeds_on(end) if side == "hi"]
                self._cross_ties(end, [n for n in found if not self._gone(wiring.feeds[n].unit)])

    # -- isolation --------------------------------------------------------------------

    def isolated(
        self, line: Conductor, start: int, role: str = "", shorted_to: Conductor | None = None
    ) -> None:
        """Judge the net of one end of a line.

        ``role`` is hi or ret for a load's line. Where high and return are shorted, what belongs
        to the other of the two is told as that short, not here.
        """
        wiring = self.wiring
        net_of = self.components.of[start]
        if net_of.holds_only(line.family):
            return
        if net_of.to_structure and line.family != wiring.structure_family:
            self._unwanted(line, start, STRUCTURE, "structure", "shorted-to-structure")
        own = {line.family} if shorted_to is None else {line.family, shorted_to.family}
        foreign: list[int] = []
        if not net_of.families.keys() <= own:
            for island in sorted(net_of.islands):
                foreign += [
                    terminal
                    for terminal in wiring.island_terminals[island]
                    if terminal not in self.components.special
                    and wiring.terminals[terminal].family not in own
                    and not self._gone(wiring.terminals[terminal].owner)
                ]
        foreign += sorted(
            terminal
            for terminal in net_of.special
            if wiring.terminals[terminal].family not in own
            and not self._may_belong(terminal, line, role)
        )
        if foreign:
            first = wiring.terminals[foreign[0]]
            more = f" and {len(foreign) - 1} more" if len(foreign) > 1 else ""
            self._unwanted(line, start, first.island, first.name + more, "foreign-terminal")

    def _may_belong(self, terminal: int, line: Conductor, role: str) -> bool:
        """Return whether a terminal of another family may be on a line's net all the same."""
        wiring = self.wiring
        if line.family in wiring.allowed.get(terminal, ()):
            return True
        if role and wiring.any_power.get(terminal) == role:
            return True
        if role and terminal in self.components.feeds_at:
            return True  # judged as a feed: cross-tie, polarity, not listed
        return self._gone(wiring.terminals[terminal].owner)

    def _gone(self, owner: int) -> bool:
        return is_gone(self.config, owner)

    def _unwanted(self, line: Conductor, start: int, island: int, name: str, rule: str) -> None:
        path = chain(net(self.config, start), island)
        self.trouble("unwanted", f"{line.name} is joined to {name}", path, rule)

    # -- power ------------------------------------------------------------------------

    def power(self, up: bytearray, selected: bytearray) -> int:
        """Judge the feeding of a load; return the feed that feeds it best, or NONE.

        A feed that is up is better than one that would be if the string were selected.
        """
        assert self.string.load is not None
        wiring, joined = self.wiring, self.components.joined
        hi, ret = self.string.load
        if not self.end_there(hi.a_terminal):
            owner = wiring.items[wiring.terminals[hi.a_terminal].owner]
            self.trouble("gap", f"{owner.id} is not there")
        shorted = joined(hi.a, ret.a)
        self.isolated(hi, hi.a, "hi", ret if shorted else None)
        self.isolated(ret, ret.a, "ret", hi if shorted else None)
        if shorted:
            self._wrong(
                hi.a, ret.a, f"{hi.name} is shorted to its return {ret.name}", "high-to-return"
            )
        self._feed_faults(shorted)
        feeding = NONE
        cause = "no feed it accepts reaches it"
        for feed in self.string.feeds:
            row = wiring.feeds[feed]
            f_hi, f_ret = wiring.terminals[row.hi].island, wiring.terminals[row.ret].island
            before = len(self.paths)
            if not (joined(hi.a, f_hi) and joined(ret.a, f_ret)):
                if joined(hi.a, f_hi) or joined(ret.a, f_ret):
                    cause = f"feed {row.id} reaches it on one conductor only"
                continue
            if not (self.made(hi, hi.a, f_hi) and self.made(ret, ret.a, f_ret)):
                cause = f"feed {row.id} does not reach it surely, or not by its own way"
                del self.paths[before:]
                continue
            if feeding == NONE or (up[feed], selected[feed]) > (up[feeding], selected[feeding]):
                feeding = feed
        if feeding == NONE:
            self.trouble("gap", cause)
        elif not up[feeding]:
            self.trouble("off", f"feed {wiring.feeds[feeding].id} is not up")
        return feeding

    def _wrong(self, start: int, island: int, text: str, rule: str) -> None:
        self.trouble("unwanted", text, chain(net(self.config, start), island), rule)

    def _feed_faults(self, shorted: bool) -> None:
        """Note feeds that reach the wrong way round, unlisted, or tied to one another."""
        assert self.string.load is not None
        wiring = self.wiring
        hi, ret = self.string.load
        highs = []
        for number, end in self.components.feeds_on(hi.a):
            feed = wiring.feeds[number]
            if self._gone(feed.unit):
                continue
            if end == "ret":
                if not shorted:
                    text = f"the return of feed {feed.id} reaches its high"
                    self._wrong(hi.a, wiring.terminals[feed.ret].island, text, "wrong-polarity")
                continue
            highs.append(number)
            if number not in self.string.feeds:
                text = f"feed {feed.id} reaches it and is not among its feeds"
                self._wrong(hi.a, wiring.terminals[feed.hi].island, text, "feed-not-listed")
        for number, end in self.components.feeds_on(ret.a):
            feed = wiring.feeds[number]
            if self._gone(feed.unit):
                continue
            if end == "hi":
                if not shorted:
                    text = f"the high of feed {feed.id} reaches its return"
                    self._wrong(ret.a, wiring.terminals[feed.hi].island, text, "wrong-polarity")
            elif self._foreign_return(number):
                text = f"the return of feed {feed.id}, which is not among its feeds, reaches it"
                rule = "feed-not-listed" if number in highs else "foreign-terminal"
                self._wrong(ret.a, wiring.terminals[feed.ret].island, text, rule)
        self._cross_ties(hi.a, highs)

    def _foreign_return(self, number: int) -> bool:
        assert self.string.load is not None
        wiring = self.wiring
        row = wiring.terminals[wiring.feeds[number].ret]
        return row.family != self.string.load[1].family

    def _cross_ties(self, start: int, highs: list[int]) -> None:
        """Note the feeds that are tied to one another on the net of an island."""
        wiring = self.wiring
        for one, other in combinations(highs, 2):
            if other not in wiring.feeds[one].parallel_with and (
                wiring.feeds[other].hi != wiring.feeds[one].hi
            ):
                text = f"feed {wiring.feeds[one].id} is tied to {wiring.feeds[other].id}"
                island = wiring.terminals[wiring.feeds[other].hi].island
                self._wrong(start, island, text, "cross-tie")

    # -- terminations -----------------------------------------------------------------

    def terminations(self) -> None:
        """Judge that every terminating terminal is joined to one of the string's lines."""
        wiring = self.wiring
        if not self.string.terminated:
            return
        ends = {line.a for line in (*self.string.lines, *(self.string.load or ()))} - {STRUCTURE}
        ends |= {line.b for line in self.string.lines} - {STRUCTURE}
        for terminal in self.string.terminated:
            island = wiring.terminals[terminal].island
            path = None
            if self.end_there(terminal):
                paths = (
                    self.components.path(island, end)
                    for end in sorted(ends)
                    if self.components.joined(island, end)
                )
                path = next((p for p in paths if p is not None), None)
            if path is not None:
                self.paths.append(path)
            else:
                self.trouble("gap", f"the termination {wiring.terminals[terminal].name} is missing")


def judge(
    config: Configuration,
    components: Components,
    string: StringLine,
    up: bytearray,
    up_if_selected: bytearray | None,
    commandable: bool = True,
) -> Verdict:
    """Return the verdict on one string.

    ``up`` says which feeds are up; ``up_if_selected`` says it for the case that the switch
    selecting a cold string were on (None for a hot string); ``commandable`` whether that switch
    can be commanded. A spare whose switch is blocked, tripped, unknown or out of command is not
    available.
    """
    found = _Judge(config, components, string)
    feed = NONE
    for line in string.lines:
        found.line(line)
    if string.load is not None:
        feed = found.power(up, up_if_selected or up)
    found.terminations()
    standing = Standing.UP
    troubles = found.troubles
    if string.cold:
        switch = string.selected_by
        if not (config.state[switch] == ON and not config.moving(switch)):
            others = [t for t in troubles if t.kind != "off"]
            fed = string.load is None or (
                up_if_selected is not None and feed != NONE and bool(up_if_selected[feed])
            )
            name = config.wiring.items[switch].id
            ready = config.state[switch] == OFF and commandable
            standing = Standing.AVAILABLE if fed and ready and not others else Standing.DOWN
            why = f"it is cold: {name} is not on"
            if not ready:
                why += f", and cannot be switched on as it is ({config.state_name(switch)})"
            troubles = [*troubles, Trouble("not selected", why)]
            return Verdict(standing, tuple(troubles), tuple(found.paths), feed)
    if troubles:
        standing = Standing.DOWN
    return Verdict(standing, tuple(troubles), tuple(found.paths), feed)
