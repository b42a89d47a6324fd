"""The baseline as left, as text: what the next phase starts from."""

from __future__ import annotations

import re

from cablewalk.documents.baseline import Baseline
from cablewalk.files.load import parse_baseline
from cablewalk.files.output import CannotWrite
from cablewalk.files.write import replace_now
from cablewalk.findings import Severity
from cablewalk.replay.snapshot import now_of
from cablewalk.reports.asrun_handover import HandoverReport
from cablewalk.walk.asrun_state import Tracked
from cablewalk.walk.run import ready


def as_left_text(baseline_text: str, tracked: Tracked, report: HandoverReport) -> str:
    """Return the baseline as left: the text as it was, with its ``now`` and id made anew.

    Its id becomes that of the phase just done, for that is what the next procedure assumes.

    Raises:
        CannotWrite: the text is laid out so that its parts cannot be exchanged safely.
    """
    used = report.used_min | {row.service: row.used_before_min for row in report.dark}
    now = now_of(
        tracked.fold.config,
        {row.service: row.dark_min for row in report.dark if row.dark_min},
        {name: used_min for name, used_min in used.items() if used_min},
    )
    return _renamed(replace_now(baseline_text, now), report.log.phase)


def faults_of(text: str) -> list[str]:
    """Return what keeps a baseline as left from being replayed on, a sentence each."""
    loaded = parse_baseline(text.encode(), "")
    findings = loaded.findings if loaded.model is None else ready(loaded.model).findings
    return [f.sentence() for f in findings if f.severity is Severity.ERROR]


def _renamed(text: str, name: str) -> str:
    """Return a baseline's text with another id and title, everything else to the letter.

    A title laid out over several lines stays as it is.
    """
    pattern = r"(?m)^(baseline:[ \t]*)[A-Za-z0-9_-]+(?=[ \t]*(#.*)?$)"
    new = re.sub(pattern, rf"\g<1>{name}", text, count=1)
    before = parse_baseline(text.encode(), "").model
    if before is None or not _is(new, before.model_copy(update={"baseline": name})):
        raise CannotWrite(
            f"the baseline's id cannot be told apart: put 'baseline: {name}' on a line of its own"
        )
    title = f"As left by {name}"
    titled = re.sub(r"(?m)^title:[ \t]*\S.*$", f"title: {title}", new, count=1)
    wanted = before.model_copy(update={"baseline": name, "title": title})
    return titled if _is(titled, wanted) else new


def _is(text: str, baseline: Baseline) -> bool:
    """Return whether a text is that baseline."""
    return parse_baseline(text.encode(), "").model == baseline
