"""The browser, the book of the demo, and a page that notes what it must not do."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from browser.watching import ROOT, Watched

CHROMIUM = Path(os.environ.get("CABLEWALK_CHROMIUM", "/usr/bin/chromium"))


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """Debian's Chromium, or a skip that says what is missing."""
    if not CHROMIUM.exists():
        pytest.skip(f"no browser: {CHROMIUM} is not there (apt-get install chromium)")
    api = pytest.importorskip(
        "playwright.sync_api", reason="playwright is not installed (pip install '.[browser]')"
    )
    with api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=str(CHROMIUM), args=["--no-sandbox", "--disable-gpu"]
        )
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's book, with its carry pages beside it."""
    folder = tmp_path_factory.mktemp("book")
    configs = [str(ROOT / "configs" / f"{name}.yaml") for name in ("outpost", "outing-1")]
    # In a process of its own: playwright's event loop and ours do not meet.
    subprocess.run(
        [
            *(sys.executable, "-m", "cablewalk", "book", *configs),
            *("--out", str(folder / "book.html"), "--cards", str(folder / "cards.html")),
        ],
        check=True,
        capture_output=True,
        env={**os.environ, "PYTHONPATH": str(ROOT / "src")},
    )
    return folder / "book.html"


@pytest.fixture
def watched(chromium: Any, book: Path) -> Iterator[Watched]:
    """The book on a desk: 1440 by 900, light."""
    page = Watched(chromium, book.as_uri(), viewport={"width": 1440, "height": 900})
    yield page
    assert page.faults == []
    page.context.close()
