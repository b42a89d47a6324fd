"""An action as a worker reads it: what a cable bears, what it comes off, who is handed what."""

from __future__ import annotations

from collections.abc import Mapping

from cablewalk.reports.step import ActionRow
from cablewalk.schedule.tasks import Task


def action_words(row: ActionRow, marks: Mapping[str, str]) -> tuple[str, str]:
    """Return the verb and what it is done to: a cable's end with the label its cable bears.

    ``marks``: :func:`cablewalk.book.moves.marks_of`.
    """
    verb = row.verb.replace("_", " ")
    words = row.text.removeprefix(verb).strip()
    end, _, rest = words.partition(" ")
    if end in marks:
        words = f"{end} ({marks[end]}) {rest}".rstrip()
    if row.verb == "demate":
        # The worker reads the label of the half it comes off too.
        before = next((c.before for c in row.changes if c.item == end), "")
        state, _, mate = before.partition(" ")
        if state in ("mated", "unverified", "part_engaged") and mate:
            words = f"{words} off {mate}"
    return verb, words


def receivers(task: Task, roles: Mapping[str, str]) -> dict[str, tuple[str, ...]]:
    """Return who is handed what in an action: person to the ids; nothing but for a hand-over.

    ``roles``: role to person, of the phase.
    """
    handed = task.action.hand_over
    found: dict[str, tuple[str, ...]] = {}
    for thing, name in (handed or {}).items():
        person = roles.get(name, name)
        found[person] = (*found.get(person, ()), thing)
    return found
