"""What is watched at every event: live contacts, unwanted joins."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from cablewalk.continuity.graph import BARE, PART_ENGAGED
from cablewalk.continuity.live import Liveness
from cablewalk.continuity.services import Continuity
from cablewalk.continuity.touched import Touched
from cablewalk.findings import Address, Finding, Severity
from cablewalk.replay.change import Change
from cablewalk.replay.configuration import RETIRED, Configuration
from cablewalk.replay.wiring import NONE, STRUCTURE
from cablewalk.schedule.tasks import Task

TOUCHING = frozenset({"mate", "engage", "seat", "park", "demate", "fit_cap", "remove_cap"})
"""Verbs in which hands or contacts meet the contacts of a half."""

_PATHS = 4
"""How many paths a finding tells; every feed is named."""
_NAMES = 4
"""How many live contacts a finding names."""
_OPEN = (BARE, PART_ENGAGED)
"""The states in which the contacts of a half are open to touch."""
_NOTHING: frozenset[int] = frozenset()

CAUTION = (
    "NASA LLIS 0579 (1996): avoid mating or demating any connector powered externally or by a "
    "battery; the certified procedure and local rules decide"
)


class Watch:
    """Keeps the live regions and the known faults, and tells what is new."""

    def __init__(self, config: Configuration, continuity: Continuity) -> None:
        self.config = config
        self.continuity = continuity
        self.live = Liveness(config, continuity.components)
        self.exposed: dict[int, set[int]] = {}
        """Half told of as bare and live to the feeds that were named."""
        self.faults: dict[int, set[tuple[str, str]]] = {}
        """String to the (rule, text) of each fault it has; a string without any is left out."""

    # -- live -------------------------------------------------------------------------

    def update(self, changes: Sequence[Change], touched: Touched) -> frozenset[int]:
        """Bring the live regions up to date; return the islands other feeds make live now.

        The continuity must have been told of the changes before.
        """
        if not (touched.joined or touched.switches or touched.units):
            return frozenset()
        heat = self.live.update(changes, touched.switches, bool(touched.units))
        if heat.stirred or heat.gone:
            for half in tuple(self.exposed):
                self.exposed[half] &= self._feeds(half)
        return heat.stirred

    def _feeds(self, half: int) -> set[int]:
        """Return the feeds that may make a contact of a half live."""
        return self._feeding(self.live.rows(half))

    def _feeding(self, rows: Iterable[tuple[int, int]]) -> set[int]:
        """Return the feeds that make live contacts so, given as (position, live island)."""
        hot = self.live.hot
        return {feed for _, island in rows for feed in hot[island]}

    def touched(self, task: Task, items: Iterable[int]) -> Finding | None:
        """Return the finding that what an action touches or wires is live, or None."""
        if task.verb in TOUCHING:
            return self.touched_live(task, touched_halves(self.config, items))
        if task.verb in ("install", "remove"):
            wiring = self.config.wiring
            return self.unit_live(task, wiring.item("unit", str(task.action.argument)))
        return None

    def touched_live(self, task: Task, halves: Iterable[int]) -> Finding | None:
        """Return the finding that touched halves have live contacts, or None."""
        live = [(half, *row) for half in halves for row in self.live.rows(half)]
        if not live:
            return None
        return self._finding("live-contact", task, live, f"{task.verb} touches live contacts: ")

    def unit_live(self, task: Task, unit: int) -> Finding | None:
        """Return the finding that a unit is installed or removed with live terminals, or None."""
        wiring, hot = self.config.wiring, self.live.hot
        live = [t for t in wiring.terminals if t.owner == unit and t.island in hot]
        if not live:
            return None
        lead = f"{task.verb} makes or breaks live wiring: "
        return self._told(
            "live-contact",
            task,
            [terminal.island for terminal in live],
            [terminal.name for terminal in live[:_NAMES]],
            len(live) - _NAMES,
            lead,
            (unit,),
        )

    def newly_exposed(
        self,
        task: Task | None,
        islands: Iterable[int],
        also: Iterable[int] = (),
    ) -> list[Finding]:
        """Return findings for bare halves whose contacts have become live.

        ``also`` are halves to look at besides those of the islands. A live half that a demate
        leaves bare is told too, though it was told already as touched live: two different things
        to put right.
        """
        config, wiring = self.config, self.config.wiring
        halves = {h for i in islands if i != STRUCTURE for h, _ in wiring.sites[i]}
        found = []
        for half in sorted(halves.union(also)):
            if wiring.items[half].kind != "half" or config.moving(half):
                continue
            rows = self.live.rows(half) if config.state[half] in _OPEN else ()
            if not rows:
                self.exposed.pop(half, None)
                continue
            feeds = self._feeding(rows)
            if feeds <= self.exposed.get(half, _NOTHING):
                continue
            self.exposed[half] = feeds
            lead = f"{task.verb} leaves" if task else "the baseline has"
            live = [(half, *row) for row in rows]
            found.append(self._finding("live-exposed", task, live, f"{lead} bare contacts live: "))
        return found

    def _finding(
        self, rule: str, task: Task | None, live: Sequence[tuple[int, int, int]], lead: str
    ) -> Finding:
        """Return the finding on live contacts, given as (half, position, live island)."""
        wiring = self.config.wiring
        return self._told(
            rule,
            task,
            [island for _, _, island in live],
            [wiring.contact(half, n) for half, n, _ in live[:_NAMES]],
            len(live) - _NAMES,
            lead,
            tuple(dict.fromkeys([half for half, _, _ in live])),
        )

    def _told(
        self,
        rule: str,
        task: Task | None,
        islands: Sequence[int],
        names: Sequence[str],
        more: int,
        lead: str,
        items: tuple[int, ...],
    ) -> Finding:
        """Return the finding on live islands: every feed that reaches one, the highest first.

        ``names`` are the contacts or terminals that are named, ``more`` how many there are besides.
        """
        wiring = self.config.wiring
        first: dict[int, int] = {}
        for island in islands:
            for feed in self.live.of(island):
                first.setdefault(feed, island)
        feeds = sorted(first, key=lambda f: (-wiring.feeds[f].volts, wiring.feeds[f].id))
        shown = ", ".join(names)
        rest = f" and {more} more" if more > 0 else ""
        told = ", ".join(f"{wiring.feeds[f].id} ({wiring.feeds[f].volts:g} V)" for f in feeds)
        paths = [
            " / ".join(wiring.island_name(i) for i in self.live.path(feed, first[feed]))
            for feed in feeds[:_PATHS]
        ]
        if len(feeds) > _PATHS:
            paths.append(f"and {len(feeds) - _PATHS} more")
        return Finding(
            rule,
            Severity.ERROR,
            task.address if task else Address(0, wiring.items[items[0]].path),
            f"{lead}{shown}{rest} may be live from feed{'s' * (len(feeds) > 1)} {told}",
            expected="contacts dead, and verified dead, before they are touched or left bare",
            difference=f"path{'s' * (len(paths) > 1)}: {'; '.join(paths)}",
            way_out=self._way_out(feeds),
            step=task.step_id if task else None,
            items=tuple(wiring.items[i].id for i in items),
            source=CAUTION,
        )

    def _way_out(self, feeds: Sequence[int]) -> str:
        """Return what kills all of these feeds: of each chain of switches one suffices."""
        wiring = self.config.wiring
        chains: dict[tuple[str, ...], None] = {}
        beyond: dict[str, None] = {}
        for feed in feeds:
            for switches, source in self._chains(feed, frozenset()):
                if switches:
                    chains[tuple(wiring.items[s].named for s in switches)] = None
                else:
                    beyond[wiring.feeds[source].id] = None
        several = len(chains) > 1
        texts = [
            f"(one of) {' or '.join(c)}" if several and len(c) > 1 else " or ".join(c)
            for c in chains
        ]
        parts = [f"switch off and block {' and '.join(texts)}"] if texts else []
        if beyond:
            parts.append(
                f"no switch of the baseline kills {', '.join(beyond)}: disconnect it first"
            )
        return "; ".join(parts)

    def _chains(self, feed: int, seen: frozenset[int]) -> list[tuple[list[int], int]]:
        """Return (switches, feed) for each chain that must be opened, at one of its switches.

        The feed's own switches, with those of the one feed that supplies it; without own ones
        every feed that supplies it must be killed. No switches: nothing kills that feed.
        """
        row = self.config.wiring.feeds[feed]
        own = list(row.switches)
        if row.input is None:
            return [(own, feed)]
        terminals = self.config.wiring.terminals
        above = seen | {feed}
        sources = sorted({s for t in row.input for s in self.live.of(terminals[t].island)} - above)
        upstream = [chain for source in sources for chain in self._chains(source, above)]
        if own:
            more = upstream[0][0] if len(upstream) == 1 else []
            return [([*own, *(s for s in more if s not in own)], feed)]
        return upstream or [([], feed)]

    def killers_of(self, finding: Finding) -> list[str]:
        """Return the ids of the switches that would have made the items of a finding dead."""
        wiring = self.config.wiring
        hot = self.live.hot
        islands = {i for name in finding.items for i in wiring.joints[wiring.by_id[name]]}
        feeds = {f for island in islands & hot.keys() for f in hot[island]}
        return sorted({wiring.items[s].id for f in feeds for s in self.live.killers(f)})

    # -- unwanted joins ---------------------------------------------------------------

    def new_faults(self, task: Task | None, strings: Iterable[int]) -> list[Finding]:
        """Return findings for faults (shorts, cross-ties, foreign terminals) not there before."""
        wiring = self.config.wiring
        found = []
        for s in strings:
            string = wiring.strings[s]
            troubles = [t for t in self.continuity.verdicts[s].troubles if t.rule]
            before = self.faults.pop(s, ())
            if not troubles:
                continue
            self.faults[s] = {(t.rule, t.text) for t in troubles}
            if self.config.life[string.service] == RETIRED:
                continue
            for trouble in troubles:
                if (trouble.rule, trouble.text) in before:
                    continue
                path = " / ".join(wiring.island_name(i) for i in trouble.path)
                found.append(
                    Finding(
                        trouble.rule,
                        Severity.ERROR,
                        task.address if task else Address(0, string.path),
                        f"{string.id}: {trouble.text}",
                        expected="only what its service means to join",
                        difference=f"path: {path}" if path else "",
                        way_out="demate what makes the join, or correct the wiring",
                        step=task.step_id if task else None,
                        items=(wiring.services[string.service].id,),
                    )
                )
        return found


def touched_halves(config: Configuration, items: Iterable[int]) -> list[int]:
    """Return the halves among items an action claims."""
    return [i for i in items if i != NONE and config.wiring.items[i].kind == "half"]
