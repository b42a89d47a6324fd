"""Who stands where in the row of columns: places, the channels between, and the sides.

Places stand in columns, by how many cables lie between them and where power comes from; the
cables run in the channels between two columns. Channel n lies right of column n.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from cablewalk.drawings.cast import Cast, home
from cablewalk.replay.wiring import NONE, STRUCTURE

LEFT, RIGHT = "left", "right"


@dataclass(slots=True)
class Order:
    """The columns of places and what is in the channels. Items are numbers of the wiring."""

    columns: list[list[int]] = field(default_factory=list)
    column_of: dict[int, int] = field(default_factory=dict)
    """Place to its column."""
    channel_of: dict[int, int] = field(default_factory=dict)
    """Harness to its channel."""
    side_of: dict[int, str] = field(default_factory=dict)
    """Fixed half: the side of its column. Free half or hard-wired leg: the side of its channel."""

    @property
    def channels(self) -> int:
        """How many channels there are; one to the right of the last column too."""
        return len(self.columns)


def order_of(cast: Cast) -> Order:
    """Return the order of a cast."""
    order = Order()
    groups = _groups(cast)
    _columns(order, cast, groups)
    _sides(order, cast, groups)
    for harness in cast.harnesses:
        for leg in cast.legs[harness]:
            _leg_side(order, cast, harness, leg)
    return order


def _groups(cast: Cast) -> list[tuple[list[int], set[int]]]:
    """Return (harnesses, fixed halves ever mated) of every chain of harnesses joined end to end."""
    wiring = cast.wiring
    shown = frozenset(cast.halves)
    root = {h: h for h in cast.harnesses}

    def find(harness: int) -> int:
        while root[harness] != harness:
            harness = root[harness]
        return harness

    owner = {h: wiring.items[leg].owner for h, leg in wiring.leg_of.items()}
    touches: dict[int, set[int]] = {h: set() for h in cast.harnesses}
    for harness in cast.harnesses:
        for leg in cast.legs[harness]:
            half = wiring.half_of.get(leg, NONE)
            for mate in cast.mates.get(half, ()):
                if mate in shown:
                    touches[harness].add(mate)
                elif owner.get(mate) in root:
                    root[find(owner[mate])] = find(harness)
    groups: dict[int, tuple[list[int], set[int]]] = {}
    for harness in cast.harnesses:
        members, halves = groups.setdefault(find(harness), ([], set()))
        members.append(harness)
        halves |= touches[harness]
    return list(groups.values())


def _columns(order: Order, cast: Cast, groups: list[tuple[list[int], set[int]]]) -> None:
    wiring = cast.wiring
    near: dict[int, set[int]] = {p: set() for p in cast.places}
    for _, halves in groups:
        places = {home(wiring, h) for h in halves}
        for place in places:
            near[place] |= places - {place}
    sources = Counter(
        home(wiring, u) for u in wiring.ids("unit") if wiring.items[u].role in ("source", "store")
    )
    # Places that no cable reaches stand beneath the first column.
    rest = sorted(cast.places, key=lambda p: (not near[p], -sources[p], cast.places.index(p)))
    for root in rest:
        if root in order.column_of:
            continue
        order.column_of[root] = 0
        edge = [root]
        while edge:
            beyond = []
            for place in edge:
                for other in cast.places:
                    if other in near[place] and other not in order.column_of:
                        order.column_of[other] = order.column_of[place] + 1
                        beyond.append(other)
            edge = beyond
    for column in range(max(order.column_of.values(), default=0) + 1):
        inside = [p for p in cast.places if order.column_of[p] == column]
        order.columns.append(sorted(inside, key=lambda p: not near[p]))


def _sides(order: Order, cast: Cast, groups: list[tuple[list[int], set[int]]]) -> None:
    """Give each chain of harnesses its channel, and each fixed half the side that faces it."""
    wiring = cast.wiring
    waiting = []
    for members, halves in groups:
        spots = sorted({order.column_of[home(wiring, h)] for h in halves})
        if len(spots) < 2:
            if not spots:
                legs = (leg for h in members for leg in cast.legs[h])
                rests = (order.column_of.get(cast.rests[leg]) for leg in legs)
                spots = [c for c in rests if c is not None]
            waiting.append((members, halves, spots[0] if spots else 0))
            continue
        _settle(order, cast, members, halves, spots[0])
    twin = twins(cast)
    for members, halves, spot in waiting:
        known = {
            order.side_of.get(h) or _opposite(order.side_of.get(twin.get(h, NONE))) for h in halves
        }
        to_left = spot > 0 and LEFT in known and RIGHT not in known
        _settle(order, cast, members, halves, spot - 1 if to_left else spot)
    for half in cast.halves:
        if half not in order.side_of:
            order.side_of[half] = _opposite(order.side_of.get(twin.get(half, NONE))) or (
                RIGHT if order.column_of[home(wiring, half)] == 0 else LEFT
            )


def _settle(order: Order, cast: Cast, members: list[int], halves: set[int], channel: int) -> None:
    for harness in members:
        order.channel_of[harness] = channel
    for half in halves:
        column = order.column_of[home(cast.wiring, half)]
        order.side_of.setdefault(half, RIGHT if column <= channel else LEFT)


def _opposite(side: str | None) -> str | None:
    return {LEFT: RIGHT, RIGHT: LEFT}.get(side or "")


def twins(cast: Cast) -> dict[int, int]:
    """Return each half of a feed-through to the half on the panel's other face."""
    wiring = cast.wiring
    found = {}
    by_islands: dict[tuple[int, ...], int] = {}
    for half in cast.halves:
        # Straight through: all contacts but the shell stand on the same islands.
        islands = wiring.joints[half][:-1]
        if len(set(islands)) != len(islands) or not islands or STRUCTURE in islands:
            continue
        other = by_islands.setdefault(islands, half)
        if other != half and wiring.items[other].owner == wiring.items[half].owner:
            found[half], found[other] = other, half
    return found


def _lasting(cast: Cast, half: int) -> list[int]:
    """Return the mates of a half, the last first; dummies after all others."""
    mates = cast.mates.get(half, ())[::-1]
    return sorted(mates, key=lambda mate: cast.wiring.items[mate].role == "parking")


def _leg_side(order: Order, cast: Cast, harness: int, leg: int) -> None:
    """Put a leg on the side of its channel where it is mated at last."""
    wiring = cast.wiring
    half = wiring.half_of.get(leg, NONE)
    key = half if half != NONE else leg
    channel = order.channel_of[harness]
    if key in order.side_of:
        return
    if channel == len(order.columns) - 1:
        order.side_of[key] = LEFT  # nothing stands on its other side
        return
    seen = {half}
    reach = [half]
    while reach:
        here = reach.pop(0)
        for mate in _lasting(cast, here):
            if mate in order.column_of or mate in cast.halves:
                column = order.column_of[home(wiring, mate)]
                order.side_of[key] = LEFT if column <= channel else RIGHT
                for partner in cast.mates.get(half, ()):
                    if wiring.items[partner].role == "free":
                        order.side_of.setdefault(partner, order.side_of[key])
                return
            if mate not in seen:
                # An extension stands on the side of the half it lengthens.
                partner_leg = wiring.leg_of.get(mate, NONE)
                others = (
                    cast.legs.get(wiring.items[partner_leg].owner, ())
                    if partner_leg != NONE
                    else ()
                )
                seen.add(mate)
                reach += [
                    wiring.half_of[o] for o in others if o in wiring.half_of and o != partner_leg
                ]
    order.side_of[key] = RIGHT
