"""How large each thing of a map must be: the widest text it ever shows decides."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

from cablewalk.drawings.cast import Cast, home
from cablewalk.drawings.metrics import width_pt, wrapped
from cablewalk.drawings.order import LEFT, RIGHT, Order
from cablewalk.drawings.plate import FONT_PT, LINE_PT, Dress, Key

HEAD_PT: Final = 8.0
"""Size of a place's name."""
PAD: Final = 3.5
ROW_GAP: Final = 1.4
GAP: Final = 4.0
LEAST_GAP_X: Final = 5.0
"""Between two things side by side, for the lines between them."""
FAN_GAP_X: Final = 9.2
"""Between legs and the tags of their cables."""
TERSE_GAP_X: Final = 6.5
CHIP_LIMIT_PT: Final = 92.0
HEADING_LIMIT_PT: Final = 84.0
HUB_LIMIT_PT: Final = 71.0
"""Of a cable's tag where the legs stand beneath it, on a full page."""
TERSE_LIMIT_PT: Final = 54.0
LOOSE: Final = (2.2, 1.7, 1.4, 1.25, 1.2, 1.15, 1.1, 1.05, 1.0)
"""By how much the two limits of a terse map may grow where the page has room, widest first."""


MOST_LOAD_ROWS: Final = 5
"""Lines beneath a cable's tag that tell what it carries."""


NAMES: Final = ("place-name", "panel-name")
MOST_NAME_ROWS: Final = 4
"""Lines for the name of a place or panel; more is no name."""
HINTED: Final = 1.02
"""By how much a word may be wider in a PNG, where letters stand on whole pixels (measured)."""


def row_height(rows: int) -> float:
    """Return the height of a cell of so many lines."""
    return rows * LINE_PT + 1.4


@dataclass(slots=True)
class Sizes:
    """Sizes in points. ``dresses`` are all pictures of the map; ``terse`` as in the wardrobe."""

    cast: Cast
    order: Order
    dresses: Sequence[Dress]
    terse: bool = False
    loose: float = 1.0
    """By how much the limits of a terse map are wider."""
    wide: dict[Key, float] = field(default_factory=dict)
    """Key to the width of the widest line it ever shows."""
    tall: dict[Key, int] = field(default_factory=dict)
    """Key to the lines it needs. A mated leg that is only ever laid needs none to say so."""
    loads: dict[int, set[str]] = field(default_factory=dict)
    """Harness to all that is ever said of what it carries."""
    names: dict[Key, set[str]] = field(default_factory=dict)
    """Key of the name of a place or panel to all it ever says."""

    def __post_init__(self) -> None:
        for dress in self.dresses:
            for key, wear in dress.items():
                bold = key[0] in ("hub", "place-name")
                size = HEAD_PT if key[0] == "place-name" else FONT_PT
                widths = (width_pt(line, size, bold) for line in wear.lines)
                self.wide[key] = max(self.wide.get(key, 0.0), *widths, 0.0)
                if key[0] in NAMES:
                    self.names.setdefault(key, set()).update(wear.lines)
                if key[0] == "carry":
                    self.loads.setdefault(int(key[1]), set()).update(wear.lines)
                quiet = (" ", "LAID") if "mated" in wear.looks else (" ",)
                lines = [n for n, line in enumerate(wear.lines) if n == 0 or line not in quiet]
                self.tall[key] = max(self.tall.get(key, 1), max(lines, default=0) + 1)

    def widest(self, keys: Iterable[Key], least: float = 0) -> float:
        """Return the widest text of some keys, ``least`` where they show none."""
        return max((self.wide.get(key, 0) for key in keys), default=0.0) or least

    @property
    def half_width(self) -> float:
        """The width of every fixed half."""
        return self.widest([("half", h) for h in self.cast.halves], 20) + 3

    def sides(self, column: int) -> list[str]:
        """Return the sides of a column that bear halves, left first; one at least."""
        halves = [
            h for h in self.cast.halves if self.order.column_of[home(self.cast.wiring, h)] == column
        ]
        used = {self.order.side_of[h] for h in halves}
        return [s for s in (LEFT, RIGHT) if s in used] or [RIGHT]

    def column_width(self, column: int) -> float:
        """Return the width of a column's places."""
        wiring = self.cast.wiring
        names = [
            ("panel-name", wiring.items[h].owner)
            for h in self.cast.halves
            if self.order.column_of[home(wiring, h)] == column
        ]
        names += [("place-name", place) for place in self.order.columns[column]]
        limit = TERSE_LIMIT_PT * self.loose if self.terse else HEADING_LIMIT_PT
        heading = min(self.widest(names) + 4, limit)
        halves = len(self.sides(column)) * (self.half_width + GAP) - GAP
        chips = [
            ("chip", place, item)
            for place in self.order.columns[column]
            for item in self.cast.chips.get(place, ())
        ]
        tags = min(self.widest(chips) + 5, CHIP_LIMIT_PT) - 2 * PAD
        return max(halves, heading, tags) + 4 * PAD

    def legs(self, channel: int, side: str) -> list[int]:
        """Return the free halves (or hard-wired legs) on one side of a channel."""
        if self.terse:
            return []
        return [
            end
            for harness in self.harnesses(channel)
            for end in self.ends(harness)
            if self.order.side_of[end] == side
        ]

    def ends(self, harness: int) -> list[int]:
        """Return the free half of each leg; for a hard-wired leg the leg."""
        wiring = self.cast.wiring
        return [wiring.half_of.get(leg, leg) for leg in self.cast.legs[harness]]

    def harnesses(self, channel: int) -> list[int]:
        """Return the harnesses of a channel."""
        return [h for h in self.cast.harnesses if self.order.channel_of[h] == channel]

    def leg_width(self, channel: int, side: str) -> float:
        """Return the width of the legs on one side of a channel; 0 where there are none."""
        legs = self.legs(channel, side)
        return self.widest([("half", e) for e in legs]) + 5 if legs else 0.0

    def hub_width(self, channel: int) -> float:
        """Return the width of the cables' tags in a channel."""
        hubs = self.harnesses(channel)
        if not hubs:
            return 0.0
        width = self.widest([("hub", h) for h in hubs]) + 5
        if self.terse:
            legs = [("half", e) for h in hubs for e in self.ends(h)]
            loads = self.widest([("carry", h) for h in hubs]) * 0.5 + 8
            return min(max(width, self.widest(legs) + 4, loads), HUB_LIMIT_PT * self.loose)
        return max(width, 44.0)

    def parts(self) -> list[tuple[str, int, float]]:
        """Return (kind, number, width) of all that stands side by side, from the left."""
        found: list[tuple[str, int, float]] = []
        for column in range(len(self.order.columns)):
            found.append(("column", column, self.column_width(column)))
            if column < self.order.channels:
                found += [
                    (LEFT, column, self.leg_width(column, LEFT)),
                    ("hub", column, self.hub_width(column)),
                    (RIGHT, column, self.leg_width(column, RIGHT)),
                ]
        return [part for part in found if part[2] > 0]

    def gaps(self) -> list[float]:
        """Return the least gap after each part but the last; the lines of a fan need more room."""
        kinds = [kind for kind, _, _ in self.parts()]
        fan = TERSE_GAP_X if self.terse else FAN_GAP_X
        return [fan if "hub" in pair else LEAST_GAP_X for pair in pairwise(kinds)]

    @property
    def least_width(self) -> float:
        """How wide it must be at least."""
        parts = self.parts()
        return sum(width for _, _, width in parts) + sum(self.gaps())

    def hub_height(self, harness: int) -> float:
        """Return how tall a cable's tag is, with what stands beneath it."""
        height = row_height(1) + self.carry_rows(harness) * LINE_PT + 1
        if self.terse:
            rows = [self.tall[k] for k in self.beneath(harness)]
            height += sum(row_height(n) + 0.6 for n in rows)
        return height

    def beneath(self, harness: int) -> list[Key]:
        """Return the keys of the free halves that stand beneath a cable's tag."""
        keys: list[Key] = [("half", e) for e in self.ends(harness)]
        return [k for k in keys if k in self.tall]

    def name_rows(self, key: Key, width: float) -> int:
        """Return how many lines a place's or panel's name needs in a cell of a width."""
        bold = key[0] == "place-name"
        size = HEAD_PT if bold else FONT_PT
        room = (width - 0.5) / HINTED
        rows = [len(wrapped(text, room, size, bold)) for text in self.names.get(key, ())]
        return min(max(rows, default=1), MOST_NAME_ROWS)

    def carry_rows(self, harness: int) -> int:
        """Return how many lines tell what a cable carries."""
        room = self.hub_width(self.order.channel_of[harness]) - 2.5  # as it is cut on the plate
        rows = [len(wrapped(text, room, FONT_PT)) for text in self.loads.get(harness, ())]
        return min(max(rows, default=1), MOST_LOAD_ROWS)
