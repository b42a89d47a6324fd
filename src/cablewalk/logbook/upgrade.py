"""Copying a log of an older schema into the present one; the original is only read."""

from __future__ import annotations

import secrets
import sqlite3
from pathlib import Path

from cablewalk.files.wording import clipped
from cablewalk.logbook.codec import utc_text
from cablewalk.logbook.connect import close
from cablewalk.logbook.create import give_name, tidy
from cablewalk.logbook.schema import MIGRATIONS, is_log, migrate, version
from cablewalk.logbook.trouble import CannotLog, sentences


def upgrade(path: Path, target: Path, utc_s: int) -> tuple[int, int]:
    """Write a copy of a log in the present schema; return the schema before and after.

    Raises:
        CannotLog: it is no log, no older one, or the copy cannot be written.
    """
    name = f"'{clipped(str(path), 200)}'"
    if not path.is_file():
        raise CannotLog(f"{name} is not there")
    if target.exists():
        raise CannotLog(f"'{clipped(str(target), 200)}' exists already and was left as it is")
    beside = target.parent / f".cablewalk-{secrets.token_hex(6)}"
    try:
        with sentences(path):
            source = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)
            try:
                if not is_log(source):
                    raise CannotLog(f"{name} is no log of cablewalk")
                old = version(source)
                if old > len(MIGRATIONS):
                    raise CannotLog(
                        f"{name} was written by a newer cablewalk (schema {old}, this program "
                        f"knows {len(MIGRATIONS)}): use the newer cablewalk"
                    )
                if old == len(MIGRATIONS):
                    raise CannotLog(f"{name} is in schema {old} already: nothing to do")
                copy = sqlite3.connect(beside, isolation_level=None)
                try:
                    source.backup(copy)
                    migrate(copy, utc_text(utc_s))
                finally:
                    close(copy)
            finally:
                source.close()
        give_name(beside, target)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise CannotLog(f"'{clipped(str(target), 200)}' cannot be written: {reason}") from error
    finally:
        tidy(beside)
    return old, len(MIGRATIONS)
