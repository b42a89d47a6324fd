"""One input through the program, in process: whatever is not a finding is a failure.

What is run is what the commands run: load, account, then the reports of ``outages``, ``replay``
and ``check`` and their pages; for some inputs ``tables`` and ``trace`` too.
"""

from __future__ import annotations

import resource
import signal
import traceback
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from types import FrameType

from cablewalk.checks.run import check
from cablewalk.cli.beside import told_of_estimates, told_of_samples
from cablewalk.cli.check_page import check_page
from cablewalk.cli.estimates_page import add_estimates
from cablewalk.cli.outages_page import outages_page
from cablewalk.cli.page import Page
from cablewalk.cli.replay_page import replay_page
from cablewalk.cli.sampling import sampled
from cablewalk.cli.trace_page import trace_page
from cablewalk.files.describe import describe
from cablewalk.files.load import parse_baseline, parse_procedure
from cablewalk.files.place import Source
from cablewalk.findings import Finding, Severity
from cablewalk.reports.asking import trace_report
from cablewalk.reports.checked import check_report
from cablewalk.reports.electrical import loads_report
from cablewalk.reports.outages import OutagesReport, outages_report
from cablewalk.reports.replay import replay_report
from cablewalk.reports.spread_sure import beyond_of, sureness
from cablewalk.reports.tables import tables_report
from cablewalk.reports.text import report_json
from cablewalk.reports.thermal import zones_report
from cablewalk.timeline.account import Account, account
from cablewalk.walk.subject import find_subject

RUNS = 20
"""Samples of an input that is sampled: what they do with it is asked, not how sure it is."""
SECONDS = 10
"""Processor time one input may take: other programs on the machine do not count."""
BYTES = 1 << 30
"""Address space of the process; the interpreter and its libraries are in it."""


class TooSlow(Exception):
    """An input took more than its time."""


@dataclass(frozen=True)
class Failure:
    """What went wrong: ``signature`` is alike for inputs that fail in the same place."""

    signature: str
    text: str


def limit_memory(size: int = BYTES) -> None:
    """Let this process have no more than ``size`` bytes of address space."""
    _, hard = resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (size, hard))


@contextmanager
def limited_time(seconds: float = SECONDS) -> Iterator[None]:
    """Raise :class:`TooSlow` in what runs longer."""

    def stop(_number: int, _frame: FrameType | None) -> None:
        raise TooSlow(f"more than {seconds} s of processor time")

    before = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def run(raw: Sequence[bytes], number: int = 0) -> str:
    """Take documents, the baseline's first, through the program; return how far they came.

    ``number`` chooses options and what else is asked. Raises whatever the program raises, and
    AssertionError where it does not keep its promises.
    """
    base = parse_baseline(raw[0], "baseline.yaml")
    rest = [parse_procedure(text, f"phase{n}.yaml", n) for n, text in enumerate(raw[1:], 1)]
    sources = [base.source, *(loaded.source for loaded in rest)]
    told = [(base.model is None, base.findings), *((p.model is None, p.findings) for p in rest)]
    for refused, findings in told:
        assert refused == _errors(findings), "refused without an error"
        _tell(findings, sources)
    models = [loaded.model for loaded in rest if loaded.model is not None]
    if base.model is None or len(models) < len(rest):
        return "refused"
    keep_going, aheads = number % 3 > 0, number % 4
    found = account(base.model, models, keep_going, aheads)
    _tell(tuple(found.findings), sources)
    if found.trace.unusable:
        assert found.findings.has_errors, "unusable without an error"
        return "unusable"
    if models:
        _report(found, sources, number)
    return "stopped" if found.trace.stopped else "replayed"


def _report(found: Account, sources: list[Source], number: int) -> None:
    """Make the reports and pages of a replay."""
    outages, replayed = _outages(found, sources, number), replay_report(found, sources)
    checked = check_report(check(found), sources, None, "")
    for report in (outages, replayed, checked):
        report_json(report).encode("utf-8")
    for page in (outages_page(outages), replay_page(replayed), check_page(checked)):
        for row in page.rows:
            assert row.text.isprintable(), f"not inert: {row.text!r}"
    if number % 16 == 0:
        tables = tables_report(found, sources)
        report_json(tables).encode("utf-8")
    if number % 16 == 1:
        items = found.ground.wiring.items
        subject = find_subject(found.ground.wiring, items[number // 16 % len(items)].id)
        if not isinstance(subject, str):
            asked = trace_report(found, sources, subject, None)
            report_json(asked).encode("utf-8")
            for row in trace_page(asked).rows:
                assert row.text.isprintable(), f"not inert: {row.text!r}"


def _outages(found: Account, sources: list[Source], number: int) -> OutagesReport:
    """Return the outages; for every fourth input sampled, and with temperatures and loads."""
    if number % 4 != 2:
        return outages_report(found, sources)
    sample = sampled(found, sources, None, RUNS)
    told = told_of_estimates(told_of_samples(found, sample))
    sure = None if sample.found is None else sureness(sample.found)
    beyond = None if sample.found is None else beyond_of(sample.found)
    zones, loads = zones_report(found, sources, beyond), loads_report(found, sources)
    page = Page()
    add_estimates(page, zones, loads, in_brief=number % 8 == 2)
    for row in page.rows:
        assert row.text.isprintable(), f"not inert: {row.text!r}"
    return outages_report(told, sources, sure, sample.why_not, zones, loads)


def _errors(findings: Sequence[Finding]) -> bool:
    return any(finding.severity is Severity.ERROR for finding in findings)


def _tell(findings: Sequence[Finding], sources: Sequence[Source]) -> None:
    for finding in findings:
        told = describe(finding, sources)
        assert told.isprintable(), f"not inert: {told!r}"
        assert finding.found and finding.rule, "a finding without a sentence"
        assert 0 <= finding.address.document < len(sources), "an address in no document"


def judge(raw: Sequence[bytes], number: int = 0) -> tuple[str, Failure | None]:
    """Return how far an input came, and what went wrong."""
    try:
        with limited_time():
            return run(raw, number), None
    except Exception as error:  # whatever it is: that is the test
        frames = traceback.extract_tb(error.__traceback__)
        inside = [f for f in frames if "cablewalk" in f.filename or "soak" in f.filename]
        last = "" if isinstance(error, TooSlow | MemoryError) else f":{inside[-1].lineno}"
        where = f"{inside[-1].filename.rpartition('/')[2]}{last} in {inside[-1].name}"
        text = "".join(traceback.format_exception(error))
        return "failed", Failure(f"{type(error).__name__} at {where}", text)
