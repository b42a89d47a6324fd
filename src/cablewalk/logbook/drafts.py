"""From what is typed to entries: the next planned action, an unplanned one, a correction."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from cablewalk.documents.actions import Action
from cablewalk.findings import Finding
from cablewalk.logbook.spread import spread
from cablewalk.logbook.trouble import CannotLog
from cablewalk.schedule.tasks import PlannedStep, Task
from cablewalk.walk.asrun import is_sound, task_of
from cablewalk.walk.asrun_entry import OVER, Entry, Outcome, ids_of
from cablewalk.walk.asrun_fold import label
from cablewalk.walk.asrun_force import MATING
from cablewalk.walk.asrun_state import Phase, Tracked

STATE_FORMS = (
    "'found P1 mated J1', 'found P1 bare', 'found J1 capped C1', 'found COVER part_fastened 3', "
    "'found SW1 off', 'found ada at hatch', 'found SERVICE down'"
)
_LOCKING = ("mate", "park", "seat", "lock")
"""Verbs that can end with the lock verified."""
NOTE_LENGTH = 4_000
"""Characters of a note or a reason: more makes no screen's line. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Said:
    """What a person says beside the action. UTC seconds."""

    utc_s: int
    entered_s: int
    entered_by: str
    began_s: int | None = None
    text: str = ""
    actors: tuple[str, ...] = ()
    """Roles or people; empty: those of the plan."""
    witness: str = ""
    inspection: str = ""
    lock_verified: bool | None = None
    cap_fitted: bool | None = None


def phase_now(tracked: Tracked) -> Phase:
    """Return the phase begun last.

    Raises:
        CannotLog: none has begun.
    """
    if not tracked.phases:
        raise CannotLog("no phase has begun: the log's first entry cannot be read")
    return tracked.phases[-1]


def planned(
    tracked: Tracked,
    what: str,
    outcome: Outcome,
    said: Said,
    action: Action | None = None,
    again: bool = False,
) -> list[Entry]:
    """Return the entries for a planned step, one action of it (``STEP/2``), or a worker's next.

    Raises:
        CannotLog: there is no such thing to do, or the outcome needs more words.
    """
    phase = phase_now(tracked)
    chosen = _chosen(tracked, phase, what, again)
    if outcome in ("failed", "skipped", "done differently") and not said.text:
        raise CannotLog(f"'{outcome}' needs a reason: say it with -m")
    if len(chosen) > 1 and (outcome in ("failed", "part-engaged") or action is not None):
        name = chosen[0][0].id
        raise CannotLog(
            f"step {name} has {len(chosen)} actions open: say which, as {name}/"
            f"{chosen[0][1] + 1} or {name}/{chosen[-1][1] + 1}"
        )
    tasks = [task for _, _, task in chosen]
    skipped = outcome == "skipped"
    actors = people_of(tracked, phase, said.actors)
    ends = [said.utc_s] * len(tasks)
    if not skipped:
        step = chosen[0][0]
        ends = spread(tracked, phase, step, tasks, said.began_s, said.utc_s, actors)
    entries = []
    for (at, position, task), end in zip(chosen, ends, strict=True):
        own = replace(said, utc_s=end, began_s=said.began_s if position == chosen[0][1] else None)
        if len(chosen) > 1 and task.verb not in _LOCKING:
            own = replace(own, lock_verified=None)  # it is said of the actions that have a lock
        entries.append(
            entry_of(
                phase,
                own,
                performed(action or task.action, outcome, own),
                outcome,
                actors or task.workers,
                step=at.id,
                task=position,
                spread=len(chosen) > 1 and not skipped,
            )
        )
    return [checked(tracked, phase, entry) for entry in entries]


def unplanned(tracked: Tracked, action: Action, said: Said, step: str = "") -> Entry:
    """Return the entry for an action that no step has, perhaps in the course of one.

    Raises:
        CannotLog: it names what is not there, or nobody is named.
    """
    phase = phase_now(tracked)
    actors = people_of(tracked, phase, said.actors) or people_of(tracked, phase, action.by)
    if not actors and action.verb not in ("found", "retire"):
        raise CannotLog("nobody is named: say who did it with --who")
    if step and step not in phase.by_id:
        raise CannotLog(f"there is no step {step} in {phase.procedure.procedure}")
    outcome: Outcome = "found" if action.verb == "found" else "done"
    entry = entry_of(phase, said, performed(action, outcome, said), outcome, actors, step=step)
    return checked(tracked, phase, entry)


# -- parts ------------------------------------------------------------------------------


def _chosen(
    tracked: Tracked, phase: Phase, what: str, again: bool
) -> list[tuple[PlannedStep, int, Task]]:
    """Return the planned actions that are meant."""
    name, slash, number = what.partition("/")
    step = phase.by_id.get(name)
    if step is None:
        return [_next(tracked, phase, what)]
    if slash:
        if not number.isdecimal() or not 1 <= int(number[:6]) <= len(step.tasks):
            raise CannotLog(f"step {name} has the actions {name}/1 to {name}/{len(step.tasks)}")
        position = int(number) - 1
        if tracked.is_over((phase.number, name, position)) and not again:
            raise CannotLog(_recorded(tracked, phase, name, position))
        return [(step, position, step.tasks[position])]
    found = [(step, n, task) for n, task in tracked.open_tasks(phase, step)]
    if not found:
        if not step.tasks:
            raise CannotLog(f"step {name} has no actions")
        raise CannotLog(_recorded(tracked, phase, name, len(step.tasks) - 1))
    return found


def _recorded(tracked: Tracked, phase: Phase, step: str, position: int) -> str:
    entry = tracked.answered[(phase.number, step, position)][-1]
    by = f" by {entry.entered_by}" if entry.entered_by else ""
    return (
        f"step {step}/{position + 1} was recorded already as {entry.outcome}{by} ({label(entry)}): "
        "look again; to record it once more name it so and add --again"
    )


def _next(tracked: Tracked, phase: Phase, who: str) -> tuple[PlannedStep, int, Task]:
    """Return a worker's next planned action."""
    (person,) = people_of(tracked, phase, (who,), what=who)
    found = tracked.next_of(phase, person)
    if found is None:
        raise CannotLog(f"nothing of the plan is left to do for {who}")
    return found


def people_of(
    tracked: Tracked, phase: Phase, names: Iterable[str], what: str = ""
) -> tuple[str, ...]:
    """Return the people whom names or roles of a phase mean.

    Raises:
        CannotLog: one is nobody; ``what`` was typed where a step could stand too.
    """
    people = tracked.ground.baseline.people
    found = [phase.procedure.roles.get(name, name) for name in names]
    for name, person in zip(names, found, strict=True):
        if person not in people:
            known = ", ".join([*phase.procedure.roles, *people])
            kind = "step, person or role" if what else "person or role"
            if what and (to_come := _phase_of(tracked, what)):
                raise CannotLog(
                    f"{what} is of {to_come}, which has not begun: 'cablewalk asrun begin' first"
                )
            if what and (past := _begun_before(tracked, what)):
                raise CannotLog(
                    f"{what} is of {past}, a phase before: record what was done with 'asrun also "
                    "ACTION --utc TIME', its time in UTC; it answers no action of the plan then"
                )
            raise CannotLog(f"there is no {kind} {name}; there are {known}")
    return tuple(dict.fromkeys(found))


def _phase_of(tracked: Tracked, what: str) -> str:
    """Return the procedure still to begin that has this step, or action of a step; or empty."""
    name = what.partition("/")[0]
    for procedure in tracked.procedures[len(tracked.phases) :]:
        steps = [*procedure.steps, *(s for ahead in procedure.get_aheads for s in ahead.steps)]
        if name in {step.id for step in steps}:
            return procedure.procedure
    return ""


def _begun_before(tracked: Tracked, what: str) -> str:
    """Return the procedure before the one under way that has this step; or empty."""
    name = what.partition("/")[0]
    phases = (phase for phase in reversed(tracked.phases[:-1]) if name in phase.by_id)
    return next((phase.procedure.procedure for phase in phases), "")


def performed(action: Action, outcome: Outcome, said: Said) -> Action:
    """Return what was really done: part-engaged halves were engaged, unlocked ones seated."""
    if outcome == "part-engaged":
        if action.verb not in MATING:
            raise CannotLog(f"'part-engaged' is said of halves being mated, not of {action.verb}")
        if said.lock_verified:
            raise CannotLog("no lock can be verified of halves that are part-engaged: leave --lock")
        return action.model_copy(update={action.verb: None, "engage": action.argument})
    if said.lock_verified and action.verb in ("engage", "demate") and outcome in OVER:
        raise CannotLog(
            f"no lock is verified as halves {action.verb}: leave --lock; what was really done is "
            "said with 'differently --action …'"
        )
    if outcome in ("done", "done differently") and said.lock_verified is False:
        if action.verb == "lock":
            raise CannotLog("'lock' done with its lock not verified: record it as failed")
        if action.verb in ("mate", "park"):
            return action.model_copy(update={action.verb: None, "seat": action.argument})
    return action


def entry_of(
    phase: Phase,
    said: Said,
    action: Action | None,
    outcome: Outcome | None,
    actors: tuple[str, ...],
    **rest: Any,
) -> Entry:
    """Return an entry of what was said; its serial and PET are not known yet."""
    not_too_long(said.text)
    witness = phase.procedure.roles.get(said.witness, said.witness)
    return Entry(
        phase.number, 0, "action", said.utc_s, 0, said.entered_s, said.entered_by, said.began_s,
        actors, action, outcome, text=said.text, witness=witness,
        inspection=said.inspection, lock_verified=said.lock_verified,
        cap_fitted=said.cap_fitted, **rest,
    )  # fmt: skip


def not_too_long(text: str) -> None:
    """Refuse a note or a reason that no screen has room for."""
    if len(text) > NOTE_LENGTH:
        raise CannotLog(
            f"the text has {len(text):,} characters, and an entry takes {NOTE_LENGTH:,}: "
            "say it shorter, or in several notes"
        )


def _typing_error(entry: Entry) -> None:
    """Refuse what no hand can do, and so nobody can have seen."""
    assert entry.action is not None
    if entry.action.verb in MATING:
        ((one, other),) = entry.action.argument.items()
        if one == other:
            raise CannotLog(f"{one} cannot {entry.action.verb} with itself: name both halves")


def checked(tracked: Tracked, phase: Phase, entry: Entry) -> Entry:
    """Return an entry with its items and PET, once the baseline knows all that it names."""
    assert entry.action is not None
    if entry.began_s is not None and entry.began_s > entry.utc_s:
        raise CannotLog("it cannot have begun after it was over")
    _typing_error(entry)
    known = len(tracked.findings)
    if not is_sound(tracked, phase, task_of(phase, entry), entry):
        found = tracked.findings.items[known]
        del tracked.findings.items[known:]
        raise CannotLog(_unknown(found))
    pet = tracked.pet_s(phase, entry.utc_s)
    return replace(entry, items=tracked.things(ids_of(entry.action)), pet_s=pet)


def _unknown(found: Finding) -> str:
    """Return what an entry names that the baseline does not know, and what can be said instead."""
    parts = [found.found.partition(": ")[2]]
    if found.rule == "unknown-state":
        has_none = found.expected.startswith("the id")
        parts.append(f"{'say' if has_none else 'it can be'} {found.expected}")
    parts.append(found.way_out)
    if found.rule == "unknown-state":
        parts.append(f"write it like {STATE_FORMS}")
    parts.append("what the baseline has no word for goes into 'cablewalk asrun note'")
    return "; ".join(part for part in parts if part)
