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
        self.exposed: set[int] = set()
        self.faults: dict[int, set[tuple[str, str]]] = {}

    # -- live -------------------------------------------------------------------------

    def update(self, changes: Sequence[Change], touched: Touched) -> frozenset[int]:
        """Bring the live regions up to date; return the islands that have become live.

        The continuity must have been told of the changes before.
        """
        if not (touched.joined or touched.switches or touched.units):
            return frozenset()
        heat = self.live.update(changes, touched.switches, bool(touched.units))
        if self.exposed and heat.gone:
            self.exposed = {half for half in self.exposed if self.live.contacts(half)}
        return heat.gained

    def touched_live(self, task: Task, halves: Iterable[int]) -> Finding | None:
        """Return the finding that touched halves have live contacts, or None."""
        live = [(half, n) for half in halves for n in self.live.contacts(half)]
        if not live:
            return None
        return self._finding("live-contact", task, live, f"{task.verb} touches live contacts: ")

    def unit_live(self, task: Task, unit: int) -> Finding | None:
        """Return the finding that a unit is installed or removed with live terminals, or None."""
        wiring = self.config.wiring
        for terminal in wiring.terminals:
            if terminal.owner == unit and terminal.island in self.live.hot:
                lead = f"{task.verb} makes or breaks live wiring: "
                return self._told(
                    "live-contact", task, terminal.island, [terminal.name], lead, (unit,)
                )
        return None

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
        also = set(also)
        halves = {h for i in islands if i != STRUCTURE for h, _ in wiring.sites[i]} | also
        found = []
        for half in sorted(halves):
            if wiring.items[half].kind != "half" or config.moving(half):
                continue
            contacts = self.live.contacts(half)
            if not contacts or config.state[half] not in (BARE, PART_ENGAGED):
                self.exposed.discard(half)
                continue
            if half in self.exposed:
                continue
            self.exposed.add(half)
            lead = f"{task.verb} leaves" if task else "the baseline has"
            live = [(half, n) for n in contacts]
            found.append(self._finding("live-exposed", task, live, f"{lead} bare contacts live: "))
        return found

    def _finding(
        self, rule: str, task: Task | None, live: Sequence[tuple[int, int]], lead: str
    ) -> Finding:
        """Return the finding on live contacts, given as (half, position)."""
        wiring = self.config.wiring
        names = [wiring.contact(half, n) for half, n in live]
        return self._told(
            rule,
            task,
            self.live.at(*live[0]),
            names,
            lead,
            tuple(dict.fromkeys(h for h, _ in live)),
        )

    def _told(
        self,
        rule: str,
        task: Task | None,
        island: int,
        names: Sequence[str],
        lead: str,
        items: tuple[int, ...],
    ) -> Finding:
        wiring = self.config.wiring
        feeds = self.live.of(island)
        feed = feeds[0]
        shown = ", ".join(names[:4])
        more = f" and {len(names) - 4} more" if len(names) > 4 else ""
        path = " / ".join(wiring.island_name(i) for i in self.live.path(feed, island))
        killers = [wiring.items[s].named for s in self.live.killers(feed)]
        others = [wiring.feeds[f].id for f in feeds[1:]]
        difference = f"path: {path}"
        if others:
            difference += f"; also from {', '.join(others)}"
        return Finding(
            rule,
            Severity.ERROR,
            task.address if task else Address(0, wiring.items[items[0]].path),
            f"{lead}{shown}{more} may be live from feed {wiring.feeds[feed].id} "
            f"({wiring.feeds[feed].volts:g} V)",
            expected="contacts dead, and verified dead, before they are touched or left bare",
            difference=difference,
            way_out=f"switch off and block {' or '.join(killers)}"
            if killers
            else f"no switch of the baseline kills {wiring.feeds[feed].id}",
            step=task.step_id if task else None,
            items=tuple(wiring.items[i].id for i in items),
            source=CAUTION,
        )

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
            troubles = self.continuity.verdicts[s].troubles
            now = {(t.rule, t.text) for t in troubles if t.rule}
            before = self.faults.get(s, set())
            self.faults[s] = now
            if self.config.life[string.service] == RETIRED:
                continue
            for trouble in troubles:
                if not trouble.rule or (trouble.rule, trouble.text) in before:
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
