"""Strings: whether one way of providing a service is made, fed, isolated and terminated."""

from __future__ import annotations

from cablewalk.continuity.feeds import ON, unit_there
from cablewalk.continuity.graph import FITTED, Parents, chain, net, sure_path
from cablewalk.continuity.verdict import Standing, Trouble, Verdict
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, STRUCTURE, Conductor, StringLine


class _Judge:
    """Gathers what is wrong with one string."""

    def __init__(self, config: Configuration, string: StringLine) -> None:
        self.config = config
        self.wiring = config.wiring
        self.string = string
        self.troubles: list[Trouble] = []
        self.paths: list[tuple[int, ...]] = []
        self.watched: set[int] = set()

    def trouble(self, kind: str, text: str, path: tuple[int, ...] = (), rule: str = "") -> None:
        self.troubles.append(Trouble(kind, text, path, rule))

    # -- lines ------------------------------------------------------------------------

    def made(self, line: Conductor, a: int, b: int) -> bool:
        """Return whether a line is made between two islands, noting its path."""
        if line.parallel:
            paths = []
            for island in line.parallel:
                others = frozenset(line.parallel) - {island, a, b}
                path = sure_path(
                    self.config, a, b, line.banned | others, (*line.through, frozenset({island}))
                )
                if path is not None:
                    paths.append(path)
            if len(paths) < line.need:
                self.paths.extend(paths)
                return False
            self.paths.extend(paths)
            return True
        path = sure_path(self.config, a, b, line.banned - {a, b}, line.through)
        if path is None:
            return False
        self.paths.append(path)
        return True

    def end_there(self, terminal: int) -> bool:
        """Return whether the thing a terminal belongs to is there."""
        if terminal == NONE:
            return True
        owner = self.wiring.terminals[terminal].owner
        if self.wiring.items[owner].kind == "cap":
            return self.config.state[owner] == FITTED and not self.config.moving(owner)
        return unit_there(self.config, owner)

    def line(self, line: Conductor) -> None:
        """Judge a line that joins two terminals."""
        for terminal in (line.a_terminal, line.b_terminal):
            if not self.end_there(terminal):
                owner = self.wiring.items[self.wiring.terminals[terminal].owner]
                self.trouble("gap", f"{owner.id} is not there")
        for end in {line.a, line.b} - {STRUCTURE}:
            self.watched |= self.isolated(line, end).keys()
        if not self.made(line, line.a, line.b):
            self.trouble("gap", f"{line.name} is not joined")

    # -- isolation --------------------------------------------------------------------

    def isolated(
        self, line: Conductor, start: int, role: str = "", partner: Conductor | None = None
    ) -> Parents:
        """Judge the net of one end of a line; return the net.

        ``role`` is hi or ret for a load's line; what belongs to its ``partner``, the other of
        the two, is judged as a short or as wrong polarity, not here.
        """
        wiring = self.wiring
        parents = net(self.config, start)
        for island in parents:
            if island == STRUCTURE:
                if line.family != wiring.structure_family:
                    self._unwanted(
                        line, "structure", chain(parents, STRUCTURE), "shorted-to-structure"
                    )
                continue
            for terminal in wiring.island_terminals[island]:
                if partner is not None and wiring.terminals[terminal].family == partner.family:
                    continue
                if not self._belongs(terminal, line, role):
                    name = wiring.terminals[terminal].name
                    self._unwanted(line, name, chain(parents, island), "foreign-terminal")
        return parents

    def _belongs(self, terminal: int, line: Conductor, role: str) -> bool:
        wiring = self.wiring
        row = wiring.terminals[terminal]
        if row.family == line.family or line.family in wiring.allowed.get(terminal, ()):
            return True
        if role and wiring.any_power.get(terminal) == role:
            return True
        if role and any(terminal in (f.hi, f.ret) for f in wiring.feeds):
            return True  # judged as a feed: cross-tie, polarity, not listed
        kind = wiring.items[row.owner].kind
        return kind == "unit" and not unit_there(self.config, row.owner)

    def _unwanted(self, line: Conductor, name: str, path: tuple[int, ...], rule: str) -> None:
        self.trouble("unwanted", f"{line.name} is joined to {name}", path, rule)

    # -- power ------------------------------------------------------------------------

    def power(self, up: bytearray) -> int:
        """Judge the feeding of a load; return the feed that feeds it, or NONE."""
        assert self.string.load is not None
        wiring = self.wiring
        hi, ret = self.string.load
        if not self.end_there(hi.a_terminal):
            owner = wiring.items[wiring.terminals[hi.a_terminal].owner]
            self.trouble("gap", f"{owner.id} is not there")
        high = self.isolated(hi, hi.a, "hi", ret)
        back = self.isolated(ret, ret.a, "ret", hi)
        self.watched |= high.keys() | back.keys()
        if ret.a in high:
            self.trouble(
                "unwanted",
                f"{hi.name} is shorted to its return {ret.name}",
                chain(high, ret.a),
                "high-to-return",
            )
        highs = self._feed_faults(high, back)
        feeding = NONE
        cause = "no feed it accepts reaches it"
        for feed in self.string.feeds:
            row = wiring.feeds[feed]
            f_hi, f_ret = wiring.terminals[row.hi].island, wiring.terminals[row.ret].island
            before = len(self.paths)
            if not (self.made(hi, hi.a, f_hi) and self.made(ret, ret.a, f_ret)):
                if f_hi in high or f_ret in back:
                    cause = f"feed {row.id} reaches it on one conductor only, or not surely"
                del self.paths[before:]
                continue
            if feeding == NONE or (up[feed] and not up[feeding]):
                feeding = feed
        if len(highs) > 1:
            self._cross_ties(highs, high)
        if feeding == NONE:
            self.trouble("gap", cause)
        elif not up[feeding]:
            self.trouble("off", f"feed {wiring.feeds[feeding].id} is not up")
        return feeding

    def _feed_faults(self, high: Parents, back: Parents) -> list[int]:
        """Note feeds reaching the wrong way round or unlisted; return those on the high net."""
        wiring = self.wiring
        highs = []
        assert self.string.load is not None
        shorted = self.string.load[1].a in high
        for number, feed in enumerate(wiring.feeds):
            if not self._feed_there(number):
                continue
            f_hi, f_ret = wiring.terminals[feed.hi].island, wiring.terminals[feed.ret].island
            if f_hi in high:
                highs.append(number)
                if number not in self.string.feeds and not self._paralleled(number):
                    self.trouble(
                        "unwanted",
                        f"feed {feed.id} reaches it and is not among its feeds",
                        chain(high, f_hi),
                        "feed-not-listed",
                    )
            for net_of, island, what in ((high, f_ret, "return"), (back, f_hi, "high")):
                if island in net_of and not shorted:
                    side = "high" if what == "return" else "return"
                    self.trouble(
                        "unwanted",
                        f"the {what} of feed {feed.id} reaches its {side}",
                        chain(net_of, island),
                        "wrong-polarity",
                    )
            if f_ret in back and self._foreign_return(number):
                self.trouble(
                    "unwanted",
                    f"the return of feed {feed.id}, which is not among its feeds, reaches it",
                    chain(back, f_ret),
                    "feed-not-listed" if f_hi in high else "foreign-terminal",
                )
        return highs

    def _feed_there(self, number: int) -> bool:
        return unit_there(self.config, self.wiring.feeds[number].unit)

    def _paralleled(self, number: int) -> bool:
        return any(f in self.string.feeds for f in self.wiring.feeds[number].parallel_with)

    def _foreign_return(self, number: int) -> bool:
        assert self.string.load is not None
        wiring = self.wiring
        row = wiring.terminals[wiring.feeds[number].ret]
        return row.family != self.string.load[1].family and not self._paralleled(number)

    def _cross_ties(self, highs: list[int], high: Parents) -> None:
        wiring = self.wiring
        first = highs[0]
        for other in highs[1:]:
            if other not in wiring.feeds[first].parallel_with and (
                wiring.feeds[other].hi != wiring.feeds[first].hi
            ):
                island = wiring.terminals[wiring.feeds[other].hi].island
                self.trouble(
                    "unwanted",
                    f"feed {wiring.feeds[first].id} is tied to {wiring.feeds[other].id}",
                    chain(high, island),
                    "cross-tie",
                )

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
            reach = net(self.config, island, sure=True)
            self.watched |= reach.keys() | {island}
            met = sorted(ends & reach.keys())
            if self.end_there(terminal) and met:
                self.paths.append(chain(reach, met[0]))
            else:
                self.trouble("gap", f"the termination {wiring.terminals[terminal].name} is missing")


def unreached(config: Configuration, string: StringLine) -> list[int]:
    """Return the feeds a string lists that reach neither of its load's terminals."""
    if string.load is None:
        return []
    reach = net(config, string.load[0].a).keys() | net(config, string.load[1].a).keys()
    terminals, feeds = config.wiring.terminals, config.wiring.feeds
    return [
        f
        for f in string.feeds
        if terminals[feeds[f].hi].island not in reach
        and terminals[feeds[f].ret].island not in reach
    ]


def judge(
    config: Configuration, string: StringLine, up: bytearray, up_if_selected: bytearray | None
) -> Verdict:
    """Return the verdict on one string.

    ``up`` says which feeds are up; ``up_if_selected`` says it for the case that the switch
    selecting a cold string were on (None for a hot string).
    """
    found = _Judge(config, string)
    feed = NONE
    for line in string.lines:
        found.line(line)
    if string.load is not None:
        feed = found.power(up)
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
            standing = Standing.AVAILABLE if fed and not others else Standing.DOWN
            name = config.wiring.items[switch].id
            troubles = [*troubles, Trouble("not selected", f"it is cold: {name} is not on")]
            return Verdict(
                standing, tuple(troubles), tuple(found.paths), frozenset(found.watched), feed
            )
    if troubles:
        standing = Standing.DOWN
    return Verdict(standing, tuple(troubles), tuple(found.paths), frozenset(found.watched), feed)
