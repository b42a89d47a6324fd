"""What stands in documents: their ids, the kinds of these, the keys of the formats, odd text."""

from __future__ import annotations

import random
import sys
import unicodedata
from functools import cache
from typing import Any

from cablewalk.documents.actions import VERBS
from cablewalk.documents.baseline import Baseline
from cablewalk.documents.procedure import Procedure
from cablewalk.files.schema import schemas

from .traps import TABLES


@cache
def keywords() -> frozenset[str]:
    """Return the keys the formats know: renaming one only makes an unknown key."""
    found = {"clock", *VERBS, *Baseline.model_fields, *Procedure.model_fields}
    rest: list[Any] = [schemas()]
    while rest:
        value = rest.pop()
        if isinstance(value, dict):
            found.update(value.get("properties", ()))
            rest.extend(value.values())
        elif isinstance(value, list):
            rest.extend(value)
    return frozenset(found)


@cache
def _by_category() -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for code in range(sys.maxunicode + 1):
        found.setdefault(unicodedata.category(chr(code)), []).append(chr(code))
    return found


def any_text(rng: random.Random) -> str:
    """Return a few characters, each of a Unicode category chosen first."""
    table = _by_category()
    names = sorted(table)
    return "".join(rng.choice(table[rng.choice(names)]) for _ in range(rng.randint(1, 6)))


def ids(documents: list[Any]) -> list[str]:
    """Return what may be an id: every key, and the words of short texts."""
    found: dict[str, None] = {}
    rest = list(documents)
    while rest:
        value = rest.pop()
        if isinstance(value, dict):
            found.update(dict.fromkeys(map(str, value)))
            rest.extend(value.values())
        elif isinstance(value, list):
            rest.extend(value)
        elif isinstance(value, str) and len(value) < 30:
            found.update(dict.fromkeys(word.partition(".")[0] for word in value.split()))
    return sorted(found)


def kinds(documents: list[Any]) -> dict[str, list[str]]:
    """Return kind to the ids of that kind."""
    found: dict[str, dict[str, None]] = {}
    rest = list(documents)
    while rest:
        value = rest.pop()
        if not isinstance(value, dict):
            rest.extend(value if isinstance(value, list) else ())
            continue
        for key, inner in value.items():
            if key in TABLES and isinstance(inner, dict | list):
                names = inner if isinstance(inner, dict) else [n for n in inner if type(n) is str]
                found.setdefault(key, {}).update(dict.fromkeys(map(str, names)))
            if key == "harnesses" and isinstance(inner, dict):
                short = [h for h in inner.values() if isinstance(h, list)]
                legs = [str(leg).partition(" ")[0] for harness in short for leg in harness]
                found.setdefault("legs", {}).update(dict.fromkeys(legs))
            rest.append(inner)
    return {kind: sorted(names) for kind, names in found.items() if names}
