"""The transition tables: which states a kind of item has, and which event leads where.

Pure data, written once. The machines refuse only what is physically impossible; what is merely
unsafe is allowed here and becomes a finding elsewhere.
"""

from __future__ import annotations

from typing import Final, NamedTuple

SAME: Final = "="
"""As an event's ``dest``: the state stays as it is."""


class Event(NamedTuple):
    """One row: from any of ``sources``, the event ``name`` leads to ``dest``.

    Several rows may share a name as long as no source stands in two of them. Either ``inverse``
    names the event that takes it back, or ``no_inverse`` says why there is none.
    """

    name: str
    sources: tuple[str, ...]
    dest: str
    inverse: str | None
    no_inverse: str = ""
    meaning: str = ""

    def dest_from(self, source: str) -> str:
        """Return the state this row leads to from ``source``."""
        return source if self.dest == SAME else self.dest


class Table(NamedTuple):
    """All states and events of one kind of item; ``meanings`` has one line for each state."""

    kind: str
    states: tuple[str, ...]
    initial: str
    events: tuple[Event, ...]
    meanings: dict[str, str]
    happenings: frozenset[str] = frozenset()
    """Names of the events nobody does: they happen to the item, or are learnt about it."""


def _row(
    name: str, sources: str, dest: str, inverse: str | None, meaning: str, no_inverse: str = ""
) -> Event:
    return Event(name, tuple(sources.split()), dest, inverse, no_inverse, meaning)


def _table(
    kind: str, initial: str, meanings: dict[str, str], happenings: str, *events: Event
) -> Table:
    return Table(kind, tuple(meanings), initial, events, meanings, frozenset(happenings.split()))


_HALF = _table(
    "half",
    "bare",
    {
        "bare": "nothing on it: contacts open to touch and dirt",
        "capped": "a cap is fitted on it",
        "part_engaged": "begun to mate and left: each contact may touch or not",
        "unverified": "seated in the other half, lock not verified",
        "mated": "seated in the other half, lock verified",
    },
    "slip",
    _row("cap", "bare", "capped", "uncap", "a cap is fitted on this half"),
    _row("uncap", "capped", "bare", "cap", "the cap is taken off"),
    _row("engage", "bare", "part_engaged", "demate", "begin to mate and leave it so"),
    _row("seat", "bare part_engaged", "unverified", "demate", "mate without verifying the lock"),
    _row(
        "mate", "bare part_engaged unverified", "mated", "demate", "mate, seat and verify the lock"
    ),
    _row(
        "lock",
        "unverified",
        "mated",
        None,
        "verify the lock of a seated half",
        "a lock once verified is given up only by demating",
    ),
    _row("demate", "part_engaged unverified mated", "bare", "mate", "pull the halves apart"),
    _row(
        "slip",
        "unverified mated",
        "part_engaged",
        None,
        "found backed out of its seat",
        "it is found, not done; seat or mate puts it right",
    ),
)

_LEG = _table(
    "leg",
    "routed",
    {
        "packed": "in a bag",
        "in_hand": "held by a worker",
        "loose": "let go, held by nothing",
        "restrained": "held at a place for now",
        "routed": "laid along its path",
        "stowed": "left at a place or in a bag for later",
        "pulled_aside": "off its path for a moment, to clear the way",
    },
    "",
    _row("take", "packed", "in_hand", "pack", "take it out of its bag"),
    _row("pack", "in_hand", "packed", "take", "put it in a bag"),
    _row("let_go", "in_hand", "loose", "pick_up", "leave it, held by nothing"),
    _row("pick_up", "loose restrained routed stowed", "in_hand", "let_go", "take it in hand"),
    _row("restrain", "in_hand loose", "restrained", "pick_up", "hold it here for now"),
    _row("route", "in_hand loose restrained stowed", "routed", "pick_up", "lay it along a path"),
    _row("route", "routed", SAME, "route", "lay another stretch, or along another path"),
    _row("stow", "in_hand loose restrained routed", "stowed", "pick_up", "leave it for later"),
    _row("pull_aside", "routed", "pulled_aside", "restore", "clear the way for other work"),
    _row("restore", "pulled_aside", "routed", "pull_aside", "put it back where it was"),
    _row("hand_over", "in_hand", SAME, "hand_over", "another worker holds it now"),
)

_CAP = _table(
    "cap",
    "fitted",
    {
        "fitted": "on a half",
        "tethered": "off its half, hanging on its tether",
        "held": "held by a worker",
        "packed": "in a bag",
        "lost": "nobody knows where: it may drift",
    },
    "lose recover",
    _row("fit", "tethered", "fitted", "remove_tethered", "put it on a half, from its tether"),
    _row("fit", "held", "fitted", "remove_loose", "put it on a half, from the hand"),
    _row("remove_tethered", "fitted", "tethered", "fit", "take it off: it hangs on its tether"),
    _row("remove_loose", "fitted", "held", "fit", "take it off: it stays in hand"),
    _row("pick_up", "tethered", "held", "tether", "take it in hand"),
    _row("tether", "held", "tethered", "pick_up", "tether it to its half or to a place"),
    _row("pack", "held", "packed", "take", "put it in a bag"),
    _row("take", "packed", "held", "pack", "take it out of its bag"),
    _row("hand_over", "held", SAME, "hand_over", "another worker holds it now"),
    _row("lose", "fitted tethered held packed", "lost", "recover", "found gone, or seen to go"),
    _row(
        "recover",
        "lost",
        "held",
        None,
        "found again and taken in hand",
        "nobody loses a cap on purpose",
    ),
)

_COVER = _table(
    "cover",
    "fastened",
    {
        "fastened": "closed, all its fasteners made",
        "part_fastened": "closed, some of its fasteners made",
        "released": "closed, none of its fasteners made",
        "open": "swung open: what is beneath can be touched",
        "removed": "taken off: what is beneath can be touched",
    },
    "",
    _row(
        "release_some",
        "fastened part_fastened",
        "part_fastened",
        "fasten_some",
        "release some fasteners, leaving some made",
    ),
    _row(
        "release_all",
        "fastened part_fastened",
        "released",
        "fasten_all",
        "release all fasteners still made",
    ),
    _row(
        "fasten_some",
        "released part_fastened",
        "part_fastened",
        "release_some",
        "fasten some, leaving some released",
    ),
    _row(
        "fasten_all",
        "released part_fastened",
        "fastened",
        "release_all",
        "fasten all still released",
    ),
    _row("open", "released", "open", "close", "swing it open"),
    _row("close", "open", "released", "open", "swing it shut"),
    _row("remove", "released open", "removed", "fit", "take it off"),
    _row("fit", "removed", "released", "remove", "put it on, no fastener made yet"),
)

_NOT_CHOSEN = "it is seen, not done: what a switch shows is not chosen"

_SWITCH = _table(
    "switch",
    "unknown",
    {
        "off": "open, may be closed by hand or command",
        "blocked": "open, and its close command is blocked",
        "on": "closed",
        "tripped": "opened by itself: reset it, or switch it off, before it closes again",
        "unknown": "not seen: it may be on or off",
    },
    "trip lose_sight see_on see_off see_blocked",
    _row("switch_off", "on unknown tripped off", "off", "switch_on", "open it"),
    _row(
        "switch_off",
        "blocked",
        SAME,
        None,
        "it is open already and stays blocked",
        "it changes nothing, so there is nothing to take back",
    ),
    _row("switch_on", "off unknown on", "on", "switch_off", "close it"),
    _row("block", "off blocked", "blocked", "unblock", "block the close command"),
    _row("unblock", "blocked", "off", "block", "allow the close command again"),
    _row(
        "trip",
        "on",
        "tripped",
        None,
        "it opens by itself",
        "no worker trips a switch; reset answers it, but leaves it off",
    ),
    _row(
        "reset",
        "tripped",
        "off",
        None,
        "reset the trip: it is then off",
        "no worker brings a trip back",
    ),
    _row(
        "lose_sight",
        "off blocked on tripped unknown",
        "unknown",
        None,
        "its state can no longer be told",
        "nobody chooses it; see_on, see_off or see_blocked ends it",
    ),
    _row("see_on", "unknown", "on", None, "it is seen to be on", _NOT_CHOSEN),
    _row("see_off", "unknown", "off", None, "it is seen to be off", _NOT_CHOSEN),
    _row("see_blocked", "unknown", "blocked", None, "it is seen to be blocked", _NOT_CHOSEN),
)


def _fixture(kind: str) -> Table:
    """Return the table that units and panels share."""
    return _table(
        kind,
        "installed",
        {
            "absent": "not there yet: it arrives later",
            "installed": "in its place",
            "removed": "was in its place, and has been taken out",
        },
        "",
        _row("install", "absent removed", "installed", "remove", "put it in its place"),
        _row("remove", "installed", "removed", "install", "take it out of its place"),
    )


_BAG = _table(
    "bag",
    "at_place",
    {"at_place": "left at a place", "carried": "carried by a worker"},
    "",
    _row("carry", "at_place", "carried", "leave", "take it along"),
    _row("leave", "carried", "at_place", "carry", "leave it at this place"),
)

_ACTOR = _table(
    "actor",
    "idle",
    {"idle": "free for the next action", "working": "in the middle of an action"},
    "",
    _row("begin", "idle", "working", "end", "an action begins"),
    _row("end", "working", "idle", "begin", "the action ends"),
)

TABLES: Final[dict[str, Table]] = {
    t.kind: t
    for t in (_HALF, _LEG, _CAP, _COVER, _SWITCH, _fixture("unit"), _fixture("panel"), _BAG, _ACTOR)
}
"""Kind to its table."""
