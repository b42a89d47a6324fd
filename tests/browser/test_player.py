"""Every key and button of the player, deep links, zoom, and what is the same in every step."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from browser.watching import ROOT, Watched

POSITIONS = """() => {
  const all = (what) => [...document.querySelectorAll(what)];
  const lines = all('#picture path, #picture polygon, #picture polyline');
  const words = all('#picture text');
  return lines.map((l) => l.getAttribute('d') || l.getAttribute('points')).join(';')
    + words.map((t) => t.getAttribute('x') + ',' + t.getAttribute('y')).join(';');
}"""
CLASSES = """() => [...document.querySelectorAll('#picture [data-n]')]
  .map((g) => g.className.baseVal).join()"""
VIEW = """() => document.querySelector('#picture svg').getAttribute('viewBox')
  .split(' ').map(Number)"""
JUMP = """(n) => {
  const jump = document.getElementById('jump');
  jump.value = String(n);
  jump.dispatchEvent(new Event('change'));
}"""


def test_buttons(watched: Watched) -> None:
    page = watched.page
    assert watched.step == "before"
    page.click("#b-next")
    assert watched.step == "1-01"
    page.click("#b-next")
    assert watched.step == "1-02"
    page.click("#b-back")
    assert watched.step == "1-01"
    page.click("#b-last")
    assert watched.step == "after"
    page.click("#b-next", force=True)
    assert watched.step == "after", "beyond the last there is nothing"
    page.click("#b-first")
    assert watched.step == "before"
    page.click("#b-back", force=True)
    assert watched.step == "before"


def test_keys(watched: Watched) -> None:
    page = watched.page
    page.locator("#stage").focus()
    for key, step in [
        ("ArrowRight", "1-01"),
        ("ArrowRight", "1-02"),
        ("ArrowLeft", "1-01"),
        ("End", "after"),
        ("Home", "before"),
    ]:
        page.keyboard.press(key)
        assert watched.step == step, key


def test_space_plays_and_pauses(watched: Watched) -> None:
    page = watched.page
    page.clock.install()
    page.reload()
    page.locator("#stage").focus()
    page.keyboard.press("Space")
    assert page.locator("#b-play").get_attribute("aria-pressed") == "true"
    page.clock.run_for(3600)
    assert watched.step == "1-01"
    page.clock.run_for(3600)
    assert watched.step == "1-02"
    page.keyboard.press("Space")
    assert page.locator("#b-play").text_content() == "Play"
    page.clock.run_for(20_000)
    assert watched.step == "1-02"


def test_space_on_a_button_presses_that_button(watched: Watched) -> None:
    watched.page.locator("#b-next").focus()
    watched.page.keyboard.press("Space")
    assert watched.step == "1-01"
    assert watched.page.locator("#b-play").get_attribute("aria-pressed") == "false"


def test_keys_are_left_to_the_page_elsewhere(watched: Watched) -> None:
    watched.page.locator("nav a").first.focus()
    watched.page.keyboard.press("End")
    assert watched.step == "before"


def test_jump_and_slider(watched: Watched) -> None:
    page = watched.page
    page.select_option("#jump", index=3)
    third = watched.step
    assert page.locator("#slide").input_value() == "3"
    page.locator("#slide").focus()
    page.keyboard.press("ArrowRight")
    assert watched.step != third and page.locator("#jump").input_value() == "4"
    assert watched.step in page.locator("#slide").get_attribute("aria-valuetext")


def test_deep_links(chromium: Any, book: Path, watched: Watched) -> None:
    page = watched.page
    page.goto(book.as_uri() + "#step=1-33")
    assert watched.step == "1-33"
    page.click("#b-next")
    assert page.evaluate("location.hash") == "#step=" + watched.step
    page.goto(book.as_uri() + "#step=no-such")
    assert "There is no step no-such" in page.locator("#astray").text_content()
    fresh = Watched(chromium, book.as_uri() + "#step=1-40")
    assert fresh.step == "1-40" and fresh.faults == []
    assert fresh.page.locator("#stage").bounding_box()["y"] < 200, "the player is in sight"
    fresh.context.close()
    page.locator("#timeline .lane a", has_text="1-22").first.click()
    page.wait_for_selector(".scene.on[data-name='1-22']", state="attached")
    assert watched.step == "1-22"


def test_nothing_moves_and_states_change(watched: Watched) -> None:
    page = watched.page
    first = page.evaluate(POSITIONS)
    classes = set()
    assert len(first) > 1000
    for n in range(1, 20):
        page.evaluate(JUMP, n)
        assert page.evaluate(POSITIONS) == first
        classes.add(page.evaluate(CLASSES))
    assert len(classes) > 10


def test_going_back_and_jumping_show_the_same_as_going_on(watched: Watched) -> None:
    page = watched.page
    whole = "() => document.querySelector('#picture svg g').innerHTML"
    seen = {}
    count = int(page.locator("#slide").get_attribute("max"))
    for n in range(count + 1):
        seen[n] = page.evaluate(whole)
        page.click("#b-next", force=True)
    for n in (count, 3, count // 2, 0, count - 1):
        page.evaluate(JUMP, n)
        assert page.evaluate(whole) == seen[n], n


def test_zoom_and_pan(watched: Watched) -> None:
    page = watched.page
    whole = page.evaluate(VIEW)
    page.click("#b-in")
    near = page.evaluate(VIEW)
    assert near[2] < whole[2]
    page.locator("#stage").focus()
    page.keyboard.press("Shift+ArrowRight")
    assert page.evaluate(VIEW)[0] > near[0]
    box = page.locator("#picture svg").bounding_box()
    page.mouse.move(box["x"] + 300, box["y"] + 200)
    page.mouse.down()
    page.mouse.move(box["x"] + 350, box["y"] + 200)
    page.mouse.up()
    page.keyboard.press("+")
    page.keyboard.press("-")
    page.click("#b-out")
    page.keyboard.press("0")
    assert page.evaluate(VIEW) == whole


def test_on_a_phone_the_whole_picture_is_reached(chromium: Any, book: Path) -> None:
    page = Watched(chromium, book.as_uri() + "#step=1-33", viewport={"width": 390, "height": 844})
    sideways = "() => document.getElementById('picture').scrollLeft"
    page.page.locator("#picture").focus()
    assert page.page.evaluate(sideways) == 0
    page.page.keyboard.press("Shift+ArrowRight")
    assert page.page.evaluate(sideways) > 30
    assert page.step == "1-33", "with Shift the step stays"
    page.page.keyboard.press("ArrowRight")
    assert page.step == "1-34"
    page.context.close()


def test_present_fills_the_window(watched: Watched) -> None:
    page = watched.page
    page.click("#b-present")
    page.wait_for_function("document.documentElement.classList.contains('present')")
    box = page.locator("#stage").bounding_box()
    assert box["x"] == 0 and box["y"] == 0
    page.keyboard.press("ArrowRight")
    page.click("#b-present")
    assert not page.evaluate("document.documentElement.classList.contains('present')")


def test_clocks_are_those_of_outages_json(watched: Watched) -> None:
    configs = [str(ROOT / "configs" / f"{n}.yaml") for n in ("outpost", "outing-1")]
    done = subprocess.run(
        [sys.executable, "-m", "cablewalk", "outages", "--json", *configs],
        capture_output=True, text=True, check=True, env={"PYTHONPATH": str(ROOT / "src")},
    )  # fmt: skip
    rows = json.loads(done.stdout)["outages"]
    shown = watched.page.locator(".outage")
    assert shown.count() == len(rows) > 0
    for n, row in enumerate(rows):
        text = " ".join(shown.nth(n).text_content().split())
        # Minutes used are rounded up, as `outages` prints them.
        hours, rest = divmod(-(-round(row["duration_min"] * 60) // 60), 60)
        assert row["service"] in text and f"{hours}:{rest:02d} dark" in text
        for clock in row["clocks"]:
            assert f"PET {clock['reconnect_by_pet']['pet']}" in text


WINDOWS = [(1280, 900), (1920, 1080), (390, 844)]


@pytest.mark.parametrize(("width", "height"), WINDOWS)
def test_a_deep_link_leaves_the_buttons_in_sight(
    chromium: Any, book: Path, width: int, height: int
) -> None:
    window = {"width": width, "height": height}
    page = Watched(chromium, f"{book.as_uri()}#step=1-34", viewport=window)
    page.page.wait_for_timeout(300)
    for name in ("#b-first", "#b-present", "#jump"):
        box = page.page.locator(name).bounding_box()
        bar = page.page.locator(".contents").bounding_box()
        assert bar["y"] + bar["height"] <= box["y"] <= height - box["height"], name
    page.context.close()


@pytest.mark.parametrize(("width", "height"), WINDOWS)
def test_a_deep_link_that_leads_nowhere_says_so_in_sight(
    chromium: Any, book: Path, width: int, height: int
) -> None:
    window = {"width": width, "height": height}
    page = Watched(chromium, f"{book.as_uri()}#step=9-99", viewport=window)
    page.page.wait_for_timeout(300)
    said = page.page.locator("#astray")
    assert "There is no step 9-99 in this book. Shown is: As it is now." in said.inner_text()
    box = said.bounding_box()
    assert 0 < box["y"] < height - box["height"]
    page.page.click("#b-next")
    assert not said.is_visible()
    page.context.close()


def test_on_a_phone_no_table_hides_a_column_and_no_word_breaks(chromium: Any, book: Path) -> None:
    page = Watched(chromium, book.as_uri(), viewport={"width": 390, "height": 844})
    hidden = page.page.evaluate(
        """() => [...document.querySelectorAll('.scroll')].filter((e) =>
          e.querySelector(':scope > table') && e.checkVisibility()
          && e.scrollWidth > e.clientWidth + 1).map((e) => e.getAttribute('aria-label'))"""
    )
    assert hidden == []
    # A word in more than one box is a word that is broken.
    broken = page.page.evaluate(
        """() => {
          const found = [];
          for (const cell of document.querySelectorAll('main :is(td, th, h2, h3)')) {
            if (!cell.checkVisibility() || cell.closest('.scene, thead')) continue;
            const walk = document.createTreeWalker(cell, NodeFilter.SHOW_TEXT);
            while (walk.nextNode()) {
              for (const word of walk.currentNode.data.matchAll(/[A-Za-z]{2,}/g)) {
                const range = document.createRange();
                range.setStart(walk.currentNode, word.index);
                range.setEnd(walk.currentNode, word.index + word[0].length);
                const lines = new Set([...range.getClientRects()].map((r) => Math.round(r.top)));
                // What is longer than a line has no choice.
                const long = [...walk.currentNode.data.matchAll(/\\S{20,}/g)].some((each) =>
                  each.index <= word.index && word.index < each.index + each[0].length);
                if (lines.size > 1 && !long) found.push(word[0]);
              }
            }
          }
          return found;
        }"""
    )
    assert broken == []
    page.context.close()


@pytest.mark.parametrize("scripts", [True, False])
def test_without_scripts_it_is_a_long_page(chromium: Any, book: Path, scripts: bool) -> None:
    page = Watched(chromium, book.as_uri(), java_script_enabled=scripts)
    count = page.page.locator(".scene").count()
    assert page.page.locator(".scene:visible").count() == (1 if scripts else count)
    assert page.page.locator("#b-next").is_visible() is scripts
    page.context.close()
