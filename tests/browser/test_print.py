"""The real print: what the PDF says, page by page, against what the page says."""

from __future__ import annotations

import re
import subprocess
import sys
import unicodedata
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from browser.watching import ROOT, Watched

# ISO 216 A4 is 210 x 297 mm; ANSI/ASME Y14.1 size A (US Letter) is 8.5 x 11 in. Points.
SHEETS = {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}
CUFF = (100 / 25.4 * 72, 150 / 25.4 * 72)
SLACK_PT = 2.0
"""Chromium rounds a sheet to its own pixels (seen: 0.35 pt)."""
FOOT_PT = 24.0
"""The marks at the foot stand below this; the least margin there is 9 mm, 25.5 pt."""

SHOWN = """() => {
  const found = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const holder = walk.currentNode.parentElement;
    if (!holder.closest('title, script, style, option') && holder.checkVisibility()) {
      found.push(walk.currentNode.data);
    }
  }
  return found;
}"""
"""Every text of the page that is not hidden, those of its pictures too."""

CUT_OFF = """() => [...document.querySelectorAll('body *')].filter((e) => {
  const style = getComputedStyle(e);
  const hides = (way) => style.getPropertyValue('overflow-' + way) !== 'visible';
  return e.checkVisibility() && !e.closest('svg') && style.display !== 'inline'
    && !style.clipPath.startsWith('inset')
    && ((hides('x') && e.scrollWidth > e.clientWidth + 1)
      || (hides('y') && e.scrollHeight > e.clientHeight + 1));
}).map((e) => e.outerHTML.slice(0, 100))"""
"""What is larger than the box that shows it. (What is cut to nothing is there for readers of
screens: a bar's words where there is no room for them.)"""


def bound(folder: Path, page: str) -> Path:
    """Return a book of the demo for a paper, with cards of the same size (a cuff's for A4)."""
    configs = [str(ROOT / "configs" / f"{name}.yaml") for name in ("outpost", "outing-1")]
    out = folder / f"{page}.html"
    subprocess.run(
        [
            *(sys.executable, "-m", "cablewalk", "book", *configs, "--page", page),
            *("--out", str(out), "--cards", str(folder / f"{page}-cards.html")),
            *("--card-size", "cuff" if page == "a4" else page),
        ],
        check=True, capture_output=True, env={"PYTHONPATH": str(ROOT / "src")},
    )  # fmt: skip
    return out


@pytest.fixture(scope="module", params=sorted(SHEETS))
def sheet(request: Any, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path]:
    """The name of a paper, and the book made for it."""
    return request.param, bound(tmp_path_factory.mktemp("print"), request.param)


@pytest.fixture
def printer(chromium: Any, tmp_path: Path) -> Iterator[Callable[..., tuple[Any, list[str]]]]:
    """Return what prints a file: (the PDF, the texts that the printed page has)."""
    pdfium = pytest.importorskip(
        "pypdfium2", reason="pypdfium2 is not installed (pip install '.[browser]')"
    )
    opened: list[Watched] = []

    def run(file: Path, what: str = "") -> tuple[Any, list[str]]:
        page = Watched(chromium, file.as_uri(), viewport={"width": 1440, "height": 900})
        opened.append(page)
        if what:
            page.page.select_option("#print-what", what)
        page.page.pdf(path=str(tmp_path / "out.pdf"), prefer_css_page_size=True)
        if what:
            page.page.evaluate("dispatchEvent(new Event('beforeprint'))")
        page.page.emulate_media(media="print")
        document = pdfium.PdfDocument(tmp_path / "out.pdf")
        margins_mm = 24 if what else 12  # both sides: of a book, of cards
        width = int((document[0].get_size()[0] / 72 * 25.4 - margins_mm) / 25.4 * 96)
        page.page.set_viewport_size({"width": width, "height": 1000})
        assert page.page.evaluate("document.documentElement.scrollWidth") <= width
        texts = page.page.evaluate(SHOWN)
        assert page.page.evaluate(CUT_OFF) == []
        assert page.faults == []
        return document, texts

    yield run
    for page in opened:
        page.context.close()


def letters(text: str) -> str:
    """Return the letters and digits of a text: on paper its lines are broken otherwise."""
    return "".join(c for c in unicodedata.normalize("NFKC", text).upper() if c.isalnum())


def lacking(document: Any, texts: list[str]) -> list[str]:
    """Return the texts that are not to be read whole within the sheets of the PDF."""
    said = ""
    for sheet in document:
        width, height = sheet.get_size()
        # Without the marks at the foot, a text goes on at once on the next page.
        said += letters(sheet.get_textpage().get_text_bounded(0, FOOT_PT, width, height))
    found = []
    for text in {letters(text) for text in texts}:
        parted = ((text[:k], text[k:]) for k in range(1, len(text)))
        if text not in said and not any(a in said and b in said for a, b in parted):
            found.append(text)
    return found


@pytest.mark.parametrize("what", ["all", "this"])
def test_every_word_of_the_book_is_on_its_paper(
    printer: Callable[..., tuple[Any, list[str]]], sheet: tuple[str, Path], what: str
) -> None:
    name, file = sheet
    document, texts = printer(file, what)
    for page in document:
        assert page.get_size() == pytest.approx(SHEETS[name], abs=SLACK_PT)
    if what == "this":
        assert len(document) == 1, "only the page of the step"
        assert "As it is now" in texts and "Bag manifests" not in texts
    else:
        assert len(document) > 20
        first = letters(document[0].get_textpage().get_text_bounded())
        assert letters("In which order") in first, "the front page is not left empty"
        assert len(letters("".join(texts))) > 10_000
    assert lacking(document, texts) == []


def test_every_word_of_the_cards_is_on_its_paper(
    printer: Callable[..., tuple[Any, list[str]]], sheet: tuple[str, Path]
) -> None:
    name, file = sheet
    document, texts = printer(file.with_name(f"{name}-cards.html"))
    size = CUFF if name == "a4" else SHEETS[name]
    for page in document:
        assert page.get_size() == pytest.approx(size, abs=SLACK_PT)
    assert lacking(document, texts) == []
    assert {t for t in texts if re.fullmatch(r"1-\d\d", t)} >= {"1-10", "1-33", "1-60"}


@pytest.mark.parametrize(
    "style", ["position:relative;left:-30cm", "width:2em;white-space:nowrap;overflow:hidden"]
)
def test_what_is_off_the_sheet_or_cut_off_is_found(
    printer: Callable[..., tuple[Any, list[str]]],
    sheet: tuple[str, Path],
    tmp_path: Path,
    style: str,
) -> None:
    text = sheet[1].read_text(encoding="utf-8")
    faulty = text.replace("</style>", f"#t-bags{{{style}}}</style>")
    (tmp_path / "faulty.html").write_text(faulty, encoding="utf-8")
    if "overflow" in style:
        with pytest.raises(AssertionError, match="t-bags"):
            printer(tmp_path / "faulty.html", "matters")
        return
    document, texts = printer(tmp_path / "faulty.html", "matters")
    assert lacking(document, texts) == [letters("Bag manifests")]
