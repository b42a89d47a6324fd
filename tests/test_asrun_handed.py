"""The same day kept in one log, or handed over into further ones, has the same clocks."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cablewalk.files.load import parse_baseline, parse_procedure
from cablewalk.logbook.log import Stored
from cablewalk.logbook.run import Plans, plans_of
from cablewalk.logbook.words import action_of
from cablewalk.reports.asrun_handover import HandoverReport, handover_report
from cablewalk.reports.asrun_left import as_left_text, faults_of
from cablewalk.reports.asrun_log import LogFacts
from cablewalk.timeline.account import account
from cablewalk.timeline.asrun import asrun_account
from cablewalk.timeline.clocks_left import clocks_left
from cablewalk.walk.asrun import track
from cablewalk.walk.asrun_entry import Entry
from cablewalk.walk.asrun_state import Tracked

MIN = 60
SHED = """\
cablewalk: 1
baseline: shed
interfaces: {p2: {contacts: 2, family: f, shell: "9", insert: "1", key: N}}
places:
  floor:
    units:
      SRC: {kind: source, terminals: [a, r, b, q], isolated: [[a, r], [b, q]], feeds: {
        FA: {hi: a, ret: r, volts: 28, limit_a: 5, switches: [SWA]},
        FB: {hi: b, ret: q, volts: 28, limit_a: 5, switches: [SWB]}}}
      LA: {kind: load, terminals: hi ret}
      LB: {kind: load, terminals: hi ret}
    switches: {SWA: {}, SWB: {}}
    halves:
      JA: p2 socket SRC.a SRC.r
      KA: p2 pin LA.hi LA.ret
      JB: p2 socket SRC.b SRC.q
      KB: p2 pin LB.hi LB.ret
harnesses:
  A: [A1 p2 pin, A2 p2 socket]
  B: [B1 p2 pin, B2 p2 socket]
people: {ann: outside, gil: ground}
services:
  kiln: {kind: heater, load: LA, feeds: FA, clocks: [{allowed_min: 60, source: s}]}
  vat: {kind: heater, load: LB, feeds: FB, clocks: [{allowed_min: 60, source: s, starts: demate}]}
now:
  on: [SWA, SWB]
  mated: {A1: JA, A2: KA, B1: JB, B2: KB}
  people: {ann: floor}
"""
PLAN = """\
cablewalk: 1
procedure: PHASE
title: Any
roles: {ev: ann}
minutes: {any: 1}
steps: [{id: s1, by: ev, say: wait, do: [{wait: 1}]}]
"""
RESETS = "{allowed_min: 60, source: s}", "{allowed_min: 60, source: s, resets_after_up_min: 30}"


class Part(NamedTuple):
    """A phase of the day. Minutes of the day."""

    zero: int
    done: list[tuple[int, str]]
    left: int
    """When it is handed over, if it is."""


@dataclass
class Kept:
    """A log, and the baseline it is kept on."""

    text: str
    zero_s: int
    plans: Plans = field(init=False)
    tracked: Tracked = field(init=False)

    def keep(self, parts: list[Part], left: int | None) -> Kept:
        """Record phases in it; ``left``: when the baseline's ``now`` was true."""
        stored = [Stored("baseline", "b.yaml", self.text.encode())]
        for part in parts:
            text = PLAN.replace("PHASE", f"p{part.zero}")
            stored.append(Stored("procedure", "p.yaml", text.encode()))
        self.plans = plans_of(stored)
        entries: list[Entry] = []
        for n, part in enumerate(parts):
            zero_s, left_s = part.zero * MIN, left * MIN if left is not None and not n else None
            entries.append(Entry(n, 1, "begin", zero_s, 0, zero_s, left_s=left_s))
            for serial, (minute, words) in enumerate(part.done, start=2):
                at_s = minute * MIN
                action = action_of(words, "seen")
                entries.append(
                    Entry(n, serial, "action", at_s, at_s - zero_s, at_s, "x", at_s, ("ann",),
                          action, "found" if action.found else "done", text="seen")
                )  # fmt: skip
        self.tracked = track(self.plans.ground, self.plans.procedures, entries)
        return self

    def hand_over(self, at: int) -> tuple[HandoverReport, str]:
        """Hand it over at a minute of the day; return what is told, and the baseline as left."""
        tracked = self.tracked
        at_s = at * MIN - self.zero_s
        report = handover_report(tracked, LogFacts("q", "", 1, (), self.plans.sources), at_s)
        text = as_left_text(self.text, tracked, report)
        assert not faults_of(text, "left", tracked)
        return report, text

    def clocks(self, at: int, since: int) -> dict[str, object]:
        """Return the clocks of outages not over at one minute of the day, as they are at another.

        And how they would be handed over. Times are UTC, so the zero of a log does not matter.
        """
        now_s, zero_s = at * MIN - self.zero_s, self.zero_s
        account = asrun_account(self.tracked, now_s)
        found: dict[str, object] = {}
        for n, spell in enumerate(account.outages):
            if spell.to_s is not None and spell.to_s + zero_s <= since * MIN:
                continue
            name = account.trace.wiring.services[spell.service].id
            for reading in account.readings[n]:
                begun, by = reading.runs_from_s, reading.reconnect_by_s
                found[f"{name}, from {spell.from_s + zero_s}, clock {reading.number}"] = (
                    None if begun is None else begun + zero_s,
                    None if by is None else by + zero_s,
                    reading.used_before_s,
                    reading.used_s,
                    reading.margin_s,
                )
        for name, left in clocks_left(account, self.tracked.dark_s, now_s).items():
            clocks = account.ground.baseline.services[name].clocks
            resets = (c.resets_after_up_min is not None for c in clocks)
            counts = any(u and r for u, r in zip(left.used_s, resets, strict=True))
            found[name] = (left.used_s, left.demated_s, left.up_s if counts else None)
        return found


def one_log(text: str, parts: list[Part]) -> Kept:
    """Keep a day in one log."""
    return Kept(text, parts[0].zero * MIN).keep(parts, None)


def chained(text: str, parts: list[Part]) -> Kept:
    """Keep a day in a log for each phase, each begun with the baseline the one before left."""
    left, log = None, None
    for part in parts:
        log = Kept(text, part.zero * MIN).keep([part], left)
        if part is not parts[-1]:
            _, text = log.hand_over(part.left)
            left = part.left
    assert log is not None
    return log


def same(text: str, parts: list[Part], at: int) -> dict[str, object]:
    """Return the clocks of a day, that are the same in one log and handed over."""
    since = parts[-1].zero
    alone = one_log(text, parts).clocks(at, since)
    assert chained(text, parts).clocks(at, since) == alone
    return alone


def with_clocks(kiln: str, vat: str = "{allowed_min: 60, source: s, starts: demate}") -> str:
    """Return the shed with other clocks."""
    text = SHED.replace("clocks: [{allowed_min: 60, source: s}]", f"clocks: [{kiln}]")
    return text.replace(
        "clocks: [{allowed_min: 60, source: s, starts: demate}]", f"clocks: [{vat}]"
    )


KILN_OUT = [(5, "switch_off SWA"), (25, "switch_on SWA")]
"""The kiln is dark for 20 min."""


def test_minutes_used_outlast_a_log_in_which_nothing_went_down() -> None:
    """Used 20 min of 60 in the first log, nothing in the second: 20 handed over, 40 left."""
    parts = [
        Part(0, KILN_OUT, 30),
        Part(100, [], 200),
        Part(300, [(310, "switch_off SWA")], 400),
    ]
    _, text = chained(SHED, parts[:2]).hand_over(200)
    assert "used_min: {kiln: 20}" in text and "up_min" not in text, "no time resets it"
    kiln = same(SHED, parts, 315)["kiln, from 18600, clock 0"]
    # Down at 310: 60 less 20 left, so reconnected by 350; 5 used by 315, 35 left.
    assert kiln == (310 * MIN, 350 * MIN, 20 * MIN, 5 * MIN, 35 * MIN)


def test_a_clock_from_the_demate_does_not_run_for_being_handed_over() -> None:
    """Off for two hours and nothing demated: no clock runs, in either log."""
    parts = [Part(0, [(10, "switch_off SWB")], 130), Part(190, [], 300)]
    vat = same(SHED, parts, 200)["vat, from 600, clock 0"]
    assert vat == (None, None, 0, 0, 60 * MIN)
    report, text = chained(SHED, parts[:1]).hand_over(130)
    assert "dark_min: {vat: 120}" in text and "\n  demated_min: vat:" not in text
    model = parse_baseline(text.encode(), "left").model
    assert model is not None and model.now.demated_min == {"vat": None}
    (row,) = [row for row in report.clocks if row.service == "vat"]
    assert (row.is_down, row.up_min, row.demated_min, row.used_min) == (True, None, None, (0,))


def test_a_clock_from_the_demate_is_handed_over_as_it_ran() -> None:
    """Off at 10, demated at 40, 50 min of 60 gone by 90: reconnect by 100."""
    parts = [Part(0, [(10, "switch_off SWB"), (40, "demate B2")], 60), Part(85, [], 95)]
    vat = same(SHED, parts, 90)["vat, from 600, clock 0"]
    assert vat == (40 * MIN, 100 * MIN, 0, 50 * MIN, 10 * MIN)
    _, text = chained(SHED, parts[:1]).hand_over(60)
    assert "dark_min: {vat: 50}" in text and "demated_min: {vat: 20}" in text


def test_demated_in_the_next_log_it_runs_from_there() -> None:
    parts = [Part(0, [(10, "switch_off SWB")], 60), Part(85, [(90, "demate B2")], 95)]
    vat = same(SHED, parts, 100)["vat, from 600, clock 0"]
    assert vat == (90 * MIN, 150 * MIN, 0, 10 * MIN, 50 * MIN)


@pytest.mark.parametrize(("again", "before"), [(54, 20), (55, 0)])
def test_time_up_counts_across_the_logs(again: int, before: int) -> None:
    """Up since 25; 30 min up reset it: 5 of them in the first log, 20 between, the rest after."""
    parts = [Part(0, KILN_OUT, 30), Part(50, [(again, "switch_off SWA")], 90)]
    shed = with_clocks(RESETS[1])
    kiln = same(shed, parts, again + 1)[f"kiln, from {again * MIN}, clock 0"]
    by = again + 60 - before
    assert kiln == (again * MIN, by * MIN, before * MIN, MIN, (59 - before) * MIN)
    _, text = chained(shed, parts[:1]).hand_over(30)
    assert "used_min: {kiln: 20}" in text and "up_min: {kiln: 5}" in text


@pytest.mark.parametrize(("again", "before"), [(54, 20), (55, 0)])
def test_time_up_counts_across_a_log_in_which_nothing_was_done(again: int, before: int) -> None:
    """Up since 25: 5 min in the first log, 5 before the second, 5 in it, the rest after."""
    shed = with_clocks(RESETS[1])
    parts = [Part(0, KILN_OUT, 30), Part(35, [], 40), Part(50, [(again, "switch_off SWA")], 90)]
    kiln = same(shed, parts, again + 1)[f"kiln, from {again * MIN}, clock 0"]
    assert isinstance(kiln, tuple) and kiln[2] == before * MIN
    _, text = chained(shed, parts[:2]).hand_over(40)
    assert "up_min: {kiln: 15}" in text


def test_reset_as_it_is_handed_over_nothing_is_told() -> None:
    _, text = one_log(with_clocks(RESETS[1]), [Part(0, KILN_OUT, 55)]).hand_over(55)
    assert "used_min" not in text and "\n  up_min" not in text


def test_clocks_of_one_service_are_handed_over_each_for_itself() -> None:
    """Dark for 40 min, demated for 10 of them: 40 of one clock, 10 of the other."""
    shed = with_clocks("{allowed_min: 90, source: s}, {allowed_min: 60, source: t, starts: demate}")
    done = [(10, "switch_off SWA"), (30, "demate A2"), (40, "mate A2 KA"), (50, "switch_on SWA")]
    parts = [Part(0, done, 60), Part(100, [(110, "switch_off SWA"), (120, "demate A2")], 130)]
    _, text = chained(shed, parts[:1]).hand_over(60)
    assert "used_min: {kiln: 40 20}" in text
    found = same(shed, parts, 125)
    # Left: 90 - 40 from 110 on; 60 - 20 from 120 on.
    assert found["kiln, from 6600, clock 0"] == (6600, 160 * MIN, 40 * MIN, 15 * MIN, 35 * MIN)
    assert found["kiln, from 6600, clock 1"] == (7200, 160 * MIN, 20 * MIN, 5 * MIN, 35 * MIN)


@pytest.mark.parametrize(
    ("done", "by"),
    [
        ([(5, "switch_off SWA"), (6, "demate A2"), (8, "demate A1")], ("log 1.3", "log 1.4")),
        ([(5, "demate A1"), (6, "demate A2")], ("log 1.2", "log 1.3")),
        ([(5, "switch_off SWA"), (6, "demate A2"), (8, "demate B1")], ("log 1.3",)),
        ([(6, "demate A2"), (7, "mate A2 KA"), (8, "verify kiln"), (9, "demate A1")], ("log 1.5",)),
    ],
)
def test_what_parts_a_string_that_is_parted_already_disturbs_it_too(
    done: list[tuple[int, str]], by: tuple[str, ...]
) -> None:
    report, _ = one_log(SHED, [Part(0, done, 10)]).hand_over(10)
    kiln = next(row for row in report.retest if row.service == "kiln")
    assert kiln.disturbed_by == by


FOUND_DOWN = [(5, "found kiln down"), (10, "demate A2")]
"""Somebody sees it down though its joins have it up; then they part too."""


def test_found_down_and_parted_it_is_held_down_reconnected_or_not() -> None:
    """Reconnected at 50 in the second log and not back; verified at 60 and back at once."""
    done = [(50, "mate A2 KA"), (60, "verify kiln"), (70, "switch_off SWA")]
    parts = [Part(0, FOUND_DOWN, 20), Part(40, done[:1], 55)]
    assert same(SHED, parts, 55) == {
        # Down since 5, 60 allowed.
        "kiln, from 300, clock 0": (5 * MIN, 65 * MIN, 0, 50 * MIN, 10 * MIN),
        "kiln": ((0,), None, None), "vat": ((0,), None, None),
    }  # fmt: skip
    report, text = one_log(SHED, parts[:1]).hand_over(20)
    assert "\n  found_down: kiln\n" in text
    assert [(row.service, row.found_down, row.seen_only) for row in report.dark] == [
        ("kiln", True, False)
    ]
    back = same(SHED, [parts[0], Part(40, done, 75)], 80)
    assert back["kiln, from 300, clock 0"] == (5 * MIN, 65 * MIN, 0, 55 * MIN, 5 * MIN)
    assert back["kiln, from 4200, clock 0"] == (70 * MIN, 75 * MIN, 55 * MIN, 10 * MIN, -5 * MIN)


def test_found_down_it_is_held_so_over_several_logs() -> None:
    """Its joins part in the second log only, and are back in the third."""
    parts = [
        Part(0, FOUND_DOWN[:1], 8),
        Part(9, FOUND_DOWN[1:], 20),
        Part(30, [], 35),
        Part(40, [(50, "mate A2 KA")], 55),
    ]
    kiln = same(SHED, parts, 60)["kiln, from 300, clock 0"]
    assert kiln == (5 * MIN, 65 * MIN, 0, 55 * MIN, 5 * MIN)
    texts = [chained(SHED, parts[:n]).hand_over(parts[n - 1].left)[1] for n in (1, 2, 3, 4)]
    # Where its joins have it up dark_min says enough.
    assert ["found_down" in text for text in texts] == [False, True, True, False]


def test_found_down_by_its_strings_it_is_held_as_a_whole() -> None:
    """Each of two strings seen down, then both turned off: on again neither brings it back."""
    both = "kiln: {kind: heater, need: 1, strings: {one: {load: LA, feeds: FA}, "
    both += "two: {load: LB, feeds: FB}}, "
    shed = SHED.replace("kiln: {kind: heater, load: LA, feeds: FA, ", both)
    seen = [(5, "found kiln.one down"), (6, "found kiln.two down")]
    done = [*seen, (10, "switch_off SWA"), (11, "switch_off SWB")]
    parts = [Part(0, done, 20), Part(40, [(50, "switch_on SWA"), (52, "switch_on SWB")], 55)]
    kiln = same(shed, parts, 60)["kiln, from 360, clock 0"]
    assert kiln == (6 * MIN, 66 * MIN, 0, 54 * MIN, 6 * MIN)


@pytest.mark.parametrize("last", ["verify kiln", "found kiln up"])
def test_seen_up_again_nothing_of_it_is_handed_over(last: str) -> None:
    done = [*FOUND_DOWN, (15, "mate A2 KA"), (20, last), (25, "switch_off SWA")]
    _, text = one_log(SHED, [Part(0, done, 30)]).hand_over(30)
    assert "found_down" not in text and "dark_min: {kiln: 5}" in text


def test_the_plan_after_it_holds_it_down_too() -> None:
    _, text = one_log(SHED, [Part(0, FOUND_DOWN, 20)]).hand_over(20)
    base = parse_baseline(text.encode(), "left").model
    assert base is not None
    steps = "[{id: s1, by: ev, say: on, do: [{mate: {A2: KA}}, {wait: 9}, {verify: kiln}]}]"
    written = f"{PLAN.partition('steps: ')[0]}steps: {steps}"
    plan = parse_procedure(written.encode(), "p", 1).model
    assert plan is not None
    (spell,) = account(base, [plan]).outages
    # Fifteen minutes dark; mated after one minute, verified from the tenth to the eleventh.
    assert (spell.from_s, spell.to_s, spell.said_as) == (-15 * MIN, 11 * MIN, "found_down")


# -- whatever the day was like ----------------------------------------------------------------

WORDS = (
    *("switch_off SWA", "switch_on SWA") * 2, "switch_off SWB", "switch_on SWB", "demate A2",
    "mate A2 KA", "demate B1", "mate B1 JB", "demate B2", "mate B2 KB", "verify kiln", "verify vat",
    "found kiln down", "found vat down",
)  # fmt: skip
CLOCK = st.builds(
    "{{allowed_min: {}, source: s{}{}}}".format,
    st.sampled_from([15, 60]),
    st.sampled_from(["", ", starts: demate"]),
    st.sampled_from(["", ", resets_after_up_min: 5", ", resets_after_up_min: 25"]),
)
DAY = st.lists(
    st.tuples(
        st.integers(0, 12),
        st.lists(st.tuples(st.integers(1, 9), st.sampled_from(WORDS)), max_size=6),
        st.integers(1, 12),
    ),
    min_size=2,
    max_size=4,
)


@settings(max_examples=400, deadline=None)
@given(DAY, st.lists(CLOCK, min_size=1, max_size=2), CLOCK, st.integers(0, 20))
def test_the_same_day_has_the_same_clocks(
    day: list[tuple[int, list[tuple[int, str]], int]], kiln: list[str], vat: str, wait: int
) -> None:
    parts, at = [], 0
    for gap, steps, after in day:
        zero, done = at + gap, []
        at = zero
        for pause, words in steps:
            at += pause
            done.append((at, words))
        at += after
        parts.append(Part(zero, done, at))
    same(with_clocks(", ".join(kiln), vat), parts, at + wait)
