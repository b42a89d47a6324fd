"""Words compared with how things stand: ``expect``, ``verify``, and ``when`` of a get-ahead."""

from __future__ import annotations

from collections.abc import Sequence

from cablewalk.findings import Finding, Severity
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.standing import is_so, subject, told
from cablewalk.schedule.tasks import Task
from cablewalk.walk.trace import View


def holds(config: Configuration, views: Sequence[View], name: str, words: str) -> bool:
    """Return whether an item or service stands as the words say.

    Of a service, ``up`` holds proven or not; ``unproven`` holds in whatever state.
    """
    wiring = config.wiring
    if name not in wiring.service_by_id:
        return is_so(config, subject(wiring, name, words), words)
    view = views[wiring.service_by_id[name]]
    if words == "unproven":
        return bool(view.unproven)
    return words in (view.words, view.words.split()[0])


def unlike(config: Configuration, views: Sequence[View], task: Task) -> list[Finding]:
    """Return a finding for each thing that does not stand as a task expects or verifies it.

    A switch whose state is unknown is what a ``verify`` is there to tell: no finding.
    """
    states = task.action.expect or task.action.verify
    if not isinstance(states, dict):
        return []
    wiring = config.wiring
    found = []
    for name, words in states.items():
        if name not in wiring.by_id and name not in wiring.service_by_id:
            continue  # a statement: verifying it is what makes it so
        if holds(config, views, name, words):
            continue
        if name in wiring.service_by_id:
            stands = views[wiring.service_by_id[name]].words
        else:
            stands = told(config, subject(wiring, name, words))
            if task.verb == "verify" and stands == "unknown":
                continue
        found.append(
            Finding(
                "not-as-expected",
                Severity.ERROR,
                task.address.child(task.verb, name),
                f"{name} is {stands}",
                expected=words,
                difference=f"{stands}, not {words}",
                way_out="correct the steps before, or the expectation",
                step=task.step_id,
                items=(name,),
            )
        )
    return found
