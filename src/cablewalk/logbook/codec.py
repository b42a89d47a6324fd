"""Entries as bytes: JSON with its keys in a fixed order, what is empty left out."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any, Final, get_args

from cablewalk.documents.actions import Action
from cablewalk.walk.asrun_entry import OUTCOMES, Entry, Kind

PREFIX: Final = b'{"event":1,"phase":'
"""How the bytes of every event begin; 1 is the version of this form."""

_KINDS: Final = frozenset(get_args(Kind))
_UTC: Final = re.compile(r"-?\d{4,6}-\d\d-\d\dT\d\d:\d\d:\d\dZ")
_TEXTS: Final = ("step", "text", "reads", "witness", "inspection", "entered_by", "doubt")
_TRUTHS: Final = ("lock_verified", "cap_fitted")
_FLAGS: Final = ("void", "open_item", "spread")
_KEYS: Final = ("corrects", "closes")
_NAMES: Final = ("actors", "items")
_TIMES: Final = ("began", "left")
_HEAD: Final = (
    *("event", "phase", "serial", "kind", "utc", "pet_s", "entered", "outcome"),
    *("action", "task"),
)
_KNOWN: Final = frozenset((*_HEAD, *_TEXTS, *_TRUTHS, *_FLAGS, *_KEYS, *_NAMES, *_TIMES))


class Unreadable(Exception):
    """The bytes are no entry; the message says why."""


def utc_text(utc_s: int) -> str:
    """Return seconds since 1970 as ``2031-05-06T14:03:10Z``."""
    return datetime.fromtimestamp(utc_s, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


@lru_cache(maxsize=4096)
def utc_seconds(text: str) -> int:
    """Return ``2031-05-06T14:03:10Z`` as seconds since 1970.

    Raises:
        ValueError: the text is not of that form.
    """
    if not _UTC.fullmatch(text):
        raise ValueError(f"{text!r} is not a time of the form 2031-05-06T14:03:10Z")
    return int(datetime.fromisoformat(text).timestamp())


def encode(entry: Entry) -> bytes:
    """Return an entry's bytes."""
    row: dict[str, Any] = {
        "event": 1,
        "phase": entry.phase,
        "serial": entry.serial,
        "kind": entry.kind,
        "utc": utc_text(entry.utc_s),
        "pet_s": entry.pet_s,
        "entered": utc_text(entry.entered_s),
    }
    if entry.outcome is not None:
        row["outcome"] = entry.outcome
    if entry.action is not None:
        row["action"] = entry.action.model_dump(mode="json", exclude_defaults=True)
    if entry.task is not None:
        row["task"] = entry.task
    for name, value in (("began", entry.began_s), ("left", entry.left_s)):
        if value is not None:
            row[name] = utc_text(value)
    for name in (*_TEXTS, *_FLAGS, *_NAMES):
        if value := getattr(entry, name):
            row[name] = value
    for name in (*_TRUTHS, *_KEYS):
        if (value := getattr(entry, name)) is not None:
            row[name] = value
    return json.dumps(row, ensure_ascii=False, separators=(",", ":")).encode()


def decode(body: bytes) -> Entry:
    """Return the entry of these bytes.

    Raises:
        Unreadable: they are none.
    """
    try:
        row = json.loads(body)
        return _entry(row)
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise Unreadable(f"{type(error).__name__}: {str(error).splitlines()[0][:200]}") from error


def _entry(row: dict[str, Any]) -> Entry:
    if not isinstance(row, dict) or row["event"] != 1 or not row.keys() <= _KNOWN:
        raise ValueError("not an event of a form this program knows")
    if row["kind"] not in _KINDS or row.get("outcome") not in (None, *OUTCOMES):
        raise ValueError("an unknown kind or outcome")
    rest: dict[str, Any] = {name: _typed(row.get(name, ""), str) for name in _TEXTS}
    rest |= {name: _typed(row.get(name, False), bool) for name in _FLAGS}
    rest |= {name: _typed(row[name], bool) for name in _TRUTHS if name in row}
    rest |= {name: tuple(_typed(n, str) for n in row.get(name, ())) for name in _NAMES}
    rest |= {name: _pair(row[name]) for name in _KEYS if name in row}
    rest |= {f"{name}_s": utc_seconds(row[name]) for name in _TIMES if name in row}
    entry = Entry(
        phase=_whole(row["phase"]),
        serial=_whole(row["serial"]),
        kind=row["kind"],
        utc_s=utc_seconds(row["utc"]),
        pet_s=_whole(row["pet_s"]),
        entered_s=utc_seconds(row["entered"]),
        outcome=row.get("outcome"),
        action=_action(json.dumps(row["action"])) if "action" in row else None,
        task=_whole(row["task"]) if "task" in row else None,
        **rest,
    )
    if entry.kind == "action" and (entry.action is None or entry.outcome is None):
        raise ValueError("an action without a verb or an outcome")
    return entry


@lru_cache(maxsize=4096)
def _action(text: str) -> Action:
    """Return an action; the same text gives the same object, for actions are frozen."""
    return Action.model_validate(json.loads(text))


def _whole(value: object) -> int:
    return int(_typed(value, int))


def _typed(value: Any, kind: type) -> Any:
    if type(value) is not kind:
        raise ValueError(f"{kind.__name__} expected")
    return value


def _pair(value: Any) -> tuple[int, int]:
    phase, serial = value
    return _whole(phase), _whole(serial)
