"""Recording, and telling at once what it did and what it makes of the plan."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cablewalk.cli.asrun_common import facts_of, opened
from cablewalk.cli.console import print_rows, say
from cablewalk.cli.inputs import ERRORS
from cablewalk.cli.page import Page

if TYPE_CHECKING:
    from cablewalk.logbook.look import Draft, LookAgain
    from cablewalk.logbook.run import Plans, Run
    from cablewalk.timeline.account import Account
    from cablewalk.walk.asrun_entry import Entry
    from cablewalk.walk.asrun_state import Tracked
    from cablewalk.walk.trace import Event, Refused, Shift


def record(
    context: click.Context, path: Path, draft: Draft, seen: int | None, by_next: str = ""
) -> None:
    """Record what ``draft`` makes of the log, and print what came of it."""
    with opened(path, write=True) as log:
        started = log.count()
        from cablewalk.logbook.look import LookAgain
        from cablewalk.logbook.look import record as add
        from cablewalk.logbook.run import plans_of, run_of

        plans = plans_of(log.documents)
        try:
            before, added = add(log, plans, draft, seen, by_next, started)
        except LookAgain as again:
            _look_again(plans, again, seen)
            context.exit(ERRORS)
            return
        after = run_of(log, plans)
    print_rows(_page(path, before, after, added).rows)


def _look_again(plans: Plans, again: LookAgain, seen: int | None) -> None:
    from cablewalk.cli.asrun_now_page import entry_line
    from cablewalk.reports.asrun_log import entry_row
    from cablewalk.walk.asrun import track

    since = "since then" if seen is not None else "by others, and you may not know it"
    say(f"Nothing was recorded. What bears on it was recorded {since}:", err=True)
    tracked = track(plans.ground, plans.procedures, again.news)
    for entry in again.news:
        row = entry_row(tracked, entry)
        say(f"  {entry_line(row)}, entered by {row.entered_by}", err=True)
    say(
        f"Look again ('cablewalk asrun now'); if it still holds, say it again with --seen "
        f"{again.seq}.",
        err=True,
    )


def _page(path: Path, before: Run, after: Run, added: Sequence[Entry]) -> Page:
    from cablewalk.reports.asrun_log import entry_row
    from cablewalk.timeline.asrun import asrun_account

    tracked = after.tracked
    account = asrun_account(tracked, tracked.trace.end_s)
    page = Page()
    keys = {entry.corrects or entry.key for entry in added}
    for entry in added:
        row = entry_row(tracked, entry)
        named = f"{row.step}/{row.action_number}  " if row.action_number else ""
        who = f"  [{', '.join(row.actors)}]" if row.actors else ""
        corrects = f"corrects {row.corrects}: " if row.corrects else ""
        gone = "settled, as it could not be read" if row.kind == "lost" else "it never happened"
        void = gone if row.void else row.text
        outcome = f": {row.outcome}" if row.outcome and not row.void else ""
        page.add(f"{row.number:<6} {row.pet:>6}  {named}{corrects}{void}{outcome}{who}")
    _out_of_order(page, tracked, added)
    _shifts(page, account, tracked, keys)
    _findings(page, before.tracked, tracked)
    _alone(page, tracked, added)
    _sooner(page, before.tracked, account)
    if tracked.phases and before.tracked.phases:
        _rest(page, before.tracked, tracked)
    page.add(f"{facts_of(path, after).events} events", 7)
    return page


def _out_of_order(page: Page, tracked: Tracked, added: Sequence[Entry]) -> None:
    """Tell which steps were begun though what they wait for, a GO perhaps, is not recorded."""
    steps = {
        (e.phase, e.step): None
        for e in added
        if e.task is not None and e.outcome != "skipped" and e.corrects is None
    }
    for e in added:
        if (e.phase, e.step) in steps and e.task is not None:
            step = tracked.phases[e.phase].by_id[e.step]
            open_yet = tracked.open_tasks(tracked.phases[e.phase], step)
            first = [f"{e.step}/{n + 1}" for n, _ in open_yet if n < e.task]
            if first:
                said = f"{e.step}/{e.task + 1} comes after {', '.join(first)}"
                page.add(f"OUT OF ORDER: {said}, not recorded as over", 7, style="loud")
    for number, name in steps:
        phase = tracked.phases[number]
        step = phase.by_id[name]
        no_go = tracked.without_go(phase, step)
        waits = tracked.waits_for(phase, step)
        for giver in (w for w in waits if w in no_go):
            said = f"waits for the GO that step {giver} was to give, and that was skipped"
            page.add(f"OUT OF ORDER: step {name} {said}", 7, style="loud")
        if others := [w for w in waits if w not in no_go]:
            said = f"waits for {', '.join(others)}, not recorded as over"
            page.add(f"OUT OF ORDER: step {name} {said}", 7, style="loud")


def _counts(account: Account, tracked: Tracked, event: Event, shift: Shift) -> str:
    """Return when a service that was reconnected counts as back, where that is later."""
    from cablewalk.reports.asrun_log import pet

    for spell in account.outages:
        own = spell.service == shift.service and spell.restored_by is event
        if own and spell.to_s is not None and spell.to_s > event.time_s:
            at = pet(tracked.phases[event.task.phase], spell.to_s)
            return f", recovers, and counts as back at {at}"
    return ""


def _shifts(page: Page, account: Account, tracked: Tracked, keys: set[tuple[int, int]]) -> None:
    from cablewalk.reports.standing import shift_row

    for event in account.trace.events:
        if (event.task.phase, event.task.serial) not in keys:
            continue
        for shift in event.shifts:
            row = shift_row(account, event, shift)
            if row is None or (row.tag in ("PROVEN", "SWAP") and row.after.startswith("down")):
                continue  # of a service that is down nothing was proved, and its strings are idle
            loud = row.tag == "LOST" and not row.planned
            text = f"{row.tag:<9} {row.service} ({row.kind}): {row.before} → {row.after}"
            if row.tag == "BACK":
                text += _counts(account, tracked, event, shift)
            page.add(f"!! NOT PLANNED !! {text}" if loud else text, 7, style="loud" if loud else "")


def _findings(page: Page, before: Tracked, after: Tracked) -> None:
    known = {(f.rule, f.found, f.step) for f in before.findings}
    for finding in after.findings:
        if finding.severity > 1 and (finding.rule, finding.found, finding.step) not in known:
            style = "loud" if finding.severity > 2 else ""
            page.add(
                f"{str(finding.severity).upper()} {finding.rule}: {finding.sentence()}",
                7,
                style="loud" if style else "",
            )


def _alone(page: Page, tracked: Tracked, added: Sequence[Entry]) -> None:
    """Tell whom of a joint action an entry does not name: the log leaves them where they were."""
    for entry in added:
        if entry.task is None or entry.outcome in ("skipped", "failed") or entry.void:
            continue
        phase = tracked.phases[entry.phase]
        workers = phase.by_id[entry.step].tasks[entry.task].workers
        missing = [name for name in workers if name not in entry.actors]
        if missing and set(entry.actors) & set(workers):
            page.add(
                f"JOINT: the plan has {', '.join(missing)} in it too; they stay as the log had "
                "them: record what they did with 'asrun also'", 7,
            )  # fmt: skip


def _sooner(page: Page, before: Tracked, account: Account) -> None:
    """Tell which services were seen up sooner than the model has them back."""
    from cablewalk.timeline.asrun import asrun_account

    sooner = [f for f in account.findings if f.rule == "seen-sooner"]
    if sooner:
        known = {f.found for f in asrun_account(before, before.trace.end_s).findings}
        for finding in sooner:
            if finding.found not in known:
                page.add(f"WARNING {finding.rule}: {finding.sentence()}", 7)


def _rest(page: Page, before: Tracked, after: Tracked) -> None:
    """Tell what of the rest of the plan is no longer possible, or wrong, and clocks it overruns."""
    from cablewalk.timeline.forecast import forecast
    from cablewalk.timeline.trouble import by_cause, errors_to_come

    now = after.trace.end_s
    new, old = forecast(after, now), forecast(before, before.trace.end_s)
    known = {(r.task.phase, r.task.serial) for r in old.refused}
    fresh = [r for r in new.refused if (r.task.phase, r.task.serial) not in known]
    for first, *rest in by_cause(fresh, new.guilty):
        step, why = _step(after, first.task.phase, first.task.step_id), first.text
        page.add(f"THE PLAN: {step} becomes impossible: {first.task.verb}: {why}", 7, style="loud")
        _follows(page, after, rest)
    brought = {(f.rule, f.found, f.step) for f in old.findings}
    for finding in errors_to_come(new.findings):
        if (finding.rule, finding.found, finding.step) not in brought:
            phase = finding.address.document - 1
            named = f"{_step(after, phase, finding.step)}: " if finding.step else ""
            page.add(f"THE PLAN: {named}{finding.rule}: {finding.found}", 7, style="loud")
    services = after.ground.wiring.services
    for service, _ in sorted(new.exceeded - old.exceeded):
        page.add(f"THE PLAN: the clock of {services[service].id} will be exceeded", 7, style="loud")


def _step(tracked: Tracked, phase: int, step: str) -> str:
    """Return the name of a step of a phase, with its procedure where that has not begun."""
    later = phase > len(tracked.phases) - 1
    of = f" of {tracked.procedures[phase].procedure}" if later else ""
    return f"step {step}{of}"


def _follows(page: Page, tracked: Tracked, rows: Sequence[Refused]) -> None:
    """Add what follows from a step that becomes impossible: a line a step, its first reason."""
    if rows:
        page.add("and what follows from it:", 11)
    steps: dict[str, list[Refused]] = {}
    for row in rows:
        steps.setdefault(_step(tracked, row.task.phase, row.task.step_id), []).append(row)
    for step, own in steps.items():
        verbs = ", ".join(dict.fromkeys(row.task.verb for row in own))
        page.add(f"- {step}: {verbs}: {own[0].text}", 11)
