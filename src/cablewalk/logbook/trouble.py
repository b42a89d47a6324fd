"""What can go wrong with a log file, in sentences for the user."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from cablewalk.files.wording import clipped

WAIT_S: Final = 60.0
"""Seconds a writer waits for the others before it gives up."""


class CannotLog(Exception):
    """The log cannot be used so; the message is a sentence for the user. Nothing was changed."""


class Damaged(CannotLog):
    """The file is damaged; salvage may recover what is readable."""


_SALVAGE = (
    "it was left as it is; 'cablewalk asrun salvage' recovers what is readable into a new log"
)
_SENTENCES: Final = (
    (
        "full",
        "the disk is full: nothing was recorded, and what was there stands as before; free space, "
        "then say it again",
    ),
    ("readonly", "it is read-only: nothing was recorded; check the rights on the file and folder"),
    (
        "disk i/o",
        "the disk refuses (full, over its quota, or failing): nothing was recorded, and what was "
        "there stands as before; free space or take another disk, then say it again",
    ),
    ("locked", f"others have held the log for {WAIT_S:g} seconds: nothing was recorded; try again"),
    ("busy", f"others have held the log for {WAIT_S:g} seconds: nothing was recorded; try again"),
    ("unable to open", "it cannot be opened: check the path, and the rights on the folder"),
    ("append-only", "events are only added, never changed or taken away"),
)
_DAMAGE: Final = (
    ("malformed", f"the file is damaged: {_SALVAGE}"),
    ("not a database", f"it is no log of cablewalk, or its beginning is damaged: {_SALVAGE}"),
    ("no such table", f"parts of the log are missing: {_SALVAGE}"),
    ("no such column", f"parts of the log are missing: {_SALVAGE}"),
)


def told(path: Path, error: sqlite3.Error) -> CannotLog:
    """Return what SQLite said as an error with a sentence."""
    said = str(error).lower()
    name = f"'{clipped(str(path), 200)}'"
    for word, sentence in _DAMAGE:
        if word in said:
            return Damaged(f"{name}: {sentence}")
    for word, sentence in _SENTENCES:
        if word in said:
            return CannotLog(f"{name}: {sentence}")
    if isinstance(error, sqlite3.IntegrityError):
        return CannotLog(f"{name}: the log refuses the entry: {clipped(str(error), 200)}")
    return Damaged(f"{name}: SQLite says '{clipped(str(error), 200)}': {_SALVAGE}")


@contextmanager
def sentences(path: Path) -> Iterator[None]:
    """Turn every error of SQLite within into one with a sentence."""
    try:
        yield
    except sqlite3.Error as error:
        raise told(path, error) from error
