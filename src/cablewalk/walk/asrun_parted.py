"""What an action takes down by its kind, wherever the model has its item before."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from cablewalk.continuity.services import Continuity
from cablewalk.documents.actions import Action
from cablewalk.schedule.tasks import Task
from cablewalk.walk.taint import left_apart

_PARTING: Final = ("demate", "switch_off", "block", "remove")
"""Verbs that take what runs over their item down."""
_APART: Final = frozenset(
    ("bare", "capped", "part_engaged", "off", "blocked", "tripped", "unknown", "removed")
)
"""States in which what is found carries nothing."""


def taken_down(continuity: Continuity, task: Task) -> set[int]:
    """Return the services an action takes down by its kind: it parts or turns off what is theirs.

    Of a service that was found up against the model, the model cannot tell: it has it down
    before and after.
    """
    wiring, action = continuity.config.wiring, task.action
    names = [str(action.argument)] if task.verb in _PARTING else []
    for name, words in (action.found or {}).items():
        state, *_ = (words or "").split() or [""]
        if name in wiring.by_id and state in _APART:
            names.append(name)
    strings: set[int] = set()
    services: set[int] = set()
    for name in names:
        item = wiring.by_id[name]
        kind = wiring.items[item].kind
        if kind == "switch":
            off = replace(task, verb="switch_off", action=Action(switch_off=name))
            services |= {wiring.service_by_id[s] for s in left_apart(continuity, off)}
        elif kind == "half":
            strings |= continuity.strings_near(wiring.joints[item])
        else:
            strings |= set(continuity.index.owners.get(item, ()))
    return services | {wiring.strings[s].service for s in strings}
