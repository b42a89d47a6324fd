"""What becomes of halves and cables in the work: taken off, put on, moved, back as before."""

from __future__ import annotations

from collections.abc import Sequence

from cablewalk.drawings.moments import Moment
from cablewalk.replay.change import Field
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE, Wiring
from cablewalk.walk.trace import Trace


def demated(trace: Trace) -> frozenset[int]:
    """Return the halves that come off what they are joined with at the start, at any time.

    Joined: mated with a half, a parking half too, or under a cap that counts in continuity.
    """
    wiring, first = trace.wiring, trace.start
    return frozenset(
        change.item
        for event in trace.events
        for change in event.changes
        if change.field is Field.LINK
        and wiring.items[change.item].kind == "half"
        and change.old == first.link[change.item] != change.new
        and _joins(wiring, first.link[change.item])
    )


def _joins(wiring: Wiring, link: int) -> bool:
    if link == NONE:
        return False
    kind = wiring.items[link].kind
    return kind == "half" or (kind == "cap" and bool(wiring.joints[link]))


def is_back(first: Configuration, last: Configuration, half: int, off: frozenset[int]) -> bool:
    """Return whether a half was demated and ends with the mate it had at the start."""
    return half in off and first.link[half] == last.link[half]


def cable_role(
    wiring: Wiring, harness: int, all_moments: Sequence[Moment], off: frozenset[int]
) -> str:
    """Return ``old``, ``new``, ``moved``, ``back`` (off, and at last as before) or nothing.

    ``off``: halves demated at any time. Dummies do not count as mates, but for ``back``.
    """
    first, last = all_moments[0].config, all_moments[-1].config
    halves = [wiring.half_of[leg] for leg in wiring.legs_of[harness] if leg in wiring.half_of]

    def mates(link: list[int]) -> set[tuple[int, int]]:
        pairs = ((h, link[h]) for h in halves)
        return {(h, m) for h, m in pairs if m != NONE and wiring.items[m].role in ("fixed", "free")}

    before, after = mates(first.link), mates(last.link)
    joined = {(h, m) for h, m in after if wiring.items[m].kind == "half"}
    if before - after:
        return "moved" if joined else "old"
    if joined - before:
        return "moved" if before else "new"
    return "back" if any(is_back(first, last, half, off) for half in halves) else ""
