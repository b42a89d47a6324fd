"""Carry pages: for each worker what to do, a line an action, in large type."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from cablewalk.book.book import Told
from cablewalk.book.paper import render
from cablewalk.book.places import Whereabouts, whereabouts
from cablewalk.documents.actions import Action
from cablewalk.replay.wiring import Wiring
from cablewalk.reports.step import ActionRow, StepRow
from cablewalk.reports.steps import step_rows
from cablewalk.schedule.tasks import PlannedStep
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


@dataclass(slots=True)
class CardStep:
    """One step of one worker."""

    row: StepRow
    go: tuple[str, ...]
    after: tuple[str, ...]
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
    """Return the cards of those who work outside; of everybody, where nobody does."""
    people = account.ground.baseline.people
    outside = {p for p, one in people.items() if one.kind in ("outside", "vehicle")}
    at_work = {p for step in steps for p in step.people}
    workers = (outside & at_work) or at_work
    marks = _marks(account.trace.wiring)
    found: list[Card] = []
    for phase, timed in enumerate(account.trace.phases):
        procedure = account.procedures[phase]
        plan = {step.id: step for step in timed.plan.steps}
        roles = {person: role for role, person in procedure.roles.items()}
        for person in sorted(workers):
            card = Card(procedure.procedure, procedure.title, person, roles.get(person, ""))
            last = ""
            for row in (s for s in steps if s.phase_number == phase + 1 and person in s.people):
                step, last = _step(row, plan[row.id], person, places, last, marks)
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
) -> tuple[CardStep, str]:
    """Return a step as one of its workers has it, and the place where that worker is at its end."""
    step = CardStep(row, planned.document.go, planned.document.after)
    for task, action in zip(planned.tasks, row.actions, strict=True):
        if person not in action.people:
            continue
        place = places.at.get(((task.phase, task.serial), person), last)
        others = tuple(p for p in action.people if p != person)
        verb, what = _words(action, marks)
        spot = place if place != last else ""
        step.lines.append(CardLine(spot, verb, what, others, _tools(task.action)))
        last = place
    return step, last


def _tools(action: Action) -> tuple[str, ...]:
    return (
        *(f"{tool} out of {bag}" for tool, bag in action.tools_out.items()),
        *action.tools,
        *(f"{tool} back in {bag}" for tool, bag in action.tools_back.items()),
    )


def _marks(wiring: Wiring) -> dict[str, str]:
    """Return the id of each cable end to the label that its cable bears, where it bears one."""
    found = {}
    for leg, half in wiring.half_of.items():
        label = wiring.items[wiring.items[leg].owner].label
        if label and not wiring.items[half].label:
            found[wiring.items[half].id] = label
    return found


def _words(action: ActionRow, marks: Mapping[str, str]) -> tuple[str, str]:
    """Return the verb and what it is done to: a cable's end with the label its cable bears."""
    verb = action.verb.replace("_", " ")
    words = action.text.removeprefix(verb).strip()
    end, _, rest = words.partition(" ")
    if end in marks:
        words = f"{end} ({marks[end]}) {rest}".rstrip()
    if action.verb == "demate":
        # The worker reads the label of the half it comes off too.
        before = next((c.before for c in action.changes if c.item == end), "")
        state, _, mate = before.partition(" ")
        if state in ("mated", "unverified", "part_engaged") and mate:
            words = f"{words} off {mate}"
    return verb, words


def cards_html(told: Told, size: str = "cuff") -> str:
    """Return the carry pages as one HTML file; ``size`` is a key of :data:`SIZES`."""
    steps = step_rows(told.account)
    return render(
        "cards.html",
        told=told,
        baseline=told.account.ground.baseline,
        cards=cards_of(told.account, steps, whereabouts(told.account)),
        size=size,
        page_size=SIZES[size][0],
        size_words=SIZES[size][1],
    )
