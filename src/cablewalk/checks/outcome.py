"""Rules of the services as the work leaves them, and of strings lost on the way."""

from __future__ import annotations

from collections.abc import Iterator

from cablewalk.checks.case import Case
from cablewalk.checks.held_down import held_down
from cablewalk.checks.rule import LLIS_1619, PRACTICE, Rule
from cablewalk.continuity.graph import net
from cablewalk.continuity.services import State
from cablewalk.continuity.verdict import Standing
from cablewalk.findings import Address, Finding, Severity
from cablewalk.replay.configuration import ALIVE
from cablewalk.timeline.lesser import StringsLeft
from cablewalk.walk.trace import Event

ERROR, WARNING, NOTE = Severity.ERROR, Severity.WARNING, Severity.NOTE


def _down(case: Case) -> Iterator[Finding]:
    fallen = [
        n
        for n, view in enumerate(case.trace.end_views)
        if view.life == ALIVE
        and view.state is State.DOWN
        and (case.trace.start_views[n].life, case.trace.start_views[n].state) != (ALIVE, State.DOWN)
    ]
    held = held_down(case) if fallen else {}
    for n in fallen:
        row = case.wiring.services[n]
        holds = held.get(n, [])
        event = case.trace.events[holds[-1].position] if holds else case.last_shift[n]
        why = [_why(case, n, event, "")] if not holds else []
        why += [_why(case, n, case.trace.events[at], text) for at, text in holds]
        yield Finding(
            "down-at-end",
            ERROR,
            event.task.address,
            f"{row.id} is still down at the end",
            expected="every service that the work takes down brought back",
            difference="; ".join(dict.fromkeys(why)),
            way_out=f"restore {row.id} and verify it, or retire it",
            step=event.task.step_id,
            items=(row.id,),
        )


def _why(case: Case, service: int, event: Event, trouble: str) -> str:
    """Return the chain from a step to what it took, as the outage has it where it began there."""
    told = [
        reason.text
        for shift in event.shifts
        if shift.service == service and shift.after.state is State.DOWN
        for reason in shift.reasons
    ]
    if told:
        return "; ".join(told)
    task = event.task
    said = task.action.argument
    item = next(iter(said), "") if isinstance(said, dict | list | tuple) else said or ""
    return " → ".join(p for p in (task.step_id, f"{task.verb} {item}".strip(), trouble) if p)


def _unproven(case: Case) -> Iterator[Finding]:
    for n, view in enumerate(case.trace.end_views):
        row = case.wiring.services[n]
        fresh = set(view.unproven) - set(case.trace.start_views[n].unproven)
        if view.life != ALIVE or view.state is State.DOWN or not fresh:
            continue
        event = case.last_shift.get(n)
        strings = ", ".join(case.wiring.strings[s].id for s in sorted(fresh))
        yield Finding(
            "unproven-at-end",
            WARNING,
            event.task.address if event else Address(0, row.path),
            f"{row.id} is up by prediction, disturbed and not verified since"
            + (f": {strings}" if len(row.strings) > 1 else ""),
            expected="every service that was disturbed verified",
            difference="no verify after the last action that disturbed it",
            way_out=f"verify: {row.id}",
            step=event.task.step_id if event else None,
            items=(row.id,),
            source=LLIS_1619,
        )


def _usable(left: StringsLeft) -> int:
    return len(left.up) + len(left.available)


def _spans(case: Case, service: int) -> Iterator[tuple[StringsLeft, StringsLeft | None, int, int]]:
    """Yield (best before, what is left, from, to) for each time fewer strings are left."""
    rows = [left for left in case.account.strings_left if left.service == service]
    best: StringsLeft | None = None
    for n, left in enumerate(rows):
        over = rows[n + 1].time_s if n + 1 < len(rows) else case.trace.end_s
        if best is None or _usable(left) >= _usable(best):
            best = left
        elif _usable(left) >= left.need:
            yield best, left, left.time_s, over


def _lost_strings(case: Case) -> Iterator[Finding]:
    for n, row in enumerate(case.wiring.services):
        for best, left, begin, over in _spans(case, n):
            assert left is not None
            gone = sorted({*best.up, *best.available} - {*left.up, *left.available})
            events = [
                e
                for e in case.trace.events
                if e.time_s == begin and any(s.service == n for s in e.shifts)
            ]
            if not events or over <= begin or any(_passing(case, e, gone, n) for e in events):
                continue
            event = events[-1]  # what ended at that moment comes before what began
            needed = _needed(case, gone, begin, over)
            spare = _usable(left) - left.need
            names = ", ".join(case.wiring.strings[s].id for s in gone)
            phase = event.task.phase
            yield Finding(
                "redundancy-lost",
                NOTE if needed else WARNING,
                event.task.address,
                f"{row.id} runs without {names} from {case.pet(begin, phase)} to "
                f"{case.pet(over, phase)}: "
                + (f"{spare} to spare" if spare else "the next failure takes it"),
                expected="strings given up only for work on them",
                difference="work on what carries them needs it"
                if needed
                else "nothing that carries them is worked on meanwhile",
                way_out="keep that work short, and bring it back at once after it"
                if needed
                else "leave it on, or give it up later",
                step=event.task.step_id,
                items=(row.id,),
            )


def _passing(case: Case, event: Event, gone: list[int], service: int) -> bool:
    """Return whether strings only count as lost while a switch moves, and are there after it.

    A cold string that is put back to standby is neither up nor surely available until its switch
    has come to rest: nothing is given up by that.
    """
    task = event.task
    if not event.begins or task.verb not in ("switch_on", "switch_off"):
        return False
    after = case.trace.start_views[service].strings
    for other in case.trace.events:
        for shift in other.shifts:
            if shift.service == service:
                after = shift.after.strings
        if other.task is task and not other.begins:
            strings = case.wiring.services[service].strings
            there = {s for s, stand in zip(strings, after, strict=True) if stand != Standing.DOWN}
            return there.issuperset(gone)
    return False


def _needed(case: Case, gone: list[int], begin: int, over: int) -> bool:
    """Return whether work meanwhile broke a join of the strings given up, or needed them dead."""
    lost = set(gone)
    for event in case.trace.events:
        if begin <= event.time_s < over and not lost.isdisjoint(event.joins_broken):
            return True
    feeds = _suppliers(case, {f for s in gone for f in case.wiring.strings[s].feeds})
    return any(
        begin <= touch.time_s < over and not feeds.isdisjoint(touch.reach)
        for touch in case.survey.touches
    )


def _suppliers(case: Case, feeds: set[int]) -> set[int]:
    """Return feeds with all that supply their inputs, as joined at the start or at the end."""
    wiring = case.wiring
    terminals = wiring.terminals
    todo = list(feeds)
    for feed in todo:
        ends = wiring.feeds[feed].input
        if ends is None:
            continue
        nets = [net(config, terminals[ends[0]].island) for config in (case.trace.start, case.end)]
        for n, row in enumerate(wiring.feeds):
            if n not in todo and any(terminals[row.hi].island in one for one in nets):
                todo.append(n)
    return set(todo)


def _accumulates(case: Case) -> Iterator[Finding]:
    seen: dict[tuple[int, int], int] = {}
    for n, readings in case.account.readings.items():
        spell = case.account.outages[n]
        for reading in readings:
            key = (spell.service, reading.number)
            seen[key] = seen.get(key, 0) + 1
            if not reading.accumulates or seen[key] != 2:
                continue
            row = case.wiring.services[spell.service]
            yield Finding(
                "clock-accumulates",
                NOTE,
                Address(0, (*row.path, "clocks", reading.number)),
                f"the clock of {row.id} is never reset: its outages add up",
                expected="resets_after_up_min, where time up lets the clock start afresh",
                difference="the second outage is added to the first, however long it was up",
                way_out="give resets_after_up_min with its source, or keep the sum in the limit",
                items=(row.id,),
                source=reading.clock.source,
            )


_SPARE = """
baseline:
  places:
    bench:
      halves: {J3: p2 socket BAT.hi BAT.ret, J4: p2 pin LAMP.h2 LAMP.r2}
      units:
        BAT: {kind: source, volts: 28, switches: K2}
        LAMP: {kind: load, terminals: hi ret h2 r2, isolated: [[hi, ret], [h2, r2]]}
      switches: {K1: , K2: }
  harnesses: {W2: [Q1 p2 pin, Q2 p2 socket]}
  services:
    light: {kind: power, need: 1, load: ~, feeds: ~,
            strings: {a: {load: LAMP, feeds: SRC}, b: {load: LAMP.h2 LAMP.r2, feeds: BAT}}}
  now: {on: [K1, K2], mated: {P1: J1, P2: J2, Q1: J3, Q2: J4}}
"""
_CLOCK = "baseline: {services: {light: {clock: {allowed_min: 60, source: example}}}}\n"
_TWICE = (
    "steps: [{by: gus, do: [switch_off: K1, switch_on: K1, {wait: 5}, switch_off: K1, "
    "switch_on: K1]}]"
)

RULES = (
    Rule(
        "down-at-end",
        "A service is still down at the end",
        ERROR,
        PRACTICE,
        "A planned outage ends within the plan, or it was no plan.",
        "Bring it back and verify it; retire it where nobody needs it any longer.",
        _down,
        fires="steps: [[demate: P1]]",
        silent="steps: [[demate: P1, mate: {P1: J1}]]",
    ),
    Rule(
        "unproven-at-end",
        "A service was disturbed and never verified",
        WARNING,
        LLIS_1619,
        "A mate without a check of the service afterwards is a prediction: a connector logged as "
        "mated was found open.",
        "Add 'verify: SERVICE' after the last mate.",
        _unproven,
        fires="steps: [[demate: P1, mate: {P1: J1}]]",
        silent="steps: [[demate: P1, mate: {P1: J1}, verify: light]]",
    ),
    Rule(
        "redundancy-lost",
        "A redundant string is given up",
        WARNING,
        PRACTICE,
        "While a string is down the next failure may take the service; a string given up for "
        "no work is risk for nothing.",
        "Keep it on, or give it up for the shortest time. A note where the work needs it.",
        _lost_strings,
        fires=_SPARE + "steps: [{by: gus, do: [switch_off: K2, {wait: 5}, switch_on: K2]}]",
        silent=_SPARE + "steps: [{by: gus, do: [{wait: 5}]}]",
    ),
    Rule(
        "clock-accumulates",
        "Outages on one clock add up",
        NOTE,
        PRACTICE,
        "Without a reset value a service must be thought of as never having recovered.",
        "Give resets_after_up_min, with its source, where the analysis allows it.",
        _accumulates,
        fires=_CLOCK + _TWICE,
        silent=_CLOCK + "steps: [{by: gus, do: [switch_off: K1, switch_on: K1]}]",
    ),
)
