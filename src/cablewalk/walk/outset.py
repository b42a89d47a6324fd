"""The outset: what is wrong with a configuration before anything is done."""

from __future__ import annotations

from cablewalk.continuity.components import Components
from cablewalk.continuity.services import Continuity, State
from cablewalk.findings import Address, Finding, Findings, Severity
from cablewalk.replay.configuration import ALIVE, Configuration
from cablewalk.replay.wiring import StringLine
from cablewalk.walk.watch import Watch


def judge_start(
    config: Configuration, continuity: Continuity, watch: Watch, findings: Findings
) -> None:
    """Note unwanted joins, bare live contacts, feeds that do not reach, and services down."""
    findings.extend(watch.new_faults(None, range(len(config.wiring.strings))))
    findings.extend(watch.newly_exposed(None, watch.live.hot))
    _listed_feeds(config, continuity, findings)
    for n, service in enumerate(config.wiring.services):
        if config.life[n] != ALIVE or continuity.states[n] is not State.DOWN:
            continue
        findings.warning(
            "down-at-start",
            Address(0, service.path),
            f"{service.id} is down in the baseline",
            expected="a service that begins at the start is up then",
            difference=continuity.why_down(n),
            way_out="correct 'now', or say 'begins: established'",
            items=(service.id,),
        )


def _listed_feeds(config: Configuration, continuity: Continuity, findings: Findings) -> None:
    wiring = config.wiring
    for string in wiring.strings:
        if config.life[string.service] != ALIVE:
            continue  # what arrives later need not reach now
        for feed in _unreached(config, continuity.components, string):
            findings.add(
                Finding(
                    "feed-does-not-reach",
                    Severity.NOTE,
                    Address(0, string.path),
                    f"{string.id} lists feed {wiring.feeds[feed].id}, which does not reach its "
                    "load now",
                    expected="a feed that reaches the load, now or later",
                    difference="neither its high nor its return is joined to the load",
                    way_out="none needed where the work joins it; else correct the list",
                    items=(wiring.services[string.service].id,),
                )
            )


def _unreached(config: Configuration, components: Components, string: StringLine) -> list[int]:
    """Return the feeds a string lists that reach neither of its load's terminals.

    Those that reach them crossed are not among them: that is told as wrong polarity.
    """
    if string.load is None:
        return []
    hi, ret = string.load
    terminals, feeds = config.wiring.terminals, config.wiring.feeds
    return [
        f
        for f in string.feeds
        if not any(
            components.joined(end, terminals[terminal].island)
            for end in (hi.a, ret.a)
            for terminal in (feeds[f].hi, feeds[f].ret)
        )
    ]
