"""The book's film beside a layout for every step, and what one more step adds to the file.

The pictures are those of the large configuration: one layout dressed anew for each of 200 steps,
against 200 in-process layouts of the same graphs by Graphviz, one by one. Their DOT text is made
beforehand; only ``LAID`` of the 200 are laid out, evenly chosen (they differ in looks alone), and
the time is multiplied. The film's time has the setting out of its one layout in it. The replay,
which both need, counts for neither. A row more has the same graphs drawn where they already lie,
which is the least that a separate picture can cost: nothing is laid out there.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from cablewalk.book.book import book_html, told_of
from cablewalk.book.film import Film, film_of
from cablewalk.checks.run import check
from cablewalk.drawings.engine import draw, draw_pinned
from cablewalk.drawings.pictures import Album
from cablewalk.drawings.plate import PAGES
from cablewalk.files.nodes import gc_paused
from cablewalk.files.place import Source
from cablewalk.timeline.account import Account, account

from .generate import models
from .measure import Row, in_turn

HALVES = 3200
STEPS = 200
LAID = 20
SOURCES = (Source("base.yaml", "0" * 64), Source("work.yaml", "1" * 64))


def work(steps: int, halves: int = HALVES) -> Account:
    """Return the replay of the first steps of the large configuration's work."""
    baseline, procedure = models(halves)
    cut = procedure.model_copy(update={"steps": procedure.steps[:steps]})
    done = account(baseline, [cut])
    assert len(done.trace.phases[0].plan.steps) == steps and not done.trace.stopped
    return done


def filmed(done: Account) -> Film:
    """Return the film of a replay, from the layout to the last frame, as a book makes it."""
    with gc_paused():
        album = Album(done, PAGES["a4"])
        return film_of(album, album.steps[1:])


def unpinned(dot: str) -> str:
    """Return a picture's DOT text without the places of things: for Graphviz to find."""
    free = re.sub(r'\b(?:pos|bb)="[^"]*"', "", dot)
    assert free.count(" -> ") == dot.count(" -> ") > 0
    return free


def step_bytes(halves: int = HALVES, steps: int = STEPS) -> tuple[float, float]:
    """Return how many bytes a step adds to a film, and how many one picture has."""
    short, long = (filmed(work(n, halves)) for n in (steps // 2, steps))
    added = len(long.data.encode()) - len(short.data.encode())
    return added / (steps - steps // 2), len(long.svg.encode())


def book_rows(repeats: int) -> Iterator[Row]:
    """Yield the rows of the film, of the whole book, and of the size of a step."""
    done = work(STEPS)
    pictures = list(Album(done, PAGES["a4"]).pictures("steps"))
    assert len(pictures) == STEPS
    dots = [picture.dot for picture in pictures[:: STEPS // LAID]]
    free = [unpinned(dot) for dot in dots]
    told = told_of(check(done), SOURCES)

    def layouts() -> None:
        for dot in free:
            assert draw(dot, "svg").startswith(b"<?xml")

    def drawings() -> None:
        for dot in dots:
            assert draw_pinned(dot, "svg").startswith(b"<?xml")

    film, book, laid, drawn = in_turn(
        max(1, repeats // 3),
        lambda: filmed(done),
        lambda: book_html(told, SOURCES),
        layouts,
        drawings,
    )
    all_laid, all_drawn = (each * STEPS / LAID for each in (laid, drawn))
    many = f"({LAID} x {STEPS // LAID})"
    name = f"film of {STEPS} steps, {HALVES:,} halves"
    yield Row(name, film, f"{STEPS} in-process layouts {many}", all_laid, faster=20)
    yield Row(name, film, f"{STEPS} drawings of what is laid out {many}", all_drawn)
    yield Row(
        f"the whole book of {STEPS} steps, {HALVES:,} halves", book,
        f"{STEPS} in-process layouts {many}", all_laid,
    )  # fmt: skip
    added, picture = step_bytes()
    yield Row(
        f"bytes a step adds to the film, {HALVES:,} halves", added,
        "one picture of it as SVG", picture, at_most=0.01, unit="B",
    )  # fmt: skip


if __name__ == "__main__":
    from .__main__ import line

    for row in book_rows(3):
        print(line(row))
