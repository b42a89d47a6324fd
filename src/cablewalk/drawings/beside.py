"""What stands beside a picture: the services with running clocks, or the list of the changes."""

from __future__ import annotations

from typing import Final, NamedTuple

from cablewalk.continuity.services import State
from cablewalk.drawings.cast import Cast, fitted_on
from cablewalk.drawings.fate import is_back
from cablewalk.drawings.moments import Moment
from cablewalk.replay.configuration import ALIVE, Configuration
from cablewalk.replay.wiring import NONE
from cablewalk.timeline.account import Account, believed
from cablewalk.timeline.clocks import tightest
from cablewalk.timeline.spells import Spell
from cablewalk.units import clock, seconds


class Line(NamedTuple):
    """One line of text beside the picture; ``indent`` in blanks of four points."""

    text: str
    look: str = "words"
    bold: bool = False
    indent: int = 0


def head(text: str) -> Line:
    """Return a heading."""
    return Line(text, "words", True)


# -- services -------------------------------------------------------------------------------

_TURNS: Final = {
    "down": ("LOST", "loud"),
    "reduced": ("REDUCED", "loud"),
    "up": ("UP", "good"),
    "retired": ("RETIRED", "soft"),
    "awaited": ("AWAITED", "soft"),
}


def services_beside(account: Account, moment: Moment) -> list[Line]:
    """Return the services lost, restored, reduced and unproven, with clocks as they run."""
    lines: list[Line] = []
    turned = _turned(account, moment)
    if turned:
        lines += [head("IN THIS STEP"), *turned]
    wiring = account.trace.wiring
    views = believed(account, moment.views, moment.time_s)
    alive = [n for n, v in enumerate(views) if v.life == ALIVE]
    down = [n for n in alive if views[n].state is State.DOWN]
    if down:
        lines.append(head("DOWN NOW"))
        for n in down:
            lines.append(Line(wiring.services[n].id, "loud", indent=1))
            lines.append(Line(_running(account, n, moment.time_s), indent=3))
    reduced = [n for n in alive if views[n].state is State.REDUCED]
    if reduced:
        lines += [head("REDUCED"), *(Line(_strings(account, n, moment), indent=1) for n in reduced)]
    unproven = [n for n in alive if views[n].unproven and n not in down]
    if unproven:
        names = ", ".join(wiring.services[n].id for n in unproven)
        lines += [head("UP, UNPROVEN (verify owed)"), Line(names, indent=1)]
    up = len(alive) - len(set(down) | set(reduced) | set(unproven))
    if not moment.matters:
        lines.insert(0, Line("This step changes nothing drawn here.", "soft"))
    lines.append(Line(f"{up} of {len(alive)} services up and proven", "soft"))
    return lines


def _turned(account: Account, moment: Moment) -> list[Line]:
    first: dict[int, str] = {}
    last: dict[int, str] = {}
    lost: set[int] = set()
    for shift in moment.shifts:
        first.setdefault(shift.service, shift.before.words)
        last[shift.service] = shift.after.words
        if shift.after.words == "down":
            lost.add(shift.service)
    lines = []
    for n, after in last.items():
        name = account.trace.wiring.services[n].id
        before = first[n]
        if before == after and n not in lost:
            continue
        word, look = _TURNS[after.split()[0]]
        if after.startswith("up"):
            word = _up_again(before, n in lost)
            if after == "up unproven":
                word, look = f"{word}, UNPROVEN".lstrip(", "), "words"
            word = word or "PROVEN"
        lines.append(Line(f"{word} {name}", look, indent=1))
        spell = _ended(account, n, moment)
        if spell is not None and not spell.retired:
            lines.append(Line(_after(account, spell), indent=3))
    return lines


def _up_again(before: str, was_lost: bool) -> str:
    """Return how a service came up in a step; nothing where it was up all the time."""
    if before.startswith("up"):
        return "LOST AND BACK" if was_lost else ""
    return "FIRST UP" if before == "awaited" else "BACK"


def _ended(account: Account, service: int, moment: Moment) -> Spell | None:
    """Return the outage of a service that this step ended, if any."""
    for spell in account.outages:
        by = spell.restored_by
        if spell.service != service or by is None or moment.step is None:
            continue
        if by.task.phase == moment.phase and by.task.step == moment.step.position:
            return spell
    return None


def _after(account: Account, spell: Spell) -> str:
    dark = f"after {clock(spell.duration_s(account.trace.end_s))} dark"
    readings = account.readings[account.outages.index(spell)]
    main = tightest(readings)
    if main is None:
        return dark
    allowed = clock(seconds(main.clock.allowed_min))
    return f"{dark}, {allowed} allowed, {_margin(main.margin_s)}"


def _running(account: Account, service: int, time_s: int) -> str:
    """Return how long a service has been dark at a moment, and what its tightest clock allows."""
    for spell, readings in (
        (s, account.readings[n]) for n, s in enumerate(account.outages) if s.service == service
    ):
        if spell.from_s > time_s or (spell.to_s is not None and spell.to_s < time_s):
            continue
        dark = f"{clock(time_s - spell.from_s)} dark"
        margins = []
        for reading in readings:
            begun = reading.runs_from_s is not None and reading.runs_from_s <= time_s
            used = time_s - reading.runs_from_s if begun and reading.runs_from_s is not None else 0
            allowed = seconds(reading.clock.allowed_min)
            margins.append((allowed - reading.used_before_s - used, allowed))
        if not margins:
            return f"{dark}, no clock given"
        left, allowed = min(margins)
        return f"{dark}, {clock(allowed)} allowed, {_margin(left)}"
    return "dark"


def _margin(left_s: int) -> str:
    return f"{clock(left_s)} left" if left_s >= 0 else f"{clock(-left_s)} OVER"


def _strings(account: Account, service: int, moment: Moment) -> str:
    row = account.trace.wiring.services[service]
    up = sum(str(s) == "up" for s in moment.views[service].strings)
    return f"{row.id}: {up} of {len(row.strings)} strings up, {row.need} needed"


# -- changes --------------------------------------------------------------------------------


def changes_beside(cast: Cast, first: Moment, last: Moment, after: bool) -> list[Line]:
    """Return which cables come off or go on, at which halves, what each carries, what is left.

    ``after`` adds where the free halves that are mated nowhere have been left.
    """
    lines: list[Line] = []
    old = [h for h in cast.harnesses if cast.role[h] == "old"]
    new = [h for h in cast.harnesses if cast.role[h] == "new"]
    if old:
        lines.append(head("TAKEN OFF ✕" if after else "COMES OFF ✕"))
        for harness in old:
            lines += _cable(cast, harness, first.config, last.config, "carried" if after else "")
    if new:
        lines.append(head("NOW MATED ✚" if after else "WILL GO ON"))
        for harness in new:
            lines += _cable(cast, harness, last.config, first.config, "" if after else "for")
    back = _back(cast, first.config, last.config)
    if back:
        lines += [head("OFF, AND BACK AS BEFORE ↺" if after else "COMES OFF, GOES BACK ↺"), *back]
    moved = [h for h in cast.harnesses if cast.role[h] == "moved"]
    caps = cast.caps_moved(first.config, last.config)
    if moved or caps:
        lines.append(head("MOVED ↔" if after else "WILL BE MOVED ↔"))
        for harness in moved:
            lines += _moves(cast, harness, first.config, last.config)
        for cap in caps:
            was, now = (_cap_spot(cast, m.config, cap) for m in (first, last))
            name = cast.wiring.items[cap].id
            lines.append(Line(f"{name} (wired cap): {was} → {now}", indent=1))
    left = _left(cast, last.config) if after else []
    if left:
        lines += [head("LEFT UNMATED"), *left]
    if cast.packed_away:
        names = " ".join(cast.wiring.items[h].id for h in cast.packed_away)
        lines += [head("PACKED ALL THE TIME, not drawn"), Line(names, indent=1)]
    return lines or [Line("nothing changes", "soft")]


def _back(cast: Cast, first: Configuration, last: Configuration) -> list[Line]:
    """Return each cable with the halves it comes off and is mated with again at the end."""
    wiring, lines = cast.wiring, []
    for harness in cast.harnesses:
        halves = (wiring.half_of.get(leg, NONE) for leg in cast.legs[harness])
        back = [h for h in halves if h != NONE and is_back(first, last, h, cast.demated)]
        at = " ".join(wiring.items[first.link[h]].id for h in back if first.link[h] != NONE)
        if at:
            lines.append(Line(f"{wiring.items[harness].named}: {at}", indent=1))
    return lines


def _cap_spot(cast: Cast, config: Configuration, cap: int) -> str:
    """Return the half a cap is on, else how and where it is kept."""
    on, link = fitted_on(config, cap), config.link[cap]
    if on != NONE or link == NONE:
        return cast.wiring.items[on].id if on != NONE else config.state_name(cap)
    return f"{config.state_name(cap)} {cast.wiring.items[link].id}"


def _cable(
    cast: Cast, harness: int, here: Configuration, there: Configuration, tense: str
) -> list[Line]:
    """Return a cable's name, and the halves it is mated with here and not there."""
    wiring = cast.wiring
    at = []
    for half in (wiring.half_of.get(leg, NONE) for leg in cast.legs[harness]):
        mate = here.link[half] if half != NONE else NONE
        if mate != NONE and wiring.items[mate].kind == "half" and there.link[half] != mate:
            at.append(wiring.items[mate].id)
    name = f"{wiring.items[harness].named}: {' '.join(at)}"
    services = ", ".join(wiring.services[s].id for s in cast.carries[harness])
    told = f"{tense} {services}".strip() if services else "carries nothing yet"
    return [Line(name, indent=1), Line(told, "soft", indent=3)]


def _moves(cast: Cast, harness: int, first: Configuration, last: Configuration) -> list[Line]:
    """Return a cable's name, and each end that is mated with another half than it was."""
    wiring = cast.wiring
    lines = [Line(wiring.items[harness].named, indent=1)]
    for half in (wiring.half_of.get(leg, NONE) for leg in cast.legs[harness]):
        if half == NONE or first.link[half] == last.link[half]:
            continue
        spots = [
            wiring.items[mate].id if mate != NONE and wiring.items[mate].kind == "half" else "-"
            for mate in (first.link[half], last.link[half])
        ]
        lines.append(Line(f"{wiring.items[half].id}: {' → '.join(spots)}", "soft", indent=3))
    return lines


def _left(cast: Cast, config: Configuration) -> list[Line]:
    """Return the free halves mated nowhere, those that were left alike together."""
    wiring = cast.wiring
    alike: dict[str, list[str]] = {}
    for harness in cast.harnesses:
        for leg in cast.legs[harness]:
            half = wiring.half_of.get(leg, NONE)
            if half == NONE:
                continue
            mate, state = config.link[half], config.state_name(half)
            if mate != NONE and wiring.items[mate].role == "parking":
                alike.setdefault(f"parked on {wiring.items[mate].id}", []).append(
                    wiring.items[half].id
                )
            elif state in ("capped", "bare"):
                how = config.state_name(leg).replace("_", " ").replace("routed", "laid")
                link = config.link[leg]
                where = f" {wiring.items[link].id}" if link != NONE else ""
                alike.setdefault(f"{state}, {how}{where}", []).append(wiring.items[half].id)
    return [Line(f"{' '.join(ends)}: {how}", indent=1) for how, ends in alike.items()]
