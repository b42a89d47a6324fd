"""What moves, in which order, and which services turn for good, by hand on the small bench."""

from __future__ import annotations

import small

from cablewalk.book.lanes import chart_of
from cablewalk.book.moves import moves_of, things_of
from cablewalk.book.order import Beat, beats_of
from cablewalk.book.turns import turns_of
from cablewalk.files.place import Source
from cablewalk.reports.outages import outages_report
from cablewalk.reports.steps import step_rows
from cablewalk.timeline.account import Account

SOURCES = (Source("base.yaml", "0" * 64), Source("work.yaml", "1" * 64))


def test_moves_are_every_mate_and_demate_in_order() -> None:
    told = small.run("[[{demate: P1}], [{mate: {P1: JN}}]]")
    moves = moves_of(told)
    assert [(m.step, m.words) for m in moves] == [("s1", "P1 off J1"), ("s2", "P1 on JN")]
    harness = told.trace.wiring.by_id["W1"]
    (cable,) = things_of(told, moves, {harness: "moved"}, {harness: (0,)})
    assert cable.fate == "moves" and cable.carries == ("light",)
    assert [m.other for m in cable.off] == ["J1"] and [m.other for m in cable.on] == ["JN"]


def test_a_joint_of_two_free_ends_is_told_once() -> None:
    more = "{harnesses: {W1: {label: W-1, legs: {P1: p2 pin, P2: p2 socket}}}}"
    told = small.run("[[{take: W2}, {remove_cap: CU}, {demate: P1}, {mate: {P1: N2}}]]", more)
    assert not told.trace.refused, [r.text for r in told.trace.refused]
    moves = moves_of(told)
    assert [m.words for m in moves if not m.is_echo] == ["P1 (W-1) off J1", "P1 (W-1) on N2"]
    assert [m.words for m in moves if m.is_echo] == ["N2 on P1 (W-1)"]
    (beat,) = (b for b in order_of(told) if b.kind == "moves")
    assert beat.words == ["P1 (W-1) off J1", "P1 (W-1) on N2"]


def order_of(told: Account, phase: int = 1) -> list[Beat]:
    """Return the order of the work in a phase, from 1."""
    report = outages_report(told, SOURCES)
    turns = turns_of(told, report)
    return beats_of(moves_of(told), report.outages, turns, report.phases[phase - 1])


def test_order_tells_what_moves_what_goes_dark_and_what_comes_back() -> None:
    told = small.run("[[{demate: P1}, {mate: {P1: J1}}, {wait: 2}], [{demate: P1}]]")
    # Dark from the beginning of the demate, which is over a minute later; in s2 never back.
    assert [(b.kind, b.step, b.pet, b.until, b.words) for b in order_of(told)] == [
        ("dark", "s1", "0:00", "", ["light"]),
        ("moves", "s1", "0:01", "0:02", ["P1 off J1", "P1 on J1"]),
        ("back", "s1", "0:02", "", ["light"]),
        ("dark", "s2", "0:04", "", ["light"]),
        ("moves", "s2", "0:05", "", ["P1 off J1"]),
    ]


def test_each_change_of_a_service_stands_at_its_own_minute() -> None:
    """Two services that one step gives back, one of which takes three and a half minutes more."""
    more = "{services: {slow: {kind: power, load: LAMP, feeds: SRC, recovery_min: 3.5}}}"
    told = small.run("[[{switch_off: SW1}, {switch_on: SW1}, {wait: 6}]]", more)
    rows = outages_report(told, SOURCES).outages
    assert [(r.service, r.to_min) for r in rows] == [("light", 2.0), ("slow", 5.5)]
    assert [(b.kind, b.pet, b.words) for b in order_of(told)] == [
        ("dark", "0:00", ["light", "slow"]),
        ("back", "0:02", ["light"]),
        ("back", "0:06", ["slow"]),
    ]


def test_a_cap_that_carries_current_moves_and_a_dust_cap_does_not() -> None:
    cap = "{label: TERM 9, fits: p2 socket, tethered: 'false', terminals: p n, wired: {1: p}}"
    more = f"{{caps: {{C3: '~', CT: {cap}}}, now: {{fitted: {{CT: J3}}}}}}"
    steps = "[[{take: W2}, {remove_cap: CN}, {remove_cap: CT}], [{fit_cap: {CT: JN}}]]"
    told = small.run(steps, more)
    moves = moves_of(told)
    assert [(m.kind, m.words) for m in moves] == [
        ("cap", "CT (TERM 9) off J3"),
        ("cap", "CT (TERM 9) on JN"),
    ], [r.text for r in told.trace.refused]
    (thing,) = things_of(told, moves, {}, {})
    assert (thing.fate, [m.other for m in thing.trail]) == ("moves", ["J3", "JN"])


def test_units_and_panels_that_are_put_in_or_taken_out_move() -> None:
    told = small.run("[[{remove: BOX}], [{install: BOX}]]", "{people: {}}")
    moves = moves_of(told)
    assert [(m.kind, m.words, m.step) for m in moves] == [
        ("unit", "BOX removed from bench", "s1"),
        ("unit", "BOX installed at bench", "s2"),
    ], [r.text for r in told.trace.refused]
    (unit,) = things_of(told, moves, {}, {})
    assert (unit.kind, unit.named, unit.fate) == ("unit", "BOX", "moves")


def test_a_retired_service_is_off_for_good_and_not_dark() -> None:
    told = small.run("[[{wait: 1}], [{retire: light, reason: no longer read}]]")
    report = outages_report(told, SOURCES)
    assert report.outages == ()
    (turn,) = turns_of(told, report)
    assert (turn.kind, turn.service, turn.label) == ("retired", "light", "power")
    assert (turn.step, turn.pet, turn.why) == ("s2", "0:01", "no longer read")
    (beat,) = order_of(told)
    assert (beat.kind, beat.pet, beat.words) == ("retired", "0:01", ["light"])
    chart = chart_of(report.phases[0], step_rows(told), (), {}, [turn])
    assert [lane.name for lane in chart.retired] == ["light"] and chart.services == []


def test_parking_is_told_apart() -> None:
    told = small.run("[[{demate: P1}, {park: {P1: JP}}]]")
    assert [m.words for m in moves_of(told)] == ["P1 off J1", "P1 parked on JP"]
