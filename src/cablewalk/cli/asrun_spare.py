"""What no command that writes a file beside a log may write over."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from cablewalk.cli.asrun_common import Fail
from cablewalk.files.output import is_same_file

if TYPE_CHECKING:
    from cablewalk.logbook.run import Run


def spare(out: Path, log: Path, run: Run | None = None) -> None:
    """Refuse to write over the log, its journals, another log, or a document it was opened with.

    No option allows it: what was recorded is nowhere else.
    """
    kept = [log.with_name(log.name + end) for end in ("", "-wal", "-shm", "-journal")]
    if any(is_same_file(out, path) for path in kept):
        raise Fail(f"'{out}' is the log itself, or belongs to it: choose another name")
    try:
        with out.open("rb") as file:
            is_database = file.read(16) == b"SQLite format 3\0"
    except OSError:
        is_database = False
    if is_database:
        raise Fail(f"'{out}' exists already: a log or another database, and it stays as it is")
    for source in run.plans.sources if run is not None else ():
        for name in (Path(source.name), log.parent / source.name):
            if is_same_file(out, name):
                raise Fail(f"'{out}' is a document the log was opened with: choose another name")
