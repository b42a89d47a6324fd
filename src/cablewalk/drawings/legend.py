"""The legend of a picture: a sample of every mark that stands on it, and of no other."""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence
from functools import cache, lru_cache
from typing import Final, Literal, NamedTuple

from cablewalk.drawings.look import LOOKS
from cablewalk.drawings.metrics import width_pt
from cablewalk.drawings.plate import FONT_PT, MARGIN_PT, Cell, Dress, Plate, Stroke, Wear
from cablewalk.drawings.sizes import row_height

Shape = Literal["box", "pill", "tag", "ring", "line"]
SHAPES: Final[tuple[Shape, ...]] = ("box", "pill", "tag", "ring", "line")

ROW_PT: Final = 12.0
COLUMN_PT: Final = 126.0
"""Least width of a column: a sample and its words."""
SAMPLE_PT: Final = 44.0
LINE_PT: Final = 36.0
RING_PT: Final = 2.2
"""By how much the ring around what changed stands out on each side."""


class Entry(NamedTuple):
    """One mark and what it means. ``looks`` as in a dress."""

    name: str
    shape: Shape
    looks: tuple[str, ...]
    sample: str
    words: str


def _of(shape: Shape, *names: str) -> list[Entry]:
    return [Entry(n, shape, (n,), LOOKS[n].mark, LOOKS[n].meaning) for n in names]


def _leg(name: str) -> Entry:
    return Entry(name, "line", (name,), "", f"{LOOKS[name].mark} {LOOKS[name].meaning}")


_CABLES: Final = ("cable", "cable-old", "cable-moved", "cable-back", "cable-next", "cable-new")
_LEGS: Final = (
    "packed", "in-hand", "loose", "restrained", "stowed", "pulled-aside", "hard-wired",
)  # fmt: skip
_EVERY: Final = (
    *_of("box", "mated", "comes-off", "goes-on", "back", "unverified", "part-engaged"),
    *_of("box", "parked", "park-comes-off", "park-back"),
    *_of("box", "capped", "cap-comes-off", "cap-goes-on", "cap-back", "bare"),
    *(
        Entry(n, "tag", (n,), f"CABLE {LOOKS[n].mark}".strip(), LOOKS[n].meaning)
        for n in _CABLES
    ),
    Entry("ghost", "tag", ("cable", "ghost"), "CABLE", "packed in a bag"),
    Entry("halo", "ring", ("mated",), "MATED", "a ring: changed now"),
    *_of("pill", "on", "off", "blocked", "tripped", "unknown"),
    *_of("pill", "fastened", "part-fastened", "released", "open", "removed"),
    Entry("bag", "box", ("bag",), "BAG x2", "bag, 2 cables in it"),
    Entry("person", "pill", ("person",), "EV name", "worker outside"),
    Entry("vehicle", "pill", ("vehicle",), "VEH name", "arm or vehicle"),
    Entry("loose-cap", "pill", ("loose-cap",), "CAP HELD", "cap, off its half"),
    *_of("box", "panel-absent", "panel-removed"),
    Entry("rest", "box", ("rest",), "+ 3", "halves folded, far off"),
    Entry("routed", "line", ("routed",), "", "LAID, or mated"),
    *map(_leg, _LEGS),
    Entry("line-comes-off", "line", ("line", "line-off"), "", "a pair that comes off"),
    Entry("line-old", "line", ("line", "line-old"), "", "of a cable taken off"),
    Entry("line-new", "line", ("line", "line-new"), "", "of a cable put on"),
    Entry("line-weak", "line", ("line-weak",), "", "worked on, or lock?"),
)  # fmt: skip

_SO_FAR: Final = {
    "cable": "as at the start",
    "cable-old": "off by now, or partly",
    "cable-new": "on by now, or partly",
    "cable-moved": "moved by now",
    "cable-back": "off by now, goes back",
}
_TENSES: Final = {
    "step": _SO_FAR,
    "before": {"cable-old": "will be taken off", "cable-moved": "will be moved"},
    "after": {
        "cable-old": "was taken off",
        "cable-new": "was put on",
        "cable-moved": "was moved",
        "cable-back": "was off, is back",
    },
}


def entries(dresses: Iterable[Dress], kind: str) -> list[Entry]:
    """Return the entries for all that some dresses show, in a fixed order.

    ``kind``: ``before``, ``after``, ``step`` or ``both``; it decides the tense of the words.
    """
    worn = {(key[0], wear.looks) for dress in dresses for key, wear in dress.items()}
    return entries_of({mark for cell, looks in worn for mark in marks_of(cell, looks)}, kind)


def entries_of(marks: Container[str], kind: str) -> list[Entry]:
    """Return the entries of some names; the rest as in :func:`entries`."""
    return [entry for entry in _in_tense(kind) if entry.name in marks]


@cache
def _in_tense(kind: str) -> tuple[Entry, ...]:
    tense = _TENSES.get(kind, {})
    return tuple(entry._replace(words=tense.get(entry.name, entry.words)) for entry in _EVERY)


@cache
def marks_of(kind: str | int, looks: tuple[str, ...]) -> tuple[str, ...]:
    """Return the names of the entries that explain a cell or stroke of a kind."""
    if kind == "halo":
        return ("halo",)
    if kind in ("half", "hub"):
        return ("ghost",) if "ghost" in looks else looks[:1]
    if kind in ("panel", "chip", "fold"):
        return looks[:1]
    if kind == "leg":
        return _line(looks, looks[0])
    return _line(looks, "routed") if kind == "pair" else ()


def _line(looks: Sequence[str], plain: str) -> tuple[str, ...]:
    if "line-off" in looks:
        return ("line-comes-off",)
    over = [look for look in looks if look in ("line-old", "line-new", "line-weak")]
    return tuple(over) or (plain,)


def columns_of(width: float) -> int:
    """Return how many columns a legend has on a plate of a width."""
    return max(2, int((width - 2 * MARGIN_PT) // COLUMN_PT))


def height_of(count: int, width: float) -> float:
    """Return how much room a legend of so many entries takes at the foot of a plate."""
    return -(-count // columns_of(width)) * ROW_PT + 2


def set_legend(plate: Plate, count: int) -> None:
    """Put room for ``count`` entries at the foot: each spot can show every shape."""
    across = columns_of(plate.width)
    each = (plate.width - 2 * MARGIN_PT) / across
    top = plate.height - MARGIN_PT - height_of(count, plate.width) + 4
    height = row_height(1) - 0.8
    for n in range(count):
        x, y = MARGIN_PT + n % across * each, top + (n // across + 0.5) * ROW_PT
        middle = x + SAMPLE_PT / 2
        size = SAMPLE_PT - 2 * RING_PT, height
        plate.add(Cell(("key", "around", n), "pill", middle, y, SAMPLE_PT, height + RING_PT))
        plate.add(Cell(("key", "ring", n), "box", middle, y, *size))
        plate.add(Cell(("key", "box", n), "box", middle, y, SAMPLE_PT, height))
        plate.add(Cell(("key", "pill", n), "pill", middle, y, SAMPLE_PT, height))
        plate.add(Cell(("key", "tag", n), "tag", middle, y, SAMPLE_PT, height, bold=True))
        left = middle - LINE_PT / 2
        ends = [Cell(("key-end", n, k), "plain", left + k * LINE_PT, y, 9, 10) for k in (0, 1)]
        for end in ends:
            plate.add(end)
        points = tuple((left + LINE_PT * k / 3, y) for k in range(4))
        plate.strokes["key", n] = Stroke(("key", n), ends[0].key, ends[1].key, points)
        width = each - SAMPLE_PT - 5
        plate.add(
            Cell(("key-words", n), "plain", x + SAMPLE_PT + 3 + width / 2, y, width, 10, left=True)
        )


def legend_dress(found: Sequence[Entry]) -> Dress:
    """Return a legend as it stands on a picture; a sample too wide for its room is cut later."""
    dress: Dress = {}
    for n, entry in enumerate(found):
        dress |= _entry_dress(n, entry)
    return dress


@lru_cache(maxsize=2048)
def _entry_dress(n: int, entry: Entry) -> Dress:
    dress: Dress = {("key-words", n): Wear(("soft",), (entry.words,))}
    if entry.shape == "line":
        dress["key-end", n, 0] = dress["key-end", n, 1] = Wear(("words",), (" ",))
        dress["key", n] = Wear(entry.looks)
        return dress
    if entry.shape == "ring":
        dress["key", "around", n] = Wear(("halo",), (" ",))
    dress["key", entry.shape, n] = Wear(entry.looks, (entry.sample or " ",))
    return dress


def too_wide(found: Iterable[Entry]) -> list[str]:
    """Return the samples and words that would not fit into their room."""
    room = COLUMN_PT - SAMPLE_PT - 6
    wide = [e.words for e in found if width_pt(e.words, FONT_PT) > room]
    bold = [e.sample for e in _EVERY if width_pt(e.sample, FONT_PT, e.shape == "tag") > SAMPLE_PT]
    return wide + bold
