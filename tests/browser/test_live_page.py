"""The live page of a log on screens of any width: nothing goes over the side."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from asrun_quay import opened
from test_asrun_commands import asrun, done, shown

from browser.watching import Watched
from cablewalk.cli.asrun_watch import View
from cablewalk.cli.asrun_web import html_of

WIDE = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
LONG = "x" * 300


def full(path: Path) -> Path:
    """Return a log whose page has all its parts, with a word that is longer than any screen."""
    log = opened(path)
    done("do", log, "s1", "--pet", "0:04")
    done("also", log, "demate P1", "--pet", "0:06", "--who", "ann")
    done("also", log, "found SW1 tripped", "--pet", "0:07", "--who", "gil", "-m", LONG)
    done("also", log, "found radio down", "--pet", "0:07", "--who", "gil", "-m", "no voice")
    done("note", log, "--open", "--pet", "0:08", f"{LONG} is to be looked at")
    asrun("also", log, "verify radio", "--pet", "0:09", "--who", "gil")
    done("do", log, "s3/1", "failed", "-m", LONG, "--pet", "0:10")
    return log


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("live")
    log = full(folder)
    now = shown("now", log)
    assert now["impossible"] and now["down"] and now["open_items"] and now["unfinished"]
    assert [f for f in now["findings"] if f["severity"] == "error"]
    (folder / "live.html").write_text(html_of(View(log).report(), 3600), encoding="utf-8")
    return folder / "live.html"


@pytest.mark.parametrize("width", [320, 420, 768, 1280])
def test_no_screen_scrolls_sideways(chromium: Any, page: Path, width: int) -> None:
    watched = Watched(chromium, page.as_uri(), viewport={"width": width, "height": 900})
    over = watched.page.evaluate(WIDE)
    heads = watched.page.locator("tr.heads").first.is_visible()
    watched.context.close()
    assert over == 0, f"{over} px over the side"
    assert heads is (width >= 1280), "on a narrow screen each cell has its head before it"
    assert watched.faults == []


def test_on_a_narrow_screen_each_cell_says_what_it_is(chromium: Any, page: Path) -> None:
    watched = Watched(chromium, page.as_uri(), viewport={"width": 420, "height": 900})
    said = watched.page.evaluate(
        "[...document.querySelectorAll('td[data-head]')]"
        ".map(cell => getComputedStyle(cell, ':before').content)"
    )
    watched.context.close()
    assert {'"Dark: "', '"Way out: "', '"Who: "'} <= {text.replace('" "', "") for text in said}


def test_on_a_wide_screen_no_heading_is_broken(chromium: Any, page: Path) -> None:
    watched = Watched(chromium, page.as_uri(), viewport={"width": 1280, "height": 900})
    lines = watched.page.evaluate(
        "[...document.querySelectorAll('th, td[data-head=Clock], td[data-head=Left]')]"
        ".filter(cell => cell.innerText)"
        ".map(cell => { const r = document.createRange(); r.selectNodeContents(cell);"
        " return r.getClientRects().length })"
    )
    watched.context.close()
    assert len(lines) > 10 and set(lines) == {1}


def test_on_a_narrow_screen_a_row_is_as_wide_as_the_page(chromium: Any, page: Path) -> None:
    watched = Watched(chromium, page.as_uri(), viewport={"width": 420, "height": 900})
    wide = watched.page.evaluate(
        "[...document.querySelectorAll('tr:not(.heads)')].map(row => row.offsetWidth)"
    )
    body = watched.page.evaluate("document.body.clientWidth")
    watched.context.close()
    assert set(wide) == {body}
