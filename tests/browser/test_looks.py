"""Accessibility, widths, paper: what axe-core, the phone and the printer say."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from browser.watching import Watched

WIDE = """() => [...document.querySelectorAll('body *')].filter((e) => {
  if (e.closest('.scroll, .picture, .contents, .lane, svg')) return false;
  const box = e.getBoundingClientRect();
  return box.width > 0 && box.right > document.documentElement.clientWidth + 1;
}).map((e) => e.tagName + '.' + e.className).slice(0, 5)"""


def serious(page: Any) -> list[str]:
    """Return what axe-core finds of impact serious or critical."""
    axe = pytest.importorskip(
        "axe_playwright_python.sync_playwright",
        reason="axe-core is not installed (pip install '.[browser]')",
    )
    found = axe.Axe().run(page).response["violations"]
    return [
        f"{v['id']}: {node['target']} {node.get('failureSummary', '')[:200]}"
        for v in found
        if v["impact"] in ("serious", "critical")
        for node in v["nodes"][:3]
    ]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", ["book.html", "cards.html"])
@pytest.mark.parametrize("width", [390, 1440])
def test_axe_finds_nothing_serious(
    chromium: Any, book: Path, scheme: str, name: str, width: int
) -> None:
    url = (book.parent / name).as_uri() + ("#step=1-33" if name == "book.html" else "")
    page = Watched(chromium, url, color_scheme=scheme, viewport={"width": width, "height": 900})
    assert serious(page.page) == []
    assert page.faults == []
    page.context.close()


def test_axe_sees_a_fault(chromium: Any, book: Path) -> None:
    page = Watched(chromium, book.as_uri())
    page.page.evaluate(
        "() => document.querySelector('#jump').parentElement.replaceWith("
        "document.querySelector('#jump'))"
    )
    assert any("select-name" in fault for fault in serious(page.page))
    page.context.close()


@pytest.mark.parametrize("width", [320, 390, 768, 1440, 1920])
def test_no_width_clips_or_scrolls_sideways(chromium: Any, book: Path, width: int) -> None:
    """320 CSS pixels are what WCAG 2.2, criterion 1.4.10 (Reflow) asks for."""
    page = Watched(chromium, book.as_uri(), viewport={"width": width, "height": 800})
    assert page.page.evaluate("document.documentElement.scrollWidth") <= width
    assert page.page.evaluate(WIDE) == []
    page.context.close()


def test_targets_are_large_enough(chromium: Any, book: Path) -> None:
    """24 CSS pixels: WCAG 2.2, criterion 2.5.8 (Target Size, Minimum)."""
    page = Watched(chromium, book.as_uri(), viewport={"width": 390, "height": 844})
    for target in page.page.locator(".stage button:visible, .stage select:visible").all():
        box = target.bounding_box()
        assert box["height"] >= 24 and box["width"] >= 24
    page.context.close()


def test_nothing_moves_by_itself_where_motion_is_not_wanted(chromium: Any, book: Path) -> None:
    page = Watched(chromium, book.as_uri(), reduced_motion="reduce")
    assert page.page.evaluate("document.getAnimations().length") == 0
    page.page.click("#b-next")
    assert page.page.evaluate("document.getAnimations().length") == 0
    page.context.close()


def test_first_tab_leads_past_the_contents(chromium: Any, book: Path) -> None:
    page = Watched(chromium, book.as_uri())
    page.page.keyboard.press("Tab")
    assert page.page.evaluate("document.activeElement.className") == "skip"
    page.context.close()


@pytest.fixture
def printed(chromium: Any, book: Path) -> Callable[[str], Watched]:
    """Return the book laid out for paper, as wide as A4 less its margins (186 mm at 96 dpi)."""

    def make(what: str) -> Watched:
        page = Watched(chromium, book.as_uri(), viewport={"width": 703, "height": 1000})
        page.page.select_option("#print-what", what)
        page.page.evaluate("dispatchEvent(new Event('beforeprint'))")
        page.page.emulate_media(media="print")
        return page

    return make


@pytest.mark.parametrize("what", ["all", "matters", "this"])
def test_paper_clips_nothing_and_has_the_steps_asked_for(
    printed: Callable[[str], Watched], what: str
) -> None:
    page = printed(what).page
    scenes = page.locator(".scene:visible")
    every, mattering = page.locator(".scene").count(), page.locator(".scene[data-matters]").count()
    assert scenes.count() == {"all": every, "matters": mattering, "this": 1}[what]
    assert page.locator(".scene:visible > svg").count() == scenes.count()
    assert page.evaluate("document.documentElement.scrollWidth") <= 703
    clipped = page.evaluate(
        """() => [...document.querySelectorAll('body *')].filter((e) => !e.closest('svg, .lane')
          && e.getClientRects().length
          && e.getBoundingClientRect().right > 704).map((e) => e.outerHTML.slice(0, 80))"""
    )
    assert clipped == []
    page.context.close()


def test_each_printed_picture_is_that_of_its_step(printed: Callable[[str], Watched]) -> None:
    page = printed("all").page
    words = (
        "(n) => [...document.querySelectorAll(`.scene[data-n='${n}'] > svg text`)]"
        ".map((t) => t.textContent).join('|')"
    )
    shown = """(n) => {
      const jump = document.getElementById('jump');
      jump.value = String(n);
      jump.dispatchEvent(new Event('change'));
      return [...document.querySelectorAll('#picture text')].map((t) => t.textContent).join('|');
    }"""
    on_paper = {n: page.evaluate(words, n) for n in (0, 4, 11)}
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    for n, text in on_paper.items():
        assert page.evaluate(shown, n) == text
    assert len(set(on_paper.values())) == 3
    assert page.locator(".scene > svg").count() == 0
    page.context.close()


def test_pdf_is_made(chromium: Any, book: Path, tmp_path: Path) -> None:
    page = Watched(chromium, book.as_uri())
    page.page.pdf(path=str(tmp_path / "book.pdf"), prefer_css_page_size=True)
    raw = (tmp_path / "book.pdf").read_bytes()
    # A4 in points (ISO 216): 595.28 x 841.89.
    assert raw.startswith(b"%PDF") and (b"[0 0 594.95" in raw or b"[0 0 595" in raw)
    page.context.close()
