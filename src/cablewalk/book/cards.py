"""Carry pages: for each worker what to do, a line an action, in large type."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from cablewalk.book.bags import bags_of
from cablewalk.book.book import Told
from cablewalk.book.deeds import action_words, receivers
from cablewalk.book.moves import marks_of
from cablewalk.book.paper import render
from cablewalk.book.places import Whereabouts, whereabouts
from cablewalk.documents.actions import Action
from cablewalk.reports.step import ActionRow, StepRow
from cablewalk.reports.steps import step_rows
from cablewalk.reports.stopping import skip_words, stop_words
from cablewalk.schedule.tasks import PlannedStep, Task
from cablewalk.timeline.account import Account

SIZES: Final = {
    "cuff": ("100mm 150mm", "cuff page, 100 x 150 mm"),
    "a4": ("A4", "A4"),
    "letter": ("letter", "US Letter"),
}
"""Name to the CSS size of a page, and to words. The cuff's size is this project's own choice."""


@dataclass(frozen=True, slots=True)
class CardLine:
    """One action."""

    place: str
    """Empty where it is the place of the line before."""
    verb: str
    what: str
    """What it is done to, with the label as marked."""
    with_whom: tuple[str, ...]
    tools: tuple[str, ...] = ()
    """What it is done with, and which tools are taken out of a bag or put back."""
    mark: str = ""
    """``not possible`` or ``not reached``, where the replay could not do it."""


@dataclass(slots=True)
class CardStep:
    """One step of one worker."""

    row: StepRow
    go: tuple[str, ...]
    after: tuple[str, ...]
    place: str = ""
    """Where its worker is as it begins: a page may begin with any step."""
    lines: list[CardLine] = field(default_factory=list)


@dataclass(slots=True)
class Card:
    """All steps of one worker in one phase."""

    phase: str
    title: str
    person: str
    role: str
    steps: list[CardStep] = field(default_factory=list)


def cards_of(account: Account, steps: Sequence[StepRow], places: Whereabouts) -> list[Card]:
    """Return the cards of those who work outside; of everybody, where nobody does.

    By phase, then in the order in which the procedure lists its roles.
    """
    people = account.ground.baseline.people
    outside = {p for p, one in people.items() if one.kind in ("outside", "vehicle")}
    at_work = {p for step in steps for p in step.people}
    workers = (outside & at_work) or at_work
    marks = marks_of(account.trace.wiring)
    found: list[Card] = []
    for phase, timed in enumerate(account.trace.phases):
        procedure = account.procedures[phase]
        plan = {step.id: step for step in timed.plan.steps}
        roles = {person: role for role, person in procedure.roles.items()}
        listed = [person for person in procedure.roles.values() if person in workers]
        for person in dict.fromkeys([*listed, *sorted(workers)]):
            card = Card(procedure.procedure, procedure.title, person, roles.get(person, ""))
            last = ""
            for row in (s for s in steps if s.phase_number == phase + 1 and person in s.people):
                step, last = _step(row, plan[row.id], person, places, last, marks, procedure.roles)
                card.steps.append(step)
            if card.steps:
                found.append(card)
    return found


def _step(
    row: StepRow,
    planned: PlannedStep,
    person: str,
    places: Whereabouts,
    last: str,
    marks: Mapping[str, str],
    roles: Mapping[str, str],
) -> tuple[CardStep, str]:
    """Return a step as one of its workers has it, and the place where that worker is at its end."""
    step = CardStep(row, planned.document.go, planned.document.after, last)
    for task, action in zip(planned.tasks, row.actions, strict=True):
        if person not in action.people:
            continue
        place = places.at.get(((task.phase, task.serial), person), last)
        verb, what, others = _line(task, action, person, marks, roles)
        spot = place if place != last else ""
        mark = "" if action.outcome == "done" else action.outcome
        step.lines.append(CardLine(spot, verb, what, others, _tools(task.action), mark))
        last = place
    return step, last


def _line(
    task: Task,
    action: ActionRow,
    person: str,
    marks: Mapping[str, str],
    roles: Mapping[str, str],
) -> tuple[str, str, tuple[str, ...]]:
    """Return an action as one of its workers has it: verb, what it is done to, who else is in it.

    Who is handed something receives it; who gives reads in the words to whom.
    """
    others = tuple(p for p in action.people if p != person)
    handed = receivers(task, roles)
    if person in handed:
        givers = [p for p in others if p not in handed] or list(others)
        role = {p: name.upper() for name, p in roles.items()}
        named = ", ".join(f"{role[p]} {p}" if p in role else p for p in givers)
        things = ", ".join(f"{t} ({marks[t]})" if t in marks else t for t in handed[person])
        return "receive", f"{things} from {named}", tuple(p for p in others if p not in givers)
    verb, what = action_words(action, marks)
    return verb, what, tuple(p for p in others if p not in handed)


def _tools(action: Action) -> tuple[str, ...]:
    return (
        *(f"{tool} out of {bag}" for tool, bag in action.tools_out.items()),
        *action.tools,
        *(f"{tool} back in {bag}" for tool, bag in action.tools_back.items()),
    )


def cards_html(told: Told, size: str = "cuff") -> str:
    """Return the carry pages as one HTML file; ``size`` is a key of :data:`SIZES`."""
    steps = step_rows(told.account)
    return render(
        "cards.html",
        trouble=stop_words(told.account) or skip_words(told.account),
        told=told,
        baseline=told.account.ground.baseline,
        cards=cards_of(told.account, steps, whereabouts(told.account)),
        bags=bags_of(told.account),
        size=size,
        page_size=SIZES[size][0],
        size_words=SIZES[size][1],
    )
