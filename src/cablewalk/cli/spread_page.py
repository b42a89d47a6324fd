"""The spread as text."""

from __future__ import annotations

from collections.abc import Sequence

from cablewalk.cli.page import Page
from cablewalk.cli.phrases import Moments, h_mm, left_h_mm, opening, tell_all, used_h_mm
from cablewalk.cli.spread_gaps import add_gaps
from cablewalk.reports.spread import SpreadReport
from cablewalk.reports.spread_rows import OutageSpreadRow, StepSpreadRow

_GROWTHS = 6
"""Growths shown of one outage; all are in the JSON."""
_RARE = 0.9995
"""An outage in fewer runs than this is said to occur only in some."""
_CRITICAL = 0.05
"""Steps critical in fewer runs than this are counted, not listed; all are in the JSON."""


def spread_page(report: SpreadReport) -> Page:
    """Return the report as a page."""
    page, when = Page(), Moments(report)
    opening(page, "SPREAD on", report)
    page.add(
        f"{report.runs:,} runs, seed {report.seed}; a share is known to within "
        f"{report.error_of_a_share:.2%} (one standard error). Each run is judged in its own order.",
        2,
    )
    _phases(page, report)
    _limits(page, report)
    always = [row for row in report.spread_outages if row.chance >= _RARE]
    rare = [row for row in report.spread_outages if row.chance < _RARE]
    if report.held_dark:
        page.head("!! DARK ALREADY, nothing says why: so until a verify", style="loud")
        page.add(", ".join(report.held_dark), 2)
    elif not report.spread_outages:
        page.head("No service goes down in any run.")
    _outages(page, "OUTAGES", always)
    _outages(page, "OUTAGES IN SOME RUNS ONLY", rare)
    _steps(page, when, report.spread_steps)
    add_gaps(page, report)
    page.blank()
    page.add(
        "These are predictions from estimates, every action varying on its own. "
        "The certified procedure and the flight rules decide.",
        hang=0,
    )
    tell_all(page, report.findings)
    return page


def percent(share: float, runs: int) -> str:
    """Return a share as a percentage; none or all of the runs is told as less or more than one."""
    if share == 0:
        return f"under {1 / runs:.2g}" if runs < 100 else "0 %"
    return f"{share:.0%}".replace("%", " %") if 0.1 <= share <= 0.9 else f"{100 * share:.1f} %"


def _phases(page: Page, report: SpreadReport) -> None:
    page.head("PHASES: over by, phase elapsed time")
    page.add(f"  {'PHASE':<22} {'P10':>6} {'P50':>6} {'P90':>6}   {'CLASSICAL':>9} {'P90':>6}")
    for row in report.spread_phases:
        page.add(
            f"{row.phase:<22} {row.p10_pet:>6} {row.p50_pet:>6} {row.p90_pet:>6}   "
            f"{used_h_mm(row.classical_mean_min):>9} {used_h_mm(row.classical_p90_min):>6}",
            2,
        )
        if row.merge_min is not None:
            page.add(
                f"classical is too hopeful: paths that merge make it {row.merge_min:.1f} min later "
                "on average",
                6,
            )
        if not row.varies:
            page.add("best and worst are equal for all its actions: nothing varies", 6)


def _limits(page: Page, report: SpreadReport) -> None:
    page.head("PHASE LIMITS")
    for row in report.limits:
        name = f"{row.what} {row.decision}".strip()
        step = f", step {row.step}" if row.step else ""
        loud = row.margin_p90_min < 0
        page.add(
            f"{'!! ' if loud else ''}{row.phase} {name}: by {row.by_pet}{step}; P50 {row.p50_pet}, "
            f"P90 {row.p90_pet}, margin at P90 {left_h_mm(row.margin_p90_min)}, "
            f"chance of exceeding {percent(row.chance_over, report.runs)}",
            2,
            4,
            style="loud" if loud else "",
        )
        page.field("source", row.source, 6, 10)
        page.field("otherwise", row.otherwise, 6, 10)
    for missing in report.limits_not_judged:
        page.add(f"{missing.phase} {missing.what}: not judged: {missing.because}", 2, 4)
    for fit in report.fits:
        word = {True: "fits", False: "does not fit", None: "not judged"}[fit.fits]
        page.add(f"{fit.phase} get-ahead {fit.get_ahead}: {word}: {fit.because}", 2, 4)


def _outages(page: Page, title: str, rows: Sequence[OutageSpreadRow]) -> None:
    if not rows:
        return
    page.head(title)
    page.add(
        f"  {'SERVICE':<22} {'LOST BY':<10} {'LIKELY':>7} {'P10':>6} {'P50':>6} {'P90':>6}  "
        f"{'CHANCE':>7}  OVER ITS CLOCK"
    )
    for row in rows:
        _outage(page, row)


def _outage(page: Page, row: OutageSpreadRow) -> None:
    likely = "-" if row.likely_min is None else used_h_mm(row.likely_min)
    overs = ", ".join(f"{100 * c.chance_over:.1f} % of {h_mm(c.clock_min)}" for c in row.clocks)
    loud = any(c.chance_over > 0.1 for c in row.clocks)
    page.add(
        f"{row.service:<22} {row.lost_by_step or 'the start':<10} {likely:>7} "
        f"{used_h_mm(row.dark.p10_min):>6} {used_h_mm(row.dark.p50_min):>6} "
        f"{used_h_mm(row.dark.p90_min):>6}  "
        f"{100 * row.chance:>5.1f} %  {overs or '-'}",
        2,
        4,
        style="loud" if loud else "",
    )
    page.field("classical", _classical(row), 6, 10)
    if row.not_back:
        page.add(f"not back at the end in {100 * row.not_back:.1f} % of the runs", 6)
    page.field("ten late", _ten_late(row), 6, 10)


def _classical(row: OutageSpreadRow) -> str:
    """Return the classical figures of an outage, or why there are none."""
    if row.likely_min is None:
        return "-, for it does not occur by likely estimates"
    if row.classical_mean_min is None or row.classical_p90_min is None:
        return "-, for no single path from its loss tells its length"
    hopeful = (
        f"; too hopeful: paths that merge make it {row.merge_min:.1f} min longer on average"
        if row.merge_min is not None
        else ""
    )
    return f"{used_h_mm(row.classical_mean_min)}, P90 {used_h_mm(row.classical_p90_min)}{hopeful}"


def _ten_late(row: OutageSpreadRow) -> str:
    """Return the steps that lengthen an outage if they are late, or why there are none."""
    grows = [g for g in row.growths if g.grows_min > 0]
    if not grows:
        new = row.likely_min is None
        return f"-, for no step alone {'brings it about' if new else 'makes it longer'}"
    more = f", and {len(grows) - _GROWTHS} more" if len(grows) > _GROWTHS else ""
    return ", ".join(f"{g.step} +{g.grows_min:.3g}" for g in grows[:_GROWTHS]) + more


def _steps(page: Page, when: Moments, rows: Sequence[StepSpreadRow]) -> None:
    page.head("STEPS by the share of runs in which they are critical; slack in minutes")
    page.add(f"  {'STEP':<24} {'CRITICAL':>9} {'SLACK':>8} {'P10':>7} {'P50':>7} {'P90':>7}")
    shown = [row for row in rows if row.critical >= _CRITICAL]
    for row in sorted(shown, key=lambda r: -r.critical):
        name = f"{row.phase}/{row.step}" if when.several else row.step
        page.add(
            f"{name:<24} {100 * row.critical:>7.1f} % {row.slack_likely_min:>8.1f} "
            f"{row.slack.p10_min:>7.1f} {row.slack.p50_min:>7.1f} {row.slack.p90_min:>7.1f}",
            2,
        )
    if len(shown) < len(rows):
        page.add(
            f"and {len(rows) - len(shown)} steps critical in under {_CRITICAL:.0%} of the runs", 2
        )
