"""The difference between two moments, thing by thing."""

from __future__ import annotations

from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE
from cablewalk.reports.table_change import SECTIONS, ChangeRow, Section
from cablewalk.reports.table_compare import Difference
from cablewalk.reports.table_moment import Moment
from cablewalk.reports.table_strings import sort_strings
from cablewalk.reports.table_words import (
    fixed_words,
    fixture_words,
    half_words,
    kept_words,
    laid_words,
)

PUT_AWAY = ("stowed", "packed")
"""States of a leg or cap that is put away for later."""


def change_rows(before: Moment, after: Moment) -> tuple[ChangeRow, ...]:
    """Return what is not as before, by section, then by place, then as the baseline has it.

    Empty where both are the same moment.
    """
    difference = Difference(before, after)
    for leg in difference.wiring.ids("leg"):
        _leg(difference, leg)
    for half in difference.wiring.ids("half"):
        if difference.wiring.items[half].role != "free":
            _fixed(difference, half)
    for segment in difference.wiring.ids("segment"):
        _segment(difference, segment)
    for cap in difference.wiring.ids("cap"):
        _cap(difference, cap)
    for item in difference.wiring.ids("unit", "panel", "cover", "switch", "bag"):
        _fixture(difference, item)
    sort_strings(difference)
    order = list(SECTIONS)
    rows = sorted(difference.rows, key=lambda entry: (order.index(entry[1].section), entry[0]))
    return tuple(row for _rank, row in rows)


def _mated_with(config: Configuration, half: int) -> int:
    """Return the half that a half is mated with, or NONE."""
    mate = config.link[half] if half != NONE else NONE
    return mate if mate != NONE and config.wiring.items[mate].kind == "half" else NONE


def _leg(difference: Difference, leg: int) -> None:
    """Sort a leg and the free half at its end."""
    wiring = difference.wiring
    half = wiring.half_of.get(leg, NONE)
    segment = wiring.segment_of_leg[leg]
    configs = (difference.before.scene.config, difference.after.scene.config)
    old, new = (_mated_with(config, half) for config in configs)
    kept = difference.facts(leg)
    joint = difference.facts(half) if half != NONE else ()
    laid = difference.facts(segment) if wiring.segment_legs[segment][0] == leg else ()
    away = bool(kept) and configs[1].state_name(leg) in PUT_AWAY
    if laid and (joint or kept):
        difference.told.add(segment)
    else:
        laid = ()

    def where(config: Configuration) -> str:
        ways = laid_words(config, segment) if laid else ""
        return ", ".join(part for part in (kept_words(config, leg), ways) if part)

    def stood(config: Configuration) -> str:
        told = where(config) if (kept and not away) or _mated_with(config, half) == NONE else ""
        return "; ".join(part for part in (half_words(config, half), told) if part)

    if joint:
        section: Section = "set otherwise"
        if old != new:
            section = "added" if old == NONE else "removed" if new == NONE else "moved"
        facts = (*joint, *(() if away else kept + laid))
        at = old if section == "removed" else new
        difference.add(section, half, difference.both(stood), facts, at, (half,))
    if kept and (away or not joint):
        words = difference.both(where)
        difference.add("stowed" if away else "moved", leg, words, kept + laid, over=(half,))
    if not joint and not kept and old != NONE:
        _disturbed(difference, leg, half, old)


def _disturbed(difference: Difference, leg: int, half: int, mate: int) -> None:
    """Tell a mated half and its leg that stand as before, if they were touched in between."""
    was, now = difference.before.scene.config, difference.after.scene.config
    words = half_words(was, half)
    if {half, mate} & difference.touched:
        text = "demated or unlocked in between, and as before"
        difference.add("disturbed", half, (words, text), at=mate, over=(half,))
    elif now.moving(half) and not was.moving(half):
        text = "being worked on at this moment"
        difference.add("disturbed", half, (words, text), at=mate, over=(half,))
    elif leg in difference.touched:
        text = "handled in between and as before; not demated"
        difference.add("disturbed", leg, (kept_words(was, leg), text), over=(half,))


def _fixed(difference: Difference, half: int) -> None:
    """Tell a fixed half that ends with another mate; the facts stand at the free half."""
    old, new = difference.both(lambda config: _mated_with(config, half))
    if old == new:
        return
    section: Section = "added" if old == NONE else "removed" if new == NONE else "moved"
    words = difference.both(lambda config: fixed_words(config, half))
    difference.add(section, half, words, over=(half,))


def _segment(difference: Difference, segment: int) -> None:
    facts = difference.facts(segment)
    if facts and segment not in difference.told:
        own = difference.wiring.segment_legs[segment]
        harness = difference.wiring.items[segment].owner
        at = (own or difference.wiring.legs_of[harness])[0]
        was, now = difference.both(lambda config: laid_words(config, segment))
        section: Section = "re-routed" if was and now else "added" if now else "removed"
        difference.add(section, segment, (was or "not laid", now or "not laid"), facts, at)


def _cap(difference: Difference, cap: int) -> None:
    configs = (difference.before.scene.config, difference.after.scene.config)
    facts = difference.facts(cap)
    on, then = (c.link[cap] if c.state_name(cap) == "fitted" else NONE for c in configs)
    words = difference.both(lambda config: kept_words(config, cap))
    electrical = bool(difference.wiring.joints[cap])
    section: Section = "stowed" if configs[1].state_name(cap) in PUT_AWAY else "moved"
    if not facts:
        if electrical and on != NONE and cap in difference.touched:
            text = "taken off in between, and as before"
            difference.add("disturbed", cap, (words[0], text), over=(cap,))
    elif electrical:
        if (on == NONE) != (then == NONE):
            section = "added" if on == NONE else "removed"
        difference.add(section, cap, words, facts, on if section == "removed" else NONE, (cap,))
    elif on == then:
        difference.add(section, cap, words, facts)
    else:
        name = difference.wiring.items[cap].id
        half = then if then != NONE else on
        was = f"capped by {name}" if on == half else f"cap {words[0]}"
        now = f"capped by {name}" if then == half else f"cap {words[1]}"
        head: Section = "newly capped" if then == half else "newly uncapped"
        difference.add(head, half, (was, now), facts)
        if NONE not in (on, then):
            difference.add("newly uncapped", on, (f"capped by {name}", f"cap {words[1]}"))


def _fixture(difference: Difference, item: int) -> None:
    facts = difference.facts(item)
    if not facts:
        return
    kind = difference.wiring.items[item].kind
    tell = kept_words if kind == "bag" else fixture_words
    was, now = difference.both(lambda config: config.state_name(item))
    section: Section = "set otherwise" if kind in ("cover", "switch") else "moved"
    if kind in ("unit", "panel") and was != now and "installed" in (was, now):
        section = "added" if now == "installed" else "removed"
    difference.add(section, item, difference.both(lambda config: tell(config, item)), facts)
