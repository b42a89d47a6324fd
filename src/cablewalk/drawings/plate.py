"""A plate: everything of a picture that stays where it is from step to step."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final, NamedTuple

FONT_PT: Final = 7.0
"""Size of the labels, and the least that is legible on paper (common practice, no source)."""
LINE_PT: Final = 9.0
"""From one line of a label to the next: 1.2 ems rounded up, as Graphviz 14 was seen to do."""

MOST_KEPT: Final = 20_000
"""Made pieces kept for the pictures to come, a kind of file; then all are made anew."""

Key = tuple[str | int, ...]
"""What a cell or stroke stands for: ``("half", 12)``, ``("pair", 12, 40)``."""


class Page(NamedTuple):
    """A sheet of paper, landscape. Points."""

    name: str
    width_pt: float
    height_pt: float


# ISO 216 A4 is 297 x 210 mm; ANSI/ASME Y14.1 size A (US Letter) is 11 x 8.5 in.
PAGES: Final = {
    "a4": Page("A4", 297 / 25.4 * 72, 210 / 25.4 * 72),
    "letter": Page("Letter", 11 * 72, 8.5 * 72),
}
MARGIN_PT: Final = 16.0


@dataclass(slots=True)
class Cell:
    """A box or a text. Centre and size in points, y downwards from the top edge."""

    key: Key
    shape: str
    x: float = 0
    y: float = 0
    w: float = 0
    h: float = 0
    rows: int = 1
    size_pt: float = FONT_PT
    bold: bool = False
    left: bool = False
    """Text set flush left."""

    @property
    def left_x(self) -> float:
        """Its left edge."""
        return self.x - self.w / 2

    @property
    def right_x(self) -> float:
        """Its right edge."""
        return self.x + self.w / 2

    @property
    def top(self) -> float:
        """Its upper edge."""
        return self.y - self.h / 2

    @property
    def bottom(self) -> float:
        """Its lower edge."""
        return self.y + self.h / 2


@dataclass(slots=True)
class Stroke:
    """A line between two cells: a Bézier curve of 3n+1 points."""

    key: Key
    tail: Key
    head: Key
    points: tuple[tuple[float, float], ...]


@dataclass(slots=True)
class Plate:
    """All cells and strokes. The page shrinks a canvas that is larger, and enlarges a smaller."""

    page: Page
    width: float
    height: float
    cells: dict[Key, Cell] = field(default_factory=dict)
    strokes: dict[Key, Stroke] = field(default_factory=dict)
    side_rows: int = 0
    """How many lines of words fit beside the map."""
    side_widths: dict[int, float] = field(default_factory=dict)
    """Indent of such a line to the width of its cell."""

    def add(self, cell: Cell) -> Cell:
        """Put a cell on the plate, over those before it."""
        self.cells[cell.key] = cell
        return cell

    @property
    def scale(self) -> float:
        """By how much the page enlarges (over 1) or shrinks the canvas."""
        return min(self.page.width_pt / self.width, self.page.height_pt / self.height)

    @property
    def label_pt(self) -> float:
        """How large the smallest label is on paper, in points."""
        return self.scale * min((c.size_pt for c in self.cells.values()), default=FONT_PT)


class Wear(NamedTuple):
    """How a cell or stroke shows in one picture: its looks, its lines of text, what it tells."""

    looks: tuple[str, ...]
    lines: tuple[str, ...] = ()
    tells: str = ""


Dress = dict[Key, Wear]
"""What is shown in one picture; a key that is not there is hidden."""


class Turn(NamedTuple):
    """What turns one dress into another: what is worn anew, and what is taken off."""

    new: Dress
    gone: tuple[Key, ...]


Since = tuple[Dress, Turn]
"""A dress, and the turn from there to another."""


def turn_between(before: Dress, after: Dress) -> Turn:
    """Return the turn between two dresses; the very same object is nothing new."""
    new = {key: wear for key, wear in after.items() if before.get(key) is not wear}
    return Turn(new, tuple(before.keys() - after.keys()))


def turned(before: Dress, turn: Turn) -> Dress:
    """Return the dress after a turn."""
    after = before | turn.new
    for key in turn.gone:
        after.pop(key, None)
    return after


def bow(x0: float, y0: float, x1: float, y1: float) -> tuple[tuple[float, float], ...]:
    """Return a curve between two points that leaves and arrives level."""
    reach = (x1 - x0) / 2
    return ((x0, y0), (x0 + reach, y0), (x1 - reach, y1), (x1, y1))
