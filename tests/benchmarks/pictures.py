"""What the pictures after the first cost, beside one layout of the same graph in this process.

The demo's steps on A4. A step's SVG is its dress, its words, its legend and its text: all that
is done for it and for no other. The comparison for PNG and PDF lays the very same nodes, edges
and labels out and draws them to the same format on the same page (``ratio=fill``: as many pixels);
its DOT text is not counted, ours is. Every repeat draws steps that were never drawn before.
"""

from __future__ import annotations

import gc
import time
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from statistics import median
from typing import Final

from cablewalk.drawings.engine import Format, draw, layout
from cablewalk.drawings.pictures import Album
from cablewalk.drawings.plate import PAGES
from cablewalk.drawings.redress import step_dresses
from cablewalk.files.load import load_baseline, load_procedure
from cablewalk.timeline.account import Account, account

from .measure import ROOT, Row, in_turn

CONFIGS: Final = ROOT / "configs"
SOME: Final = 8
"""Steps, one after another, drawn as PNG and PDF a repeat."""


def demo() -> Account:
    """Return the demo's replay."""
    base = load_baseline(CONFIGS / "outpost.yaml").model
    loaded = [load_procedure(CONFIGS / f"outing-{n}.yaml", n).model for n in (1, 2, 3)]
    if base is None or None in loaded:
        raise RuntimeError("the demo's documents cannot be read")
    return account(base, [p for p in loaded if p is not None])


def opened(told: Account, fmt: Format) -> Album:
    """Return an album whose first picture is drawn, and no other."""
    album = Album(told, PAGES["a4"])
    album.before().drawn(fmt)
    return album


def picture_rows(repeats: int) -> Iterator[Row]:
    """Yield the rows of SVG, PNG and PDF; every repeat draws an album of its own."""
    told = demo()
    album = Album(told, PAGES["a4"])
    numbers = [n for n, moment in enumerate(album.every) if moment.step is not None]
    dot = album.step(numbers[len(numbers) // 2]).dot

    def dressed() -> None:
        step_dresses(album.wardrobe, album.every)

    (dress,) = in_turn(repeats, dressed)
    fill, compared = _beside(repeats, told, "svg", numbers, lambda: layout(dot))
    each = dress / len(album.every) + fill
    words = "one layout of the same graph"
    yield Row("a step's SVG after the first, demo", each, words, compared, faster=50)
    some = numbers[len(numbers) // 3 :][:SOME]
    page = dot.replace("graph [", "graph [ratio=fill ", 1)
    rest: tuple[Format, ...] = ("png", "pdf")
    for fmt in rest:
        each, compared = _beside(repeats, told, fmt, some, partial(draw, page, fmt))
        words = f"its layout, and drawing to {fmt.upper()}"
        work = f"a step's {fmt.upper()} after the first, demo"
        yield Row(work, each, words, compared, at_most=0.7)


def _beside(
    repeats: int,
    told: Account,
    fmt: Format,
    numbers: Sequence[int],
    comparison: Callable[[], object],
) -> tuple[float, float]:
    """Return the median seconds of a step's picture, and of the comparison, taken in turn.

    Each repeat has a new album, whose first picture is drawn before the time is taken.
    """
    steps, compared = [], []
    comparison()
    for _ in range(repeats):
        album = opened(told, fmt)
        gc.collect()
        begin = time.process_time()
        for number in numbers:
            album.step(number).drawn(fmt)
        between = time.process_time()
        comparison()
        compared.append(time.process_time() - between)
        steps.append((between - begin) / len(numbers))
    return median(steps), median(compared)
