"""Setting in HTML: the templates, with everything a user wrote escaped."""

from __future__ import annotations

import hashlib
from base64 import b64encode
from functools import cache
from importlib.resources import files
from typing import Any, Final

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from cablewalk.book.running import h_mm
from cablewalk.drawings.label import plain
from cablewalk.drawings.look import stylesheet

_ROOM: Final = "cablewalk.book"


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader(_ROOM),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_shown,
    )
    environment.filters["h_mm"] = h_mm
    environment.filters["spoken"] = _spoken
    return environment


def _shown(value: Any) -> Any:
    """Leave out of a user's text what has no shape of its own: controls, bidirectional marks."""
    if isinstance(value, Markup) or not isinstance(value, str):
        return value
    return value if value.isprintable() else plain(value, max(1, len(value)))


def _spoken(name: str) -> str:
    """Return a word of the documents as it is said: ``fit_cap`` is "fit cap"."""
    return name.replace("_", " ")


def asset(name: str) -> str:
    """Return the text of a style sheet or script of the book."""
    return (files(_ROOM) / "templates" / name).read_text(encoding="utf-8")


def script_hash(text: str) -> str:
    """Return a script's source expression for a Content Security Policy (W3C CSP Level 3)."""
    return "sha256-" + b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")


def render(name: str, **contents: Any) -> str:
    """Return a page made from a template, as it is written to a file."""
    script = asset("player.js") if name == "book.html" else ""
    return (
        _environment()
        .get_template(name)
        .render(
            looks=Markup(stylesheet()),
            style=Markup(asset("base.css")),
            own_style=Markup(asset(name.replace(".html", ".css"))),
            script=Markup(script),
            script_hash=script_hash(script),
            **contents,
        )
    )
