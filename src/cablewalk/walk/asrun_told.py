"""What the log says against the model, told as findings."""

from __future__ import annotations

from collections.abc import Iterable

from cablewalk.findings import Address, Finding, Severity
from cablewalk.replay.standing import subject, told
from cablewalk.replay.wiring import NONE
from cablewalk.schedule.tasks import Task
from cablewalk.walk.asrun_entry import Entry, Key, ids_of
from cablewalk.walk.asrun_fold import label
from cablewalk.walk.asrun_found import Override
from cablewalk.walk.asrun_state import Played, Tracked


def tell(tracked: Tracked) -> None:
    """Add a finding for every entry that says what the model did not have."""
    played = {row.entry.key: row for row in tracked.played}
    waiting = _waiting(tracked)
    for key, override in tracked.fold.overrides.items():
        if not _as_held(override):
            tracked.findings.add(_overridden(tracked, played[key], override, waiting))
    for key, why in tracked.fold.fruitless.items():
        row = played[key]
        tracked.findings.add(
            Finding(
                "failed",
                Severity.WARNING,
                row.task.address,
                f"{label(row.entry)}: {row.task.verb} failed{_why(tracked, row.entry)}",
                difference=f"the model too has it impossible: {why}" if why else "",
                expected="done" if row.entry.step else "",
                way_out=_further(_touching(tracked, waiting, ids_of(row.task.action))),
                step=row.task.step_id,
                items=tracked.things(ids_of(row.task.action)),
            )
        )
    for entry in tracked.effective.dangling:
        assert entry.corrects is not None
        phase, serial = entry.corrects
        tracked.findings.warning(
            "corrects-nothing",
            Address(entry.phase + 1),
            f"{label(entry)} corrects log {phase + 1}.{serial}, which stands before it in no log",
            way_out="record what you meant as an entry of its own",
            step=label(entry),
        )
    for entry in tracked.entries:
        if entry.doubt:
            doubted(tracked, entry)
        if entry.is_lost:
            _lost(tracked, entry)


def _lost(tracked: Tracked, entry: Entry) -> None:
    """Add a finding for an entry that could not be read; a correction settles it."""
    settled = tracked.effective.settled_by(entry.key) is not None
    tracked.findings.add(
        Finding(
            "entry-lost",
            Severity.WARNING if settled else Severity.ERROR,
            Address(entry.phase + 1),
            f"{label(entry)} could not be read: {entry.text}",
            expected="an unbroken log",
            difference="corrected since" if settled else "what follows is replayed without it",
            way_out="" if settled else if_lost(entry),
            step=label(entry),
        )
    )


def if_lost(entry: Entry) -> str:
    """Return what to do about an entry of which nothing could be read."""
    return (
        "record what is known from elsewhere with 'asrun do' or 'asrun also' and its --pet, then "
        f"'asrun correct {entry.phase + 1}.{entry.serial} --void -m …' settles it"
    )


def doubted(tracked: Tracked, entry: Entry) -> None:
    """Add a finding for an entry that salvage took over unproved; a correction settles it."""
    settled = tracked.effective.settled_by(entry.key) is not None
    tracked.findings.add(
        Finding(
            "entry-unproved",
            Severity.WARNING if settled else Severity.ERROR,
            Address(entry.phase + 1),
            f"{label(entry)} was salvaged unproved: {entry.doubt}",
            expected="an entry the chain of hashes proves",
            difference="corrected since" if settled else "it is replayed as it reads",
            way_out="" if settled else "ask who was there, and correct it, if only to confirm it",
            step=label(entry),
        )
    )


def broken_by_correction(tracked: Tracked, keys: Iterable[Key]) -> None:
    """Add a finding for each entry that was possible until a correction was made."""
    played = {row.entry.key: row for row in tracked.played}
    made = [key for keys in tracked.effective.corrected.values() for key in keys]
    names = ", ".join(f"{phase + 1}.{serial}" for phase, serial in sorted(made))
    for key in sorted(keys):
        row = played[key]
        tracked.findings.warning(
            "impossible-since-corrected",
            row.task.address,
            f"{label(row.entry)} ({row.task.verb}) was possible as first recorded, and is not "
            f"since correction {names}",
            expected="a correction that what came after it agrees with",
            difference=tracked.fold.overrides[key].refusal,
            way_out="look at both: correct the one that is wrong",
            step=row.task.step_id,
        )


def _waiting(tracked: Tracked) -> list[tuple[str, Task]]:
    return [
        (step.id, task)
        for phase in tracked.phases
        for step in phase.plan.steps
        if not step.get_ahead
        for _, task in tracked.open_tasks(phase, step)
    ]


def _touching(tracked: Tracked, waiting: list[tuple[str, Task]], names: list[str]) -> list[str]:
    """Return the steps still to be done that act on any of these things, or their partners."""
    wiring, config = tracked.ground.wiring, tracked.fold.config
    things = set(tracked.things(names))
    for name in list(things):
        mate = config.link[wiring.by_id[name]]
        if mate != NONE:
            things.add(wiring.items[mate].id)
    things = set(tracked.things(things))
    return list(dict.fromkeys(s for s, task in waiting if things & set(ids_of(task.action))))


def _further(steps: list[str]) -> str:
    if not steps:
        return "no step still to be done acts on these items"
    return f"look at the steps still to be done that act on these items: {', '.join(steps)}"


def _why(tracked: Tracked, entry: Entry) -> str:
    """Return what was said beside an entry; of one without a word, why it was corrected so."""
    if entry.text:
        return f": {entry.text}"
    why = tracked.effective.why.get(entry.key, "")
    return f" (corrected: {why})" if why else ""


def _as_held(override: Override) -> bool:
    """Return whether all was found as the model had it: that is no news."""
    before = override.before
    return not override.refusal and all(
        f"{before.get(name, '')} ".startswith(f"{words} ")
        for name, words in override.states.items()
    )


def _overridden(
    tracked: Tracked, row: Played, override: Override, waiting: list[tuple[str, Task]]
) -> Finding:
    entry, verb = row.entry, row.task.verb
    now = ", ".join(f"{name} {words}" for name, words in override.states.items())
    was = ", ".join(f"{name} {words}" for name, words in override.before.items())
    by = f" ({entry.entered_by})" if entry.entered_by else ""
    names = [*override.states, *ids_of(row.task.action)]
    steps = _touching(tracked, waiting, names)
    if not override.refusal:
        return Finding(
            "found-otherwise",
            Severity.WARNING,
            row.task.address,
            f"{label(entry)}: {verb} {now}{_why(tracked, entry)}{by}",
            expected=was,
            way_out=_further(steps),
            step=row.task.step_id,
            items=tracked.things(names),
        )
    held = f"the model held it impossible: {override.refusal}"
    why = _why(tracked, entry)
    return Finding(
        "done-all-the-same",
        Severity.WARNING,
        row.task.address,
        f"{label(entry)}: {verb} is recorded as {entry.outcome}{why}{by}, and {held}",
        expected=override.expected,
        difference=_right(tracked, override) if now else "the model stays as it was",
        way_out=_further(steps),
        step=row.task.step_id,
        items=tracked.things(names),
    )


def _right(tracked: Tracked, override: Override) -> str:
    """Return what an entry came to against the model; and how that stands now, where otherwise."""
    said = ", ".join(f"{name} {words}" for name, words in override.states.items())
    stands = {name: _stands(tracked, name, words) for name, words in override.states.items()}
    if all(f"{stands[name]} ".startswith(f"{w} ") for name, w in override.states.items()):
        return f"the log is right: now {said}"
    now = ", ".join(f"{name} {words}" for name, words in stands.items())
    return f"the log is right: then {said}; now, by what was recorded since, {now}"


def _stands(tracked: Tracked, name: str, words: str) -> str:
    """Return how an item or service stands now, in the same words."""
    wiring, fold = tracked.ground.wiring, tracked.fold
    if name in wiring.service_by_id and name not in wiring.by_id:
        return fold.views[wiring.service_by_id[name]].words
    item = subject(wiring, name, words)
    if item == NONE or wiring.items[item].kind in ("segment", "harness"):
        return words  # how a segment lies has no words to be told in
    return told(fold.config, item)
