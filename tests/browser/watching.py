"""A page of a browser, watched: what it says on the console, what it asks of the network."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

ROOT: Final = Path(__file__).resolve().parents[2]


class Watched:
    """A page with all that it said on the console and asked of the network."""

    def __init__(self, browser: Any, url: str, **context: Any) -> None:
        self.context = browser.new_context(**context)
        self.page = self.context.new_page()
        self.faults: list[str] = []
        self.page.on("console", lambda message: self.faults.append(f"console: {message.text}"))
        self.page.on("pageerror", lambda error: self.faults.append(f"error: {error}"))
        self.page.on("request", lambda request: self._asked(request.url, url))
        self.page.goto(url)

    def _asked(self, url: str, own: str) -> None:
        if url.partition("#")[0] != own.partition("#")[0]:
            self.faults.append(f"request: {url}")

    @property
    def step(self) -> str:
        """The step that is shown."""
        return str(self.page.locator(".scene.on").get_attribute("data-name"))
