"""What the book tells, worked out by hand on the small bench: left outside, bags, moves, clocks."""

from __future__ import annotations

from pathlib import Path

import pytest
import small
from click.testing import CliRunner

from cablewalk.book.bags import bags_of
from cablewalk.book.briefing import briefs_of
from cablewalk.book.cards import cards_of
from cablewalk.book.deeds import action_words
from cablewalk.book.issue import BadDate, issue_of
from cablewalk.book.lanes import Bar, chart_of, fitted_bars
from cablewalk.book.left import OPEN_END, in_brief, left_after
from cablewalk.book.paper import _environment
from cablewalk.book.places import whereabouts
from cablewalk.book.running import running_at
from cablewalk.cli import commands
from cablewalk.drawings.moments import ending, moments
from cablewalk.files.place import Source
from cablewalk.reports.heading import heading
from cablewalk.reports.outage import outage_rows
from cablewalk.reports.outages import outages_report
from cablewalk.reports.steps import step_rows
from cablewalk.timeline.account import Account, account

SOURCES = (Source("base.yaml", "0" * 64), Source("work.yaml", "1" * 64))
FIRST = """
- [{switch_off: SW1}, {demate: P1}, {pick_up: P1}, {restrain: P1}]
- [{take: W2}, {stow: {N1: bench}}, {stow: {N2: bench}}]
- [{release: {COV: 2}}]
"""
SECOND = """
- {id: back, do: [{pick_up: P1}, {mate: {P1: J1}}]}
- {id: lid, do: [{fasten: COV}]}
"""
TIED = """
bags: {kit: {ties: 3, tools: {wrench: 2}}, sack: {}}
now: {bags: {sack: far}, along: {W1.main: way}}
"""


def two(first: str = FIRST, second: str = SECOND, more: str = "{}") -> Account:
    """Replay two phases on the bench whose cover is over no segment."""
    base = small.baseline(small.AJAR, more)
    works = [
        small.procedure(first, procedure="one"),
        small.procedure(second, procedure="two", gap_min="60"),
    ]
    return account(base, works, keep_going=True)


def test_left_after_the_first_phase_names_the_step_that_finishes_it() -> None:
    told = two()
    assert not told.trace.refused, [r.text for r in told.trace.refused]
    rows = {(r.group, r.end or r.named): r for r in left_after(told, 0)}
    end = rows["ends", "P1"]
    assert end.is_new and end.how == "bare, clipped for now at bench"
    assert end.finished == "two, step back"
    assert rows["covers", "COV"].finished == "two, step lid"
    assert rows["ends", "N1"].finished == OPEN_END
    assert rows["services", "light"].finished == "two, step back" or not rows[
        "services", "light"
    ].finished.startswith("one")


def test_left_after_the_last_phase_is_finished_by_nothing() -> None:
    told = two()
    rows = left_after(told, 1)
    assert {r.finished for r in rows} == {OPEN_END}
    (end,) = [r for r in rows if r.end == "P1"]
    assert end.how == "mated J1, in the hand of ada", "mating moves no leg"
    assert "COV" not in {r.named for r in rows}


def test_in_brief_tells_for_now_only_what_is_finished_later() -> None:
    told = two()
    now = dict(in_brief(left_after(told, 0), True))
    assert set(now) == {"W1", "COV"}
    at_the_end = dict(in_brief(left_after(told, 1), False))
    assert [r.end for r in at_the_end["W2"]] == ["N1", "N2"]


def test_nothing_new_is_left_by_work_that_puts_all_back() -> None:
    told = small.run(
        "[[demate: P1, ], [{mate: {P1: J1}}]]".replace("[demate: P1, ]", "[{demate: P1}]")
    )
    assert not [r for r in left_after(told, 0) if r.is_new and r.group == "ends"]


def test_bag_counts_tools_and_ties() -> None:
    steps = "[[{take: W2}, {stow: {N1: bench}}, {tie: {W1.main: t1}}]]"
    told = small.run(steps, TIED, small.AJAR)
    assert not told.trace.refused, [r.text for r in told.trace.refused]
    (packing,) = bags_of(told)
    kit = next(m for m in packing.manifests if m.bag == "kit")
    assert kit.tools == (("wrench", 2),)
    assert kit.at_egress[0] == "W2" and "W2" not in kit.at_ingress
    assert kit.taken == ["N1: s1", "N2: s1"]
    assert (kit.ties_out, kit.ties_used, kit.ties_back) == (3, 1, 2)
    assert packing.ties_made == ["s1: 1"]


def test_tools_are_counted_from_the_steps_that_move_them() -> None:
    steps = (
        "[[{take: W2, tools_out: {wrench: kit}}, {stow: {N1: bench}, tools: wrench}]]",
        "[[{inspect: J1, tools_back: {wrench: kit}}]]",
    )
    told = two(*steps, TIED)
    assert not told.trace.refused, [r.text for r in told.trace.refused]
    first, second = (next(m for m in b.manifests if m.bag == "kit") for b in bags_of(told))
    assert (first.tools, first.tools_back) == ((("wrench", 2),), (("wrench", 1),))
    assert "wrench: s1" in first.taken
    assert (second.tools, second.tools_back) == ((("wrench", 1),), (("wrench", 2),))
    card = cards_of(told, step_rows(told), whereabouts(told))[0]
    assert [line.tools for line in card.steps[0].lines] == [("wrench out of kit",), ("wrench",)]


def test_ties_count_down_over_the_phases() -> None:
    told = two("[[{tie: {W1.main: t1}}]]", "[[{tie: {W1.main: t2}}]]", TIED)
    assert not told.trace.refused, [r.text for r in told.trace.refused]
    first, second = (b.manifests[0] for b in bags_of(told))
    assert (first.ties_out, first.ties_back) == (3, 2)
    assert (second.ties_out, second.ties_back) == (2, 1)


def test_a_tie_that_two_bags_could_give_is_charged_to_neither() -> None:
    both = TIED.replace("sack: far", "sack: bench")
    (packing,) = bags_of(small.run("[[{tie: {W1.main: t1}}]]", both, small.AJAR))
    assert packing.ties_uncharged == 1
    assert [m.ties_used for m in packing.manifests] == [0, 0]
    kit, sack = packing.manifests
    assert (kit.ties_back, kit.unsure_out, kit.unsure_back) == (3, 0, 1)
    assert sack.unsure_back == 0, "no tie can come out of a bag that has none"


def test_ties_that_are_not_sure_stay_so_in_the_next_phase() -> None:
    both = TIED.replace("sack: far", "sack: bench").replace("sack: {}", "sack: {ties: 2}")
    told = two("[[{tie: {W1.main: t1}}]]", "[[{tie: {W1.main: t2}}]]", both)
    assert not told.trace.refused, [r.text for r in told.trace.refused]
    first, second = bags_of(told)
    assert [(m.unsure_out, m.unsure_back) for m in first.manifests] == [(0, 1), (0, 1)]
    assert [(m.unsure_out, m.unsure_back) for m in second.manifests] == [(1, 2), (1, 2)]
    assert [(m.ties_out, m.ties_back) for m in second.manifests] == [(3, 3), (2, 2)]


def test_a_bag_left_out_is_told_with_its_place() -> None:
    told = small.run(
        "[[{carry: kit}, {walk: {to: hatch, carrying: true}}, {leave: kit}, {walk: bench}]]"
    )
    left = dict(in_brief(left_after(told, 0), False))
    assert [row.brief for row in left["kit"]] == ["at hatch: holds W2, CL"]


def test_translation_plan() -> None:
    told = small.run(
        "[[{carry: kit}, {walk: {to: hatch, carrying: true, }}], [{leave: kit}]]".replace(
            "true, }", "true}"
        )
    )
    (way,) = whereabouts(told).ways
    assert (way.person, way.start, way.end) == ("ada", "bench", "hatch")
    assert (way.step, way.pet, way.takes, way.with_bags) == ("s1", "0:01", "0:01", ("kit",))


def test_running_clocks_begin_and_end_where_the_outage_does() -> None:
    clocks = "{services: {light: {clocks: [{allowed_min: 10, starts: power_off, source: s}]}}}"
    told = small.run("[[{demate: P1}], [{wait: 4}], [{mate: {P1: J1}}]]", clocks)
    rows = outage_rows(told)
    assert running_at(rows, 0.0, set()) == []
    (begun,) = running_at(rows, 0.0, {"light"})
    assert (begun.dark_min, begun.left_min) == (0, 10)
    (later,) = running_at(rows, 5.0, {"light"})
    assert (later.dark_min, later.left_min, later.used_percent) == (5, 5, 50)
    assert later.words == "0:05 dark of 0:10 allowed, 0:05 left"
    assert running_at(rows, 6.0, set()) == []


def test_a_clock_that_is_over_says_so() -> None:
    clocks = "{services: {light: {clocks: [{allowed_min: 2, starts: power_off, source: s}]}}}"
    told = small.run("[[{demate: P1}], [{wait: 4}]]", clocks)
    (row,) = running_at(outage_rows(told), 5.0, {"light"})
    assert row.words == "0:05 dark of 0:02 allowed, 0:03 OVER"
    assert row.used_percent == 100


def test_cards_hold_a_workers_own_actions() -> None:
    told = small.run(
        "[{by: [ada, bob], do: [{walk: hatch, by: ada}, {wait: 1}], indication: seen},"
        " {by: bob, do: [{demate: P1}]}]"
    )
    cards = cards_of(told, step_rows(told), whereabouts(told))
    assert [(c.person, [s.row.id for s in c.steps]) for c in cards] == [
        ("ada", ["s1"]),
        ("bob", ["s1", "s2"]),
    ]
    ada = cards[0].steps[0].lines
    assert [(n.place, n.verb, n.what) for n in ada] == [
        ("bench", "walk", "to hatch"),
        ("hatch", "wait", "1 min"),
    ]
    assert [n.verb for s in cards[1].steps for n in s.lines] == ["wait", "demate"]


def test_who_is_handed_a_cable_receives_it_and_roles_give_the_order() -> None:
    told = small.run(
        "[{by: [ev1, ev2], do: [{take: W2, by: ev1}, {hand_over: {N2: ev2}, by: [ev1, ev2]}]}]",
        roles={"ev1": "bob", "ev2": "ada"},
    )
    assert not told.trace.refused, [r.text for r in told.trace.refused]
    cards = cards_of(told, step_rows(told), whereabouts(told))
    assert [(c.role, c.person) for c in cards] == [("ev1", "bob"), ("ev2", "ada")]
    lines = [[(n.verb, n.what, n.with_whom) for s in c.steps for n in s.lines] for c in cards]
    assert lines == [
        [("take", "W2", ()), ("hand over", "N2 to ev2", ())],
        [("receive", "N2 from EV1 bob", ())],
    ]


def test_the_player_says_what_a_connector_comes_off() -> None:
    told = small.run("[[{demate: P1}]]")
    action = step_rows(told)[0].actions[0]
    assert action_words(action, {}) == ("demate", "P1 off J1")


def test_minutes_used_are_rounded_up_and_minutes_left_down() -> None:
    clocks = "{services: {light: {clocks: [{allowed_min: 10, starts: power_off, source: s}]}}}"
    told = small.run("[[{demate: P1}], [{wait: 8}]]", clocks)
    (row,) = running_at(outage_rows(told), 4.4, {"light"})
    assert row.words == "0:05 dark of 0:10 allowed, 0:05 left"
    (late,) = running_at(outage_rows(told), 10.0 + 0.2, {"light"})
    assert late.words.endswith("0:01 OVER")


def test_cards_say_what_the_cable_bears_and_where_its_end_comes_off() -> None:
    more = "{harnesses: {W1: {label: W-7, legs: {P1: p2 pin, P2: p2 socket}}}}"
    told = small.run("[[{demate: P1}, {inspect: P1}, {mate: {P1: J1}}]]", more)
    (card,) = cards_of(told, step_rows(told), whereabouts(told))
    assert [(n.verb, n.what) for n in card.steps[0].lines] == [
        ("demate", "P1 (W-7) off J1"),
        ("inspect", "P1 (W-7)"),
        ("mate", "P1 (W-7) to J1"),
    ]


def test_an_id_is_not_parted_at_its_hyphen_and_stays_text() -> None:
    page = _environment().from_string("{{ text|whole }}")
    assert page.render(text="cap C-1 on it") == 'cap <span class="id">C-1</span> on it'
    long = "x-" * 20
    assert page.render(text=long) == long, "what is longer than a line must break"
    assert page.render(text="<b>-&\u202e") == '<span class="id">&lt;b&gt;-&amp;\\u202e</span>'
    assert page.render(text="<i>") == "&lt;i&gt;"


def test_briefs_name_calls_and_who_waits() -> None:
    told = small.run(
        "[{by: ivy, do: [{go_call: go-1}]}, {go: go-1, cautions: [hot, hot], do: [{wait: 1}]}]",
        roles={"iv": "ivy"},
    )
    (brief,) = briefs_of(told, step_rows(told))
    assert [(c.name, c.given_by, c.waiting) for c in brief.calls] == [("go-1", "ivy", ("s2",))]
    assert [(a.role, a.person, a.steps) for a in brief.actors] == [("iv", "ivy", 1), ("", "ada", 1)]
    assert [(c.text, c.steps) for c in brief.cautions] == [("hot", ["s2", "s2"])]


def test_chart_spans_the_phase() -> None:
    told = small.run("[[{demate: P1}], [{wait: 8}], [{mate: {P1: J1}}]]")
    report = outages_report(told, SOURCES)
    chart = chart_of(report.phases[0], step_rows(told), report.outages, {(1, "s1"): 1})
    (lane,) = [lane for lane in chart.people if lane.name == "ada"]
    assert [(b.left, b.width) for b in lane.bars] == [(0, 10), (10, 80), (90, 10)]
    assert [b.step for b in lane.bars] == [1, None, None]
    (dark,) = chart.services
    assert (dark.bars[0].left, dark.bars[0].width, dark.bars[0].text) == (0, 100, "0:10")


def test_words_of_a_bar_stand_where_there_is_room() -> None:
    bars = [Bar(0, 20, "1-01", ""), Bar(20, 1, "1-02", ""), Bar(21, 1, "1-03", "")]
    assert [b.fit for b in fitted_bars(bars)] == ["", "under", "thin"]
    more = [Bar(20 + n, 1, f"1-0{n}", "") for n in range(6)]
    fits = [b.fit for b in fitted_bars(more)]
    # "1-00" needs 5 x 0.75 percent: so the fourth bar is the next with room beneath.
    assert fits == ["under", "tight", "tight", "tight", "under", "thin"]


def test_mark_is_of_the_contents_and_options() -> None:
    told = small.run("[[{wait: 1}]]")
    report = outages_report(told, SOURCES)
    assert heading(told, SOURCES)["baseline"].sha256 == "0" * 64
    one = issue_of(report, "", {"SOURCE_DATE_EPOCH": "0"})
    assert one.date == "1970-01-01" and one.mark.count("-") == 2
    assert issue_of(report, "", {}).mark == one.mark
    assert issue_of(report, "other", {}).mark != one.mark
    other = outages_report(told, (SOURCES[0], Source("work.yaml", "3" * 64)))
    assert issue_of(other, "", {}).mark != one.mark


@pytest.mark.parametrize("text", ["soon", "1e99", "9" * 30])
def test_a_date_that_is_none_is_refused(text: str) -> None:
    report = outages_report(small.run("[[{wait: 1}]]"), SOURCES)
    with pytest.raises(BadDate, match="SOURCE_DATE_EPOCH"):
        issue_of(report, "", {"SOURCE_DATE_EPOCH": text})


def test_every_moment_of_a_small_replay_has_an_ending() -> None:
    told = small.run("[[{wait: 1}]]")
    every = moments(told)
    assert ending(told.trace, every[-1]).time_s == told.trace.end_s


def test_carry_pages_mark_what_the_replay_could_not_do() -> None:
    told = small.run("[[{demate: P1}], [{mate: {N1: J1}}], [{inspect: J1}]]", small.AJAR)
    assert told.trace.refused
    cards = cards_of(told, step_rows(told), whereabouts(told))
    marks = [line.mark for card in cards for step in card.steps for line in step.lines]
    assert (marks[0], marks[1]) == ("", "not possible")
    assert all(step.place for card in cards for step in card.steps[1:])


def test_carry_pages_of_a_stopped_replay_are_not_for_work(tmp_path: Path) -> None:
    demo = Path(__file__).resolve().parents[1] / "configs" / "faulty"
    page = tmp_path / "c.html"
    files = [str(demo / "bench.yaml"), str(demo / "swap.yaml")]
    CliRunner().invoke(commands, ["book", *files, "--cards", str(page)])
    text = page.read_text(encoding="utf-8")
    assert text.count("Not for work") >= 2 and "THE REPLAY STOPPED at step s2" in text
    assert "NOT POSSIBLE:" in text and "NOT REACHED:" in text
