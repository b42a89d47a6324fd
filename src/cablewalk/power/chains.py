"""Chains: branches in series taken as one, and dead ends left out, before a circuit is solved.

Exact: no current runs into a dead end, and one current runs through a whole chain. Most nodes of
a harness lie between just two pieces, so what is left to solve is several times smaller.
"""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import dataclass, field

Ends = tuple[int, int, float]
"""Two nodes and the resistance between them, ohm."""


@dataclass(slots=True)
class Chains:
    """Branches put together. ``steps``: chain to its (branch, 1 or -1 where against it)."""

    ends: list[Ends] = field(default_factory=list)
    steps: list[list[tuple[int, int]]] = field(default_factory=list)
    dead: list[tuple[int, int, int]] = field(default_factory=list)
    """(branch, node at its dead end, node it hangs on), outermost first."""


def chained(branches: Sequence[Ends], keep: Set[int]) -> Chains:
    """Return branches put together between the nodes in ``keep`` and those where they fork.

    A loop back to the same node carries nothing: it counts as a dead end.
    """
    at: dict[int, set[int]] = {}
    for n, (a, b, _) in enumerate(branches):
        at.setdefault(a, set()).add(n)
        at.setdefault(b, set()).add(n)
    found = Chains()
    loose = [node for node, near in at.items() if len(near) == 1 and node not in keep]
    for node in loose:  # grows as it goes
        if len(at[node]) != 1:
            continue
        (n,) = at[node]
        other = branches[n][1] if branches[n][0] == node else branches[n][0]
        found.dead.append((n, node, other))
        at[node].discard(n)
        at[other].discard(n)
        if len(at[other]) == 1 and other not in keep:
            loose.append(other)
    anchors = {node for node, near in at.items() if node in keep or len(near) > 2}
    used: set[int] = set()
    for anchor in sorted(anchors):
        for first in sorted(at[anchor]):
            if first not in used:
                _walk(branches, at, anchors, anchor, first, used, found)
    return found


def _walk(
    branches: Sequence[Ends],
    at: dict[int, set[int]],
    anchors: Set[int],
    start: int,
    first: int,
    used: set[int],
    found: Chains,
) -> None:
    node, n, ohm = start, first, 0.0
    steps: list[tuple[int, int]] = []
    while True:
        a, b, own = branches[n]
        used.add(n)
        steps.append((n, 1 if a == node else -1))
        ohm += own
        node = b if a == node else a
        if node in anchors:
            break
        (n,) = at[node] - {n}
    if node != start:
        found.ends.append((start, node, ohm))
        found.steps.append(steps)
    else:
        for n, way in steps[:-1]:
            a, b, _ = branches[n]
            found.dead.append((n, b if way > 0 else a, start))
