"""Setting in HTML: the templates, with everything a user wrote escaped."""

from __future__ import annotations

import hashlib
from base64 import b64encode
from functools import cache
from importlib.resources import files
from typing import Any, Final

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from cablewalk.book.order import back_pet
from cablewalk.book.running import h_mm, left_h_mm, used_h_mm
from cablewalk.drawings.label import plain
from cablewalk.drawings.look import stylesheet

_ROOM: Final = "cablewalk.book"
_SPELT: Final = 10
"""The most characters that one is spelt out with: ``\\U0001f600``."""
_LONGEST_ID: Final = 18
"""Characters of an id that fits on a line of the narrowest page."""


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
    environment.filters["used"] = used_h_mm
    environment.filters["left"] = left_h_mm
    environment.filters["back_pet"] = back_pet
    environment.filters["spoken"] = _spoken
    environment.filters["whole"] = _whole
    environment.filters["percent"] = _percent
    return environment


def _shown(value: Any) -> Any:
    """Spell out in a user's text what has no shape: controls, bidirectional marks (``\\u202e``)."""
    if isinstance(value, Markup) or not isinstance(value, str):
        return value
    return value if value.isprintable() else plain(value, max(1, _SPELT * len(value)))


def _percent(share: float) -> str:
    """Return a share as a percentage."""
    return f"{100 * share:.1f} %"


def _spoken(name: str) -> str:
    """Return a word of the documents as it is said: ``fit_cap`` is "fit cap"."""
    return name.replace("_", " ")


def _whole(text: str) -> Markup:
    """Return a text in which no id is parted at its hyphen: a worker reads it as it is marked."""
    words = (
        Markup('<span class="id">{}</span>').format(_shown(word))
        if "-" in word and len(word) <= _LONGEST_ID
        else escape(_shown(word))
        for word in text.split(" ")
    )
    return Markup(" ").join(words)


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
