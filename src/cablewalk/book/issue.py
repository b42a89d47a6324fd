"""The revision block: by what a reader knows that this is the right issue of a book."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

from cablewalk.reports.heading import Report


class BadDate(ValueError):
    """``SOURCE_DATE_EPOCH`` is set and is no moment; the text says so."""


@dataclass(frozen=True, slots=True)
class Issue:
    """Which issue of a book this is."""

    mark: str
    """Twelve hexadecimal digits made of all contents: the same on every page of one issue."""
    date: str
    """ISO 8601 date, UTC."""


def issue_of(report: Report, options: str, environment: Mapping[str, str] | None = None) -> Issue:
    """Return the mark and date of a book.

    ``SOURCE_DATE_EPOCH`` (reproducible-builds.org, seconds since 1970) gives the date where it is
    set; else it is today.

    Raises:
        BadDate: that variable holds no number of seconds, or one that no calendar has.
    """
    given = (os.environ if environment is None else environment).get("SOURCE_DATE_EPOCH")
    try:
        moment = datetime.now(UTC) if not given else datetime.fromtimestamp(int(given), UTC)
    except (ValueError, OverflowError, OSError) as problem:
        raise BadDate(
            "SOURCE_DATE_EPOCH is set, but is no number of seconds since 1970 that has a date; "
            "unset it, or set it to one"
        ) from problem
    parts = [report.cablewalk, str(report.version), options, report.baseline.sha256]
    parts += [procedure.sha256 for procedure in report.procedures]
    digest = hashlib.sha256("\n".join(parts).encode()).hexdigest()[:12].upper()
    mark = "-".join(digest[n : n + 4] for n in range(0, 12, 4))
    return Issue(mark, moment.date().isoformat())
