"""Where everything of a cast lies on the plate: columns of places, cables in the channels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from cablewalk.drawings.block import box, place_block
from cablewalk.drawings.cast import Cast, home
from cablewalk.drawings.order import LEFT, RIGHT, Order
from cablewalk.drawings.pack import packed, stacked_height
from cablewalk.drawings.pairs import pair_keys
from cablewalk.drawings.plate import LINE_PT, Cell, Dress, Key, Stroke
from cablewalk.drawings.route import Point, straight, way
from cablewalk.drawings.sizes import GAP, ROW_GAP, Sizes, row_height
from cablewalk.replay.wiring import NONE

BRACKET_PT: Final = 9.0
"""How far the line between two free halves stands out."""
_WORDS: Final = ("half", "hub", "carry", "place")
"""Kinds of cells that no line may lie over on its way to another."""
MOST_STRETCH: Final = 3.5
"""How many times its least a gap may be: a small map stands together in the middle."""


@dataclass(slots=True)
class Room:
    """A rectangle of the plate. Points, y downwards."""

    left: float
    top: float
    right: float
    bottom: float


@dataclass(slots=True)
class Columns:
    """Sets out a cast; ``dresses`` are all pictures it must hold, for the widest text of each."""

    cast: Cast
    order: Order
    dresses: Sequence[Dress]
    terse: bool = False
    loose: float = 1.0
    sizes: Sizes = field(init=False)
    cells: dict[Key, Cell] = field(default_factory=dict)
    strokes: dict[Key, Stroke] = field(default_factory=dict)
    places: dict[Key, Cell] = field(default_factory=dict)
    """Fixed half to the frame of its place."""
    blocks: dict[int, tuple[float, list[Cell]]] = field(default_factory=dict)
    """Place to its height and its cells, set out from (0, 0)."""

    def __post_init__(self) -> None:
        self.sizes = Sizes(self.cast, self.order, self.dresses, self.terse, self.loose)
        for places in self.order.columns:
            for place in places:
                self.blocks[place] = place_block(self.sizes, place)

    @property
    def least_width(self) -> float:
        """How wide it must be at least."""
        return self.sizes.least_width

    @property
    def least_height(self) -> float:
        """How tall it must be at least."""
        heights = [self.column_height(n) for n in range(len(self.order.columns))]
        for channel in range(self.order.channels):
            for side in (LEFT, RIGHT):
                sizes = [
                    row_height(self.sizes.tall.get(("half", e), 1))
                    for e in self.sizes.legs(channel, side)
                ]
                heights.append(stacked_height(sizes, ROW_GAP))
            sizes = [self.sizes.hub_height(h) for h in self.sizes.harnesses(channel)]
            heights.append(stacked_height(sizes, GAP))
        return max(heights)

    def column_height(self, column: int) -> float:
        """Return how tall a column's places are, one above the other."""
        return stacked_height([self.blocks[p][0] for p in self.order.columns[column]], GAP)

    def set_out(self, room: Room, notch: Room | None = None) -> None:
        """Lay all cells and strokes into a room; ``notch`` is a corner of it to keep free."""
        spots = self._spots(room)
        for column, places in enumerate(self.order.columns):
            self._set_column(places, spots["column", column], room, notch)
        for channel in range(self.order.channels):
            self._set_channel(channel, spots, room, notch)
        self._draw_lines()

    def _spots(self, room: Room) -> dict[tuple[str, int], float]:
        """Return where each part begins; what room there is to spare widens the gaps."""
        gaps = self.sizes.gaps()
        least = self.sizes.least_width
        spare = max(0.0, room.right - room.left - least)
        share = min(MOST_STRETCH, 1 + spare / sum(gaps)) if gaps else 1.0
        rest = spare - (share - 1) * sum(gaps)
        x = room.left + max(0.0, rest) / 2
        spots = {}
        for (kind, number, width), gap in zip(self.sizes.parts(), [*gaps, 0.0], strict=True):
            spots[kind, number] = x
            x += width + gap * share
        return spots

    def notch(self, room: Room, width: float, height: float) -> Room | None:
        """Return the corner above the last column, where it is free and at least so large."""
        last = len(self.order.columns) - 1
        if last < 1 or self.sizes.harnesses(last):
            return None
        spots = self._spots(room)
        left = spots.get((RIGHT, last - 1), spots["column", last])
        sizes = [
            row_height(self.sizes.tall.get(("half", e), 1))
            for e in self.sizes.legs(last - 1, RIGHT)
        ]
        needed = max(self.column_height(last), stacked_height(sizes, ROW_GAP))
        corner = Room(left, room.top, room.right, room.bottom - needed - 2 * GAP)
        large = corner.right - left >= width and corner.bottom - corner.top >= height
        return corner if large else None

    def _set_column(self, places: list[int], x: float, room: Room, notch: Room | None) -> None:
        top = room.top
        if notch is not None and x + 1 > notch.left:
            top = notch.bottom
        sizes = [self.blocks[p][0] for p in places]
        spare = room.bottom - top - stacked_height(sizes, GAP)
        share = min(16.0, max(0.0, spare) / max(1, len(places)))
        y = top if top > room.top else room.top + max(0, spare - share * (len(places) - 1)) / 2
        if top > room.top:
            y = room.bottom - stacked_height(sizes, GAP)
            share = 0
        for place, height in zip(places, sizes, strict=True):
            for cell in self.blocks[place][1]:
                cell.x, cell.y = cell.x + x, cell.y + y
                self.cells[cell.key] = cell
            y += height + GAP + share

    def _set_channel(
        self, channel: int, spots: dict[tuple[str, int], float], room: Room, notch: Room | None
    ) -> None:
        for side in (LEFT, RIGHT):
            legs = self.sizes.legs(channel, side)
            if not legs:
                continue
            x, width = spots[side, channel], self.sizes.leg_width(channel, side)
            top = notch.bottom if notch is not None and x + width > notch.left else room.top
            wants = {end: self._want(end) for end in legs}
            legs.sort(key=lambda e: wants[e])
            heights = [row_height(self.sizes.tall.get(("half", e), 1)) for e in legs]
            ys = packed([wants[e][0] for e in legs], heights, ROW_GAP, top, room.bottom)
            for end, y, height in zip(legs, ys, heights, strict=True):
                rows = self.sizes.tall.get(("half", end), 1)
                cell = Cell(("half", end), "pill", x + width / 2, y, width, height, rows)
                self.cells[cell.key] = cell
        hubs = self.sizes.harnesses(channel)
        if not hubs:
            return
        heights_of = {h: self.sizes.hub_height(h) for h in hubs}
        middle = {h: self._middle(h) for h in hubs}
        hubs.sort(key=lambda h: middle[h])
        ys = packed(
            [middle[h] for h in hubs], [heights_of[h] for h in hubs], GAP, room.top, room.bottom
        )
        for harness, y in zip(hubs, ys, strict=True):
            self._set_hub(harness, spots["hub", channel], y - heights_of[harness] / 2)

    def _set_hub(self, harness: int, x: float, top: float) -> None:
        width = self.sizes.hub_width(self.order.channel_of[harness])
        self.cells["hub", harness] = Cell(
            ("hub", harness),
            "tag",
            x + width / 2,
            top + row_height(1) / 2,
            width,
            row_height(1),
            bold=True,
        )
        rows = self.sizes.carry_rows(harness)
        y = top + row_height(1) + 1
        self.cells["carry", harness] = Cell(
            ("carry", harness),
            "plain",
            x + width / 2,
            y + (rows * LINE_PT + 0.4) / 2,
            width,
            rows * LINE_PT + 0.4,
            rows,
        )
        y += rows * LINE_PT + 1
        if self.terse:
            for key in self.sizes.beneath(harness):
                cell = box(key, "pill", x, y, width, self.sizes.tall[key])
                self.cells[key] = cell
                y += cell.h + 0.6

    def _fixed_mates(self, end: int) -> list[Cell]:
        """Return the cells of the fixed halves a free half is ever mated with."""
        keys: list[Key] = [("half", m) for m in self.cast.mates.get(end, ())]
        fixed = (k for k in keys if self.cast.wiring.items[int(k[1])].role != "free")
        return [self.cells[k] for k in fixed if k in self.cells]

    def _want(self, end: int) -> tuple[float, int, int]:
        """Return where a leg would like to lie: (y, whom it stands by, its number)."""
        mates = self._fixed_mates(end)
        anchor = end
        if not mates:
            # An extension lies beside the half it is mated with: look two cables far.
            partners = self.cast.mates.get(end, ())
            for partner in partners:
                mates += self._fixed_mates(partner)
                mates += [c for e in self._siblings(partner) for c in self._fixed_mates(e)]
            anchor = min([end, *partners])
        if not mates:
            mates = [c for e in self._siblings(end) for c in self._fixed_mates(e)]
        if not mates:
            leg = self.cast.wiring.leg_of.get(end, end)
            key: Key = ("place", self.cast.rests.get(leg, NONE))
            mates = [self.cells[key]] if key in self.cells else []
        return (mates[0].y if mates else 0.0), anchor, end

    def _siblings(self, end: int) -> list[int]:
        wiring = self.cast.wiring
        harness = wiring.items[wiring.leg_of.get(end, end)].owner
        if harness not in self.cast.legs:
            return []
        own = self.sizes.ends(harness)
        return [e for e in own if self.order.side_of.get(e) == self.order.side_of.get(end)] or own

    def _middle(self, harness: int) -> float:
        ends = self.sizes.ends(harness)
        keys: list[Key] = [("half", e) for e in ends]
        cells = [self.cells[k] for k in keys if k in self.cells]
        if self.terse:
            cells = [c for e in ends for c in self._fixed_mates(e)]
        return sum(c.y for c in cells) / len(cells) if cells else 0.0

    def _draw_lines(self) -> None:
        wiring = self.cast.wiring
        for half in self.cast.halves:
            self.places["half", half] = self.cells["place", home(wiring, half)]
        for harness in self.cast.harnesses:
            for leg in self.cast.legs[harness]:
                end = wiring.half_of.get(leg, leg)
                if not self.terse and ("half", end) in self.cells:
                    self._line(("leg", leg), ("hub", harness), ("half", end))
        for key, half, mate in pair_keys(self.cast):
            tail: Key = ("half", half)
            if self.terse and wiring.items[mate].role == "free":
                continue  # told in words beneath the cables' tags
            if self.terse:
                tail = ("hub", wiring.items[wiring.leg_of[half]].owner)
            if tail in self.cells and ("half", mate) in self.cells:
                self._line(key, tail, ("half", mate))

    def _line(self, key: Key, tail: Key, head: Key) -> None:
        a, b = self.cells[tail], self.cells[head]
        if a.right_x <= b.left_x:
            points = self._way((a.right_x, a.y), (b.left_x, b.y), head)
        elif b.right_x <= a.left_x:
            points = self._way((a.left_x, a.y), (b.right_x, b.y), head)
        else:
            # Two free halves one above the other: around, on the side away from their cables.
            away = -1 if self.order.side_of.get(int(tail[1])) == LEFT else 1
            x = max(a.right_x, b.right_x) if away > 0 else min(a.left_x, b.left_x)
            out = x + away * BRACKET_PT
            points = ((x, a.y), (out, a.y), (out, b.y), (x, b.y))
        self.strokes[key] = Stroke(key, tail, head, points)

    def _way(self, start: Point, end: Point, head: Key) -> tuple[Point, ...]:
        """Return a line's way over no label; it enters the place of a fixed half level."""
        place = self.places.get(head)
        words = [cell for key, cell in self.cells.items() if key[0] in _WORDS]
        if place is None:
            return way(start, end, words)
        border = place.left_x if start[0] < end[0] else place.right_x
        return way(start, (border, end[1]), words) + straight((border, end[1]), end)[1:]
