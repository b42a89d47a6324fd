"""The baseline as left, as text: what the next phase starts from."""

from __future__ import annotations

import json
import re
from typing import Final

from cablewalk.documents.baseline import Baseline
from cablewalk.files.load import parse_baseline
from cablewalk.files.output import CannotWrite
from cablewalk.files.wording import inert
from cablewalk.files.write import replace_now, with_value
from cablewalk.findings import Severity
from cablewalk.replay.change import Field
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.snapshot import now_of
from cablewalk.reports.asrun_handover import HandoverReport
from cablewalk.reports.fault import FindingRow
from cablewalk.walk.asrun_mend import contradictions
from cablewalk.walk.asrun_state import Tracked
from cablewalk.walk.run import ready

MOST_MIN: Final = 1_000_000
"""The most minutes a baseline can say that a service was dark, nearly two years: no clock is as
long, and what was dark for longer is written as dark for that."""
_LEAST_MIN: Final = 0.1


def as_left_text(baseline_text: str, tracked: Tracked, report: HandoverReport) -> str:
    """Return the baseline as left: the text as it was, with its ``now`` and id made anew.

    Its id becomes that of the phase just done, for that is what the next procedure assumes.

    Raises:
        CannotWrite: the text is laid out so that its parts cannot be exchanged safely.
    """
    dark = dict.fromkeys((row.service for row in report.upheld), 0.0)
    # 0 says that it is down by its joins only: what is dark has been so for a moment at least.
    dark |= {row.service: max(row.dark_min, _LEAST_MIN) for row in report.dark}
    said = {name: min(dark_min, MOST_MIN) for name, dark_min in dark.items()}
    found_down = [row.service for row in report.dark if row.found_down]
    now = now_of(tracked.fold.config, {"dark_min": said, **_clocks(tracked, report)}, found_down)
    return _renamed(replace_now(baseline_text, now), report.log.phase)


def _clocks(tracked: Tracked, report: HandoverReport) -> dict[str, dict[str, object]]:
    """Return what a baseline says of clocks beside ``dark_min``: only what the next log needs."""
    said: dict[str, dict[str, object]] = {"used_min": {}, "demated_min": {}, "up_min": {}}
    for row in report.clocks:
        clocks = tracked.ground.baseline.services[row.service].clocks
        used = [min(used_min, MOST_MIN) for used_min in row.used_min]
        if any(used):
            said["used_min"][row.service] = used if len(set(used)) > 1 else used[0]
        if row.is_down and any(clock.starts == "demate" for clock in clocks):
            demated = row.demated_min
            said["demated_min"][row.service] = None if demated is None else min(demated, MOST_MIN)
        resets = [clock.resets_after_up_min is not None for clock in clocks]
        if row.up_min is not None and any(u and r for u, r in zip(used, resets, strict=True)):
            said["up_min"][row.service] = min(row.up_min, MOST_MIN)
    return said


def faults_of(text: str, name: str, tracked: Tracked) -> tuple[FindingRow, ...]:
    """Return what keeps a baseline as left from being what the log came to, an error each.

    It is loaded and made ready again, and compared with the configuration it was written from.

    Args:
        text: the baseline as left.
        name: the name of its file.
        tracked: the log folded.
    """
    config = tracked.fold.config
    rows = [
        _fault(name, "as-left-contradicts", sentence, "each thing in one place and one state")
        for sentence in contradictions(config)
    ]
    loaded = parse_baseline(text.encode(), name)
    if loaded.model is None:
        return (*rows, *(_fault(name, f.rule, f.found, f.expected) for f in loaded.findings))
    ground = ready(loaded.model)
    errors = [f for f in ground.findings if f.severity is Severity.ERROR]
    rows += [_fault(name, f.rule, f.found, f.expected) for f in errors]
    if not errors and (parts := _unequal(ground.config, config)):
        rows.append(
            _fault(
                name,
                "as-left-differs",
                f"read again, the baseline as left has otherwise: {', '.join(parts)}",
                "how the log has it",
            )
        )
    return tuple(rows)


def clipped_minutes(report: HandoverReport, name: str) -> tuple[FindingRow, ...]:
    """Return a warning for each number of minutes that is more than a baseline can say.

    Args:
        report: the hand-over, its minutes as they are.
        name: the name of the file of the baseline as left.
    """
    told = [(row.service, "dark", row.dark_min) for row in report.dark]
    told += [(row.service, "its clock used", row.used_before_min) for row in report.dark]
    told += [(service, "its clock used", used) for service, used in report.used_min.items()]
    return tuple(
        _fault(
            name,
            "as-left-clipped",
            f"{service}: {what} {minutes:,.0f} min; the baseline as left says {MOST_MIN:,}",
            f"at most {MOST_MIN:,} min: a baseline can say no more",
        ).model_copy(
            update={
                "severity": "warning",
                "difference": f"the next phase counts {minutes - MOST_MIN:,.0f} min less",
                "way_out": "look whether --zero and --left of the log, and --until, are as meant",
                "items": (service,),
            }
        )
        for service, what, minutes in told
        if minutes > MOST_MIN
    )


def _fault(name: str, rule: str, found: str, expected: str) -> FindingRow:
    return FindingRow(
        rule=rule, severity="error", file=inert(name), line=None, phase=None, phase_number=None,
        step=None, found=found, expected=expected,
        difference="the next phase cannot be replayed from it as it is",
        way_out="look at what was recorded last of these items: correct it, or record how they "
        "were found, and hand over again",
        source="", items=(), because_of=None,
    )  # fmt: skip


def _unequal(one: Configuration, other: Configuration) -> list[str]:
    """Return the items, strings and services that stand otherwise in two configurations."""
    wiring = other.wiring
    items = [item.id for item in wiring.items]
    strings, services = ([n.id for n in rows] for rows in (wiring.strings, wiring.services))
    names = {Field.DISTURBED: strings, Field.LIFE: services}
    return list(
        dict.fromkeys(
            names.get(field, items)[n]
            for field in Field
            for n, (a, b) in enumerate(zip(one.tables[field], other.tables[field], strict=True))
            if a != b
        )
    )


def _renamed(text: str, name: str) -> str:
    """Return a baseline's text with another id and title, everything else to the letter.

    However they are written: plain, quoted, over several lines, in a text of one line.
    """
    new = with_value(text, "baseline", name)
    before = parse_baseline(text.encode(), "").model
    if before is None or not _is(new, before.model_copy(update={"baseline": name})):
        raise CannotWrite(
            f"the id of {name}'s baseline cannot be told apart from the rest of its text: write "
            "'baseline: ID' on a line of its own, and open the log with that file"
        )
    title = f"{re.sub(r', as left by .*$', '', before.title)}, as left by {name}"
    titled = with_value(new, "title", json.dumps(title, ensure_ascii=False))
    wanted = before.model_copy(update={"baseline": name, "title": title})
    return titled if _is(titled, wanted) else new


def _is(text: str, baseline: Baseline) -> bool:
    """Return whether a text is that baseline."""
    return parse_baseline(text.encode(), "").model == baseline
