"""The zones as text: how cold, from when, and when the heater must be back."""

from __future__ import annotations

from cablewalk.cli.page import Page
from cablewalk.cli.phrases import Moments, celsius, h_mm, left_h_mm, opening, tell_all, used_h_mm
from cablewalk.cli.spread_gaps import add_gaps, often, overruns
from cablewalk.reports.spread_gaps import error_of_a_share
from cablewalk.reports.thermal import ZoneLossRow, ZoneRow, ZonesReport

_HEAD = (
    f"  {'SERVICE':<14} {'DOWN AT':<10} {'DARK':>6} {'FROM':>7} {'LOWEST':>7} {'AT':<10} "
    f"{'TO LIMIT':>9}  {'BY ESTIMATE':<11} {'BY CLOCK':<10}"
)


def zones_page(report: ZonesReport) -> Page:
    """Return the report as a page."""
    page, when = Page(), Moments(report)
    opening(page, "ZONES of", report)
    page.blank()
    add_zones(page, when, report)
    _some_samples(page, report)
    if report.zones:
        page.blank()
        page.add(_worth(report), hang=0)
    add_gaps(page, report)
    tell_all(page, report.findings)
    return page


def _some_samples(page: Page, report: ZonesReport) -> None:
    if not report.in_some_runs:
        return
    page.head("!! DARK IN SOME SAMPLES ONLY: not in these temperatures", style="loud")
    for row in report.in_some_runs:
        page.add(
            f"{row.service} is dark in {100 * row.chance:.1f} % of the samples, by step "
            + ", ".join((row.lost_by_step or "none", f"P90 {used_h_mm(row.p90_min)}", *often(row))),
            2,
            4,
        )


def _worth(report: ZonesReport) -> str:
    """Return which figures were sampled, or why none was."""
    if report.runs is None:
        why = report.not_sampled
        return f"All minutes are likely minutes; how sure they are was not sampled: {why}."
    return (
        f"Temperatures are by likely minutes; P90 and shares come from {report.runs:,} samples, "
        "each judged in its own order, and are known to within "
        f"{100 * error_of_a_share(report.runs):.2f} % (one standard error)."
    )


def add_zones(page: Page, when: Moments, report: ZonesReport) -> None:
    """Add every zone, and what the numbers are worth."""
    page.add(f"Temperatures are an {report.standing}. A clock that is given outranks them.", hang=0)
    if not report.zones:
        page.head("The baseline has no zones.")
    for row in report.zones:
        _zone(page, when, row)


def _zone(page: Page, when: Moments, row: ZoneRow) -> None:
    page.head(f"{row.zone}{f' ({row.label})' if row.label else ''} at {row.place}")
    page.field("heated by", ", ".join(row.services), 2, 12)
    if not row.judged:
        page.field("NOT JUDGED", "; ".join(row.not_judged_because), 2, 12)
    page.field("data", row.source, 2, 12)
    if row.limit_low_c is not None:
        page.field("lower limit", f"{row.limit_low_c:g} °C; source: {row.limit_low_source}", 2, 12)
    elif row.judged:
        page.field("lower limit", "not given: how long it lasts is not judged", 2, 12)
    if row.limit_high_c is not None:
        page.field(
            "upper limit", f"{row.limit_high_c:g} °C; source: {row.limit_high_source}", 2, 12
        )
    if row.judged:
        page.field(
            "PREDICTED",
            f"from {celsius(row.start_c)} °C; lowest {celsius(row.lowest_c)} °C "
            f"at {when.at(row.lowest_pet)}",
            2,
            12,
        )
    if row.measured:
        samples = ", ".join(f"{s.measured_c:g} °C at {s.at_min:g} min" for s in row.measured)
        fit = (
            ""
            if row.fitted_constant_min is None
            else (f"; fitted time constant {h_mm(row.fitted_constant_min)}")
        )
        page.field("MEASURED", samples + fit, 2, 12)
    if row.losses:
        page.add(_HEAD)
    for loss in row.losses:
        _loss(page, when, loss)
    if row.losses and len(row.services) > 1:
        page.field(
            "to limit",
            "if that service stays down and the others have power as in the replay, and after it "
            "as at its end",
            2,
            12,
        )


def _loss(page: Page, when: Moments, loss: ZoneLossRow) -> None:
    waits = [w for w in (loss.to_limit_min, loss.cautious_min) if w is not None]
    limit = left_h_mm(min(waits)) if waits else "never" if loss.limit_reached is False else "-"
    page.add(
        f"{loss.service:<14} {when.at(loss.from_pet):<10} {used_h_mm(loss.dark_min):>6} "
        f"{celsius(loss.from_c):>7} {celsius(loss.lowest_c):>7} {when.at(loss.lowest_pet):<10} "
        f"{limit:>9}  {when.at(loss.estimated_by_pet, '-'):<11} {when.at(loss.given_by_pet, '-')}",
        2,
    )
    page.field("governs", loss.governs, 6, 10)
    if loss.cautious_min is not None:
        never = loss.to_limit_min is None
        estimate = "never" if loss.to_limit_min is None else left_h_mm(loss.to_limit_min)
        page.field(
            "limit",
            f"{estimate} from the estimate, {left_h_mm(loss.cautious_min)} from the lower set "
            f"point; the {'latter' if never else 'shorter one'} counts",
            6,
            10,
        )
    page.field("sure", _sure(loss), 6, 10)
    if loss.recovers is False:
        page.field("recovery", "never with the power it has", 6, 10)
    elif loss.recovery_min is not None:
        text = f"{used_h_mm(loss.recovery_min)} after power is back"
        if loss.lost_again_cold:
            text += "; it goes down again before that, and colder"
        page.field("recovery", text, 6, 10)


def _sure(loss: ZoneLossRow) -> str:
    """Return what sampling tells of an outage."""
    parts = [] if loss.dark_p90_min is None else [f"P90 {used_h_mm(loss.dark_p90_min)} dark"]
    for share, what in (
        (loss.chance_over_clock, overruns(loss.over_clock_min)),
        (loss.chance_over_estimate, "lasts past the estimate's moment"),
    ):
        if share is not None:
            parts.append(f"{what} in {100 * share:.1f} % of the samples")
    return ", ".join(parts)
