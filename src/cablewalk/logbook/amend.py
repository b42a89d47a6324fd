"""Notes, open items, and corrections: entries about the log rather than about the hardware."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from cablewalk.logbook.drafts import (
    Said,
    checked,
    entry_of,
    not_too_long,
    people_of,
    performed,
    phase_now,
)
from cablewalk.logbook.trouble import CannotLog
from cablewalk.walk.asrun_entry import Entry, Key, corrected
from cablewalk.walk.asrun_fold import label
from cablewalk.walk.asrun_state import Tracked
from cablewalk.walk.asrun_told import if_lost


def note(
    tracked: Tracked, said: Said, items: Sequence[str], open_item: bool, closes: Key | None
) -> Entry:
    """Return a note, which may be an open item, or close one.

    Raises:
        CannotLog: it says nothing, names unknown items, or closes what is no open item.
    """
    phase = phase_now(tracked)
    if not said.text:
        raise CannotLog("the note is empty")
    for name in items:
        if name not in tracked.ground.wiring.by_id:
            raise CannotLog(f"there is no item {name} in the baseline")
    if closes is not None and closes not in {e.key for e in tracked.open_items()}:
        raise CannotLog(f"log {closes[0] + 1}.{closes[1]} is no open item")
    actors = people_of(tracked, phase, said.actors)
    return replace(
        entry_of(phase, said, None, None, actors),
        kind="note", pet_s=tracked.pet_s(phase, said.utc_s),
        items=tuple(items), open_item=open_item, closes=closes,
    )  # fmt: skip


def correction(
    tracked: Tracked, key: Key, changed: dict[str, Any], said: Said, void: bool
) -> Entry:
    """Return the entry that corrects another: as it stands now, with some fields changed.

    What was said is why it is corrected; ``reads`` among the fields is the note or reason worded
    anew.

    Raises:
        CannotLog: there is no such entry, nothing of it could be read, or the corrected one
            cannot be.
    """
    effective = corrected(tracked.entries)
    root = next((r for r, ks in effective.corrected.items() if key in ks), key)
    standing = {entry.key: entry for entry in effective.entries}
    if root not in standing:
        known = root in {entry.key for entry in tracked.entries}
        what = "was corrected away" if known else "is not in the log"
        raise CannotLog(f"log {key[0] + 1}.{key[1]} {what}: 'cablewalk asrun export' lists it all")
    old = standing[root]
    if not said.text:
        raise CannotLog("a correction needs a reason: say it with -m")
    if old.kind == "begin" and void:
        raise CannotLog("the beginning of a phase cannot be taken back, only its time corrected")
    if old.kind == "lost" and not void:
        raise CannotLog(f"nothing of {label(old)} could be read: {if_lost(old)}")
    phase = next(p for p in tracked.phases if p.number == root[0])
    if "outcome" in changed and "action" not in changed and old.task is not None:
        changed["action"] = phase.by_id[old.step].tasks[old.task].action
    if "actors" in changed:
        changed["actors"] = people_of(tracked, phase, changed["actors"])
    reads = changed.get("reads", "")
    for text in (said.text, reads):
        not_too_long(text)
    if reads and "action" not in changed and old.action is not None and old.action.reason:
        changed["action"] = old.action.model_copy(update={"reason": reads})
    entry = replace(
        old, **changed, text=said.text, corrects=key, void=void, doubt="",
        entered_s=said.entered_s, entered_by=said.entered_by,
    )  # fmt: skip
    if entry.action is not None and not void:
        action = performed(entry.action, entry.outcome or "done", said)
        entry = checked(tracked, phase, replace(entry, action=action))
    pet = 0 if old.kind == "begin" else tracked.pet_s(phase, entry.utc_s)
    return replace(entry, pet_s=pet)
