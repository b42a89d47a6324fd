"""Entries: what people record of the work as it is really done, one event each."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Final, Literal

from cablewalk.documents.actions import Action

Kind = Literal["begin", "action", "note", "lost"]
"""``begin`` starts a phase; ``lost`` stands for an entry that could not be read any more."""

Outcome = Literal["done", "done differently", "part-engaged", "failed", "skipped", "found"]

OUTCOMES: Final[tuple[Outcome, ...]] = (
    "done",
    "done differently",
    "part-engaged",
    "failed",
    "skipped",
    "found",
)
OVER: Final = frozenset({"done", "done differently", "skipped"})
"""Outcomes after which a planned action is not waited for any longer."""

Key = tuple[int, int]
"""Phase, from 0, and serial number within it, from 1."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One recorded event. Times are whole seconds; ``utc_s`` since 1970-01-01T00:00Z.

    ``action`` is what was really done or tried; ``step`` and ``task`` (position in the step,
    from 0) name the planned action it answers, if any.
    """

    phase: int
    serial: int
    kind: Kind
    utc_s: int
    """When it was over; of ``begin``: when the phase's PET was 0:00."""
    pet_s: int
    """The same moment in phase elapsed time."""
    entered_s: int
    """When it was written into the log, UTC."""
    entered_by: str = ""
    began_s: int | None = None
    """When the action began, UTC; None: nobody said."""
    actors: tuple[str, ...] = ()
    action: Action | None = None
    outcome: Outcome | None = None
    step: str = ""
    task: int | None = None
    items: tuple[str, ...] = ()
    text: str = ""
    """The note, or the reason; of a correction, why it was made."""
    reads: str = ""
    """A correction's new wording of the note or reason; empty: that stays as it was."""
    witness: str = ""
    inspection: str = ""
    lock_verified: bool | None = None
    cap_fitted: bool | None = None
    corrects: Key | None = None
    void: bool = False
    """A correction that says: the entry it corrects never happened."""
    open_item: bool = False
    closes: Key | None = None
    """The open item that this entry closes."""
    spread: bool = False
    """Its time was worked out: several actions of a step were recorded as one."""
    doubt: str = ""
    """Why it may not be as it was recorded: salvage took it over though nothing proves it."""
    left_s: int | None = None
    """Of ``begin``: when the baseline's ``now`` was true, UTC; None: as the phase began."""

    @property
    def key(self) -> Key:
        """Phase and serial."""
        return self.phase, self.serial

    @property
    def is_lost(self) -> bool:
        """Whether it stands for an entry of which nothing could be read; no correction of it is."""
        return self.kind == "lost" and self.corrects is None


@dataclass(slots=True)
class Effective:
    """The entries as corrected, and which corrections bear on which entry."""

    entries: list[Entry] = field(default_factory=list)
    """Each in the place, and with the key, of the entry first written; void ones left out."""
    corrected: dict[Key, tuple[Key, ...]] = field(default_factory=dict)
    """Entry to the corrections of it, in order."""
    dangling: list[Entry] = field(default_factory=list)
    """Corrections that name no earlier entry."""
    why: dict[Key, str] = field(default_factory=dict)
    """Why an entry was corrected last; why a correction was made."""
    texts: dict[Key, str] = field(default_factory=dict)
    """Correction to the note or reason of the entry as it stands by it."""

    def settled_by(self, key: Key) -> Key | None:
        """Return the last correction that stands in the place of an entry, or of a correction."""
        for root, made in self.corrected.items():
            if key == root or (key in made and key != made[-1]):
                return made[-1]
        return None


def root_of(key: Key, roots: dict[Key, Key]) -> Key:
    """Return the entry first written that a key, perhaps of a correction, goes back to."""
    return roots.get(key, key)


def corrected(entries: Iterable[Entry]) -> Effective:
    """Return the entries with every correction put in the place of what it corrects.

    The last correction decides; a correction of a correction is one of the first entry. The text
    of a correction is why it was made: what the entry said stays, unless it was worded anew.
    """
    result = Effective()
    standing: dict[Key, Entry] = {}
    roots: dict[Key, Key] = {}
    for entry in entries:
        if entry.corrects is None:
            standing[entry.key] = entry
            continue
        root = root_of(entry.corrects, roots)
        result.why[entry.key] = entry.text
        result.texts[entry.key] = entry.reads
        if root not in standing or root == entry.key:
            result.dangling.append(entry)
            continue
        roots[entry.key] = root
        result.corrected[root] = (*result.corrected.get(root, ()), entry.key)
        own = entry.reads or standing[root].text
        result.why[root], result.texts[entry.key] = entry.text, own
        standing[root] = replace(
            entry, phase=root[0], serial=root[1], corrects=None, text=own, reads=""
        )
    result.entries = [entry for entry in standing.values() if not entry.void]
    return result


def ids_of(action: Action) -> list[str]:
    """Return the ids an action names, dots cut off: items, places, people, paths, services."""
    argument = action.argument
    words: list[str] = []
    if isinstance(argument, str):
        words = [argument]
    elif isinstance(argument, dict):
        for key, value in argument.items():
            words += [key, *(value if isinstance(value, tuple) else str(value or "").split())]
    elif hasattr(argument, "to"):
        words = [argument.to]
    return list(dict.fromkeys(word.partition(".")[0] for word in words))
