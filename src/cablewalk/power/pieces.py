"""Pieces: stretches of wire and mated pairs of contacts, between nodes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from cablewalk.replay.wiring import STRUCTURE


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of wire or a mated pair of contacts, between two nodes.

    ``ohm`` is None where it is not known; it then counts as nothing, and ``missing`` says what
    the documents lack. ``item`` is the segment, or the half or cap the contact belongs to.
    """

    a: int
    b: int
    item: int
    name: str
    island: int
    other: int
    """The island of ``b``; the same for wire."""
    ohm: float | None
    missing: str = ""
    source: str = ""
    """Who gives ``ohm``: the rule it was worked out by, and who chose that."""
    gauge_awg: int | None = None
    size: str = ""
    """Contacts: their size; empty for wire and where it is not given."""
    is_wire: bool = True
    run: str = ""
    """Wire: the contacts its conductor joins, ``P1.1 P2.1``."""

    @property
    def said(self) -> str:
        """Its name; of wire with its conductor."""
        return f"{self.name} ({self.run})" if self.run else self.name


def tails(pieces: Iterable[Piece]) -> list[tuple[set[int], list[Piece]]]:
    """Return nodes and pieces of each tail: what hangs together otherwise than over structure."""
    beside: dict[int, list[Piece]] = {}
    for piece in pieces:
        for node in {piece.a, piece.b} - {STRUCTURE}:
            beside.setdefault(node, []).append(piece)
    found: list[tuple[set[int], list[Piece]]] = []
    for start in beside:
        if any(start in nodes for nodes, _ in found):
            continue
        nodes, held, stack = {start}, dict[Piece, None](), [start]
        while stack:
            for piece in beside[stack.pop()]:
                held[piece] = None
                fresh = {piece.a, piece.b} - nodes - {STRUCTURE}
                nodes |= fresh
                stack += fresh
        found.append((nodes, list(held)))
    return found
