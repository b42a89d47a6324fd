"""The book of the demo as a file: nothing from outside, everything in it, nothing a user's tag."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
import small

from cablewalk.book.book import Told, book_html, told_of
from cablewalk.checks.run import check
from cablewalk.documents.baseline import Baseline
from cablewalk.files.load import load_baseline, load_procedure
from cablewalk.files.place import Source
from cablewalk.reports.outages import outages_report
from cablewalk.timeline.account import account
from cablewalk.units import clock_down, clock_up, seconds

CONFIGS = Path(__file__).resolve().parents[1] / "configs"
SECTIONS = [
    "glance", "job", "roles", "inhibits", "timeline", "steps", "outages", "difference", "left",
    "bags", "findings", "issue",
]  # fmt: skip
"""The order in which a briefing runs."""
EVIL = "</script><script>alert(1)</script><img src=x onerror=alert(2)>&\"'{{ 7*7 }}\u202e"


class Reader(HTMLParser):
    """Gathers tags, attributes and text of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.texts.append(data)

    @property
    def ids(self) -> list[str]:
        return [v for _, attributes in self.tags if (v := attributes.get("id"))]


@cache
def demo() -> tuple[Told, tuple[Source, ...]]:
    base = load_baseline(CONFIGS / "outpost.yaml")
    rest = [load_procedure(CONFIGS / f"outing-{n}.yaml", n) for n in (1, 2, 3)]
    assert base.model is not None
    told = account(base.model, [p.model for p in rest if p.model is not None])
    sources = (base.source, *(p.source for p in rest))
    return told_of(check(told), sources), sources


@cache
def demo_html() -> str:
    return book_html(*demo())


def book_of(steps: str, more: str = "{}", base: str = small.BENCH, **head: Any) -> str:
    """Return the book of a small replay."""
    told = small.run(steps, more, base, **head)
    sources = (Source("base.yaml", "0" * 64), Source("work.yaml", "1" * 64))
    return book_html(told_of(check(told), sources), sources)


def test_demo_is_small() -> None:
    assert len(demo_html().encode("utf-8")) < 3_000_000


def test_nothing_comes_from_outside() -> None:
    page = Reader(demo_html())
    for tag, attributes in page.tags:
        for name in ("src", "href", "srcset", "action", "data", "poster", "xlink:href"):
            value = attributes.get(name)
            assert value is None or value.startswith("#"), (tag, value)
        assert not any(name.startswith("on") for name in attributes), (tag, attributes)
    assert not {"link", "img", "iframe", "object", "base"} & {tag for tag, _ in page.tags}
    assert "@import" not in demo_html() and "url(" not in demo_html()


def test_only_the_books_own_script_may_run() -> None:
    page = Reader(demo_html())
    policy = next(a["content"] for t, a in page.tags if a.get("http-equiv"))
    assert policy is not None and "default-src 'none'" in policy
    script = re.search(r"<script>(.*?)</script>", demo_html(), re.DOTALL)
    assert script is not None
    digest = base64.b64encode(hashlib.sha256(script[1].encode()).digest()).decode()
    assert f"'sha256-{digest}'" in policy


def test_sections_stand_in_the_order_of_a_briefing() -> None:
    found = [a["id"] for t, a in Reader(demo_html()).tags if t == "section"]
    assert found == SECTIONS


def test_ids_are_unique_and_links_lead_somewhere() -> None:
    page = Reader(demo_html())
    assert len(set(page.ids)) == len(page.ids)
    links = {v[1:] for t, a in page.tags if t == "a" and (v := a.get("href"))}
    assert links and links <= set(page.ids)
    labels = [v for _, a in page.tags if (v := a.get("aria-labelledby"))]
    assert labels and set(labels) <= set(page.ids)


def test_every_step_has_its_scene() -> None:
    told, _ = demo()
    steps = [s.id for timed in told.account.trace.phases for s in timed.plan.steps]
    page = Reader(demo_html())
    names = [a["data-name"] for t, a in page.tags if t == "article"]
    assert sorted(str(n) for n in names) == sorted([*steps, "before", "after"])
    assert "step=1-33" in page.ids


def test_clocks_beside_the_pictures_are_those_of_the_outages_report() -> None:
    """Worked out here from the account's readings, not from what the book is made with."""
    told, _ = demo()
    spells, readings, trace = told.account.outages, told.account.readings, told.account.trace
    seen = 0
    for article in re.findall(r'<article class="scene".*?</article>', demo_html(), re.DOTALL):
        name = re.search(r'data-name="([^"]+)"', article)
        assert name is not None
        if name[1] in ("before", "after"):
            continue
        timed, step = next((t, s) for t in trace.phases for s in t.plan.steps if s.id == name[1])
        at_s = timed.step_end_s[step.position]
        for service, dark, left in re.findall(
            r'data-service="([^"]+)" data-dark="([^"]+)" data-left="([^"]*)"', article
        ):
            n = next(
                n
                for n, spell in enumerate(spells)
                if trace.wiring.services[spell.service].id == service
                and spell.from_s <= at_s
                and (spell.to_s is None or spell.to_s > at_s)
            )
            assert seconds(float(dark)) == at_s - spells[n].from_s
            margins = [
                seconds(r.clock.allowed_min)
                - r.used_before_s
                - max(0, at_s - (at_s if r.runs_from_s is None else r.runs_from_s))
                for r in readings[n]
            ]
            assert (seconds(float(left)) if left else None) == min(margins, default=None)
            seen += bool(left)
    assert seen >= 3, "hardly a running clock was seen"


def test_outages_are_those_of_the_report() -> None:
    told, sources = demo()
    page = " ".join("".join(Reader(demo_html()).texts).split())
    for row in outages_report(told.account, sources).outages:
        used = clock_up(seconds(row.duration_min))
        assert re.search(rf"{row.service}[a-z ]+ {used}\b", page), (row.service, used)
        assert f"{used} dark" in page
        if row.margin_min is not None:
            assert f"Margin{clock_down(seconds(row.margin_min))}" in page
        if row.to_min is not None and row.to_pet is not None:
            zero_min = told.outages.phases[row.to_pet.phase_number - 1].zero_min
            back = clock_up(seconds(row.to_min) - seconds(zero_min))
            assert f"Power backPET {back} of {row.to_pet.phase}" in page
        if row.reconnect_by_pet is not None:
            assert f"Reconnect no later thanPET {row.reconnect_by_pet.pet}" in page


@pytest.mark.parametrize("where", ["label", "words"])
def test_hostile_text_is_shown_as_text(where: str) -> None:
    more = json.dumps(
        {
            "title": EVIL,
            "harnesses": {"W1": {"label": EVIL, "legs": {"P1": "p2 pin", "P2": "p2 socket"}}},
            "bags": {"kit": {"label": EVIL}, "sack": {}},
            "caps": {"C3": {"on": "J3", "label": EVIL}},
            "places": {"bench": {"label": EVIL, "switches": {"SW1": {"label": EVIL}}}},
        }
        if where == "label"
        else {}
    )
    steps = json.dumps(
        [{"say": EVIL, "indication": EVIL, "cautions": [EVIL], "do": [{"demate": "P1"}]}]
    )
    clean = Reader(book_of("[[demate: P1]]"))
    page = Reader(book_of(steps, more, title=EVIL, why=EVIL, planned_outages={"light": EVIL}))
    assert {tag for tag, _ in page.tags} <= {tag for tag, _ in clean.tags}
    assert sum(tag == "script" for tag, _ in page.tags) == 2
    assert not any(name.startswith("on") for _, a in page.tags for name in a)
    said = "".join(page.texts)
    assert "<img src=x onerror=alert(2)>" in said and "{{ 7*7 }}" in said
    assert "\u202e" not in "".join(page.texts)


def test_hostile_label_stands_in_the_picture_as_text() -> None:
    more = json.dumps(
        {"harnesses": {"W1": {"label": "<b>&x", "legs": {"P1": "p2 pin", "P2": "p2 socket"}}}}
    )
    text = book_of("[[demate: P1]]", more, small.LAMP)
    assert "&lt;b&gt;&amp;x" in text and "<b>&x" not in text
    assert "\\u003cb>&x" in film_text(text) or "&lt;b&gt;" in text


def film_text(text: str) -> str:
    found = re.search(r'<script type="application/json" id="film">(.*?)</script>', text, re.DOTALL)
    assert found is not None
    return found[1]


def test_the_difference_end_to_end_is_folded_and_goes_onto_paper() -> None:
    page = Reader(demo_html())
    folded = [a for t, a in page.tags if t == "details" and "ends" in str(a["class"])]
    assert len(folded) >= 3 and not any("open" in a for a in folded)
    assert sum("data-print" in a for a in folded) == len(folded) - 2
    said = "".join(page.texts)
    assert "TP1-J1=N1-P1.1 → N1-P2=GP-J1.1" in said
    assert "No contingency cards are part of this issue." in said


def test_of_a_large_configuration_only_the_difference_is_told_end_to_end() -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("cablewalk.book.book.MANY_HALVES", 1)
        said = "".join(Reader(book_of("[[demate: P1]]")).texts)
    assert "Too large to be told whole end to end" in said
    assert "End to end, removed" in said and "After, end to end" not in said


def test_a_replay_that_stops_says_so() -> None:
    told = small.run("[[demate: P1], [demate: P1], [mate: {P1: J1}]]", keep_going=False)
    sources = (Source("base.yaml", "0" * 64), Source("work.yaml", "1" * 64))
    text = book_html(told_of(check(told), sources), sources)
    assert "The replay stopped at an action that is not possible" in text
    assert "not reached" in text


def test_baseline_without_titles_or_steps_that_matter() -> None:
    text = book_of("[[wait: 3]]", base=small.LAMP)
    assert (
        "No service goes down." in text
        and "Nothing is mated, demated, fitted, installed or removed." in text
    )


def test_templates_are_part_of_the_package() -> None:
    from importlib.resources import files

    names = {p.name for p in (files("cablewalk.book") / "templates").iterdir()}
    assert {"book.html", "parts.html", "cards.html", "base.css", "player.js"} <= names
    assert isinstance(demo()[0].account.ground.baseline, Baseline)
