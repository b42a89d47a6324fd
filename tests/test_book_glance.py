"""The demo's front page and carry pages, read as they stand, against the report of outages."""

from __future__ import annotations

import re

import small
from test_book_page import Reader, demo, demo_html

from cablewalk.book.book import book_html, told_of
from cablewalk.book.cards import cards_html
from cablewalk.checks.run import check
from cablewalk.files.place import Source
from cablewalk.reports.outages import outages_report
from cablewalk.units import clock_up, seconds


def test_front_page_dates_every_loss_and_return_as_the_report_does() -> None:
    """Read off the page itself, line by line, against the rows of ``outages --json``."""
    told, sources = demo()
    report = outages_report(told.account, sources)
    glance = re.search(r'<section id="glance".*?</section>', demo_html(), re.DOTALL)
    assert glance is not None
    seen: set[tuple[str, int, str, str]] = set()
    for phase, part in enumerate(glance[0].split('<ol class="order">')[1:], start=1):
        for kind, pet, words in re.findall(
            r'<li class="(dark|back|first-up|retired)"><span class="pet">([^<]*)</span>(.*?)</li>',
            part.split("</ol>")[0],
            re.DOTALL,
        ):
            names = re.findall(r'<span class="id">([^<]+)</span> <span class="soft">\(', words)
            assert names
            seen |= {(kind, phase, pet, name) for name in names}
    zero = {p.number: seconds(p.zero_min) for p in report.phases}
    wanted: set[tuple[str, int, str, str]] = set()
    for row in report.outages:
        wanted.add(("dark", row.from_pet.phase_number, row.from_pet.pet, row.service))
        if row.to_min is not None and row.to_pet is not None:
            number = row.to_pet.phase_number
            back = clock_up(seconds(row.to_min) - zero[number])
            wanted.add(("back", number, back, row.service))
    for kind, turns in (("first-up", report.established), ("retired", report.retired)):
        for turn in turns:
            assert turn.at_pet is not None and turn.at_min is not None
            number = turn.at_pet.phase_number
            up = clock_up(seconds(turn.at_min) - zero[number])
            pet = up if kind == "first-up" else turn.at_pet.pet
            wanted.add((kind, number, pet, turn.service))
    assert seen == wanted
    assert {("back", 1, "2:08", "cam-heat"), ("back", 1, "2:18", "bus-cam")} <= seen


def test_front_page_names_the_wired_cap_the_unit_and_what_is_off_for_good() -> None:
    glance = demo_html().split('<section id="job"')[0].split('<section id="glance"')[1]
    page = " ".join("".join(Reader(glance).texts).split())
    trail = "GP-J6 (BUS OUT) at gallery → PP-J12 at prow → R-J5 (BUS OUT) at berth"
    assert f"wired cap TERM (BUS TERM 78) {trail}" in page
    assert "unit ROOST (ROOST RELAY) installed at berth" in page
    assert "TERM (BUS TERM 78) off GP-J6 (BUS OUT); N3-P1 (W-620) on GP-J6 (BUS OUT)" in page
    assert "lamp-power power from outing-2 PET -0:20 on" in page
    assert "tank-heat heater power for 2:33, outing-1 PET -0:21 \N{EN DASH} 2:12" in page
    assert "X1-P1 (W-632 EXT) on N5-P2" not in page, "a joint is told once"


def test_what_is_retired_stands_in_every_part_that_tells_of_services() -> None:
    for part in ("glance", "job", "timeline", "outages"):
        found = re.search(rf'<section id="{part}".*?</section>', demo_html(), re.DOTALL)
        assert found is not None and "lamp-power" in found[0], part


def test_no_table_has_an_empty_heading() -> None:
    told, _ = demo()
    for page in (demo_html(), cards_html(told)):
        assert not re.search(r"<th[^>]*>\s*</th>", page)


def test_bag_manifests_are_among_the_carry_pages() -> None:
    told, _ = demo()
    page = cards_html(told, "a4")
    bags, phases = told.account.ground.baseline.bags, told.account.trace.phases
    assert page.count('<section class="sheet bag"') == len(bags) * len(phases) > 3
    assert page.rindex('<h2 id="c') < page.index('<section class="sheet bag"')
    assert "less up to 4 not charged" in page and "less up to 4 not charged" in demo_html()


def test_a_replay_that_stops_says_where_it_stands_and_not_at_the_end() -> None:
    page = demo_html()
    assert ">At the end<" in page
    told = small.run("[[{demate: P1}], [{demate: P1}], [{wait: 1}]]", keep_going=False)
    assert told.trace.stopped
    sources = (Source("base.yaml", "0" * 64), Source("work.yaml", "1" * 64))
    stopped = book_html(told_of(check(told), sources), sources)
    assert ">Where the replay stopped<" in stopped and ">At the end<" not in stopped
