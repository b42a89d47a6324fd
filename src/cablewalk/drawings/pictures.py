"""Which pictures a replay gives, each laid out once and dressed for its moment."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import product
from typing import Final, Literal

from cablewalk.drawings.captions import Captions, Told
from cablewalk.drawings.cast import Cast, cast_of
from cablewalk.drawings.columns import Columns
from cablewalk.drawings.dress import Kind, Wardrobe
from cablewalk.drawings.engine import Format
from cablewalk.drawings.fitting import Fitting
from cablewalk.drawings.legend import Entry, entries, entries_of, legend_dress
from cablewalk.drawings.moments import Moment, ending, moments
from cablewalk.drawings.order import order_of
from cablewalk.drawings.plate import Dress, Page, Plate, Since, Turn, Wear
from cablewalk.drawings.redress import novelties, step_dresses
from cablewalk.drawings.sheet import (
    ZOOMS,
    cut_short,
    fitted,
    named,
    pair_of,
    sheet_of,
    side_dress,
    title_dress,
)
from cablewalk.drawings.sizes import LOOSE
from cablewalk.drawings.studio import Studio
from cablewalk.drawings.svg import Template
from cablewalk.timeline.account import Account

What = Literal["before", "after", "both", "steps", "all"]
LEAST_PT: Final = 7.0
"""Below this a label is hard to read on paper (common practice, no source)."""


@dataclass(slots=True)
class Picture:
    """One picture: a plate and its dress. ``name`` is a file's name without its ending."""

    name: str
    title: str
    studio: Studio
    """What pictures of one plate share."""
    dress: Dress
    since: Since | None = None
    """How the dress came about from the picture before, where that is known."""

    @property
    def plate(self) -> Plate:
        """Where everything lies."""
        return self.studio.plate

    @property
    def dot(self) -> str:
        """The DOT text, everything pinned."""
        return self.studio.dot(self.dress)

    def drawn(self, fmt: Format, dpi: int = 150) -> bytes:
        """Return the picture's file. Warns and raises as the engine's ``draw`` does."""
        return self.studio.drawn(self.dress, self.title, fmt, dpi, self.since)


@dataclass(slots=True)
class Album:
    """All pictures of one replay: one layout for before, after and every step."""

    account: Account
    page: Page
    every: list[Moment] = field(default_factory=list)
    last: Moment = field(init=False)
    cast: Cast = field(init=False)
    plate: Plate = field(init=False)
    wardrobe: Wardrobe = field(init=False)
    steps: list[Dress] = field(default_factory=list)
    turns: list[Turn] = field(default_factory=list)
    """From the dress of each step to the next, beginning with nothing worn."""
    captions: Captions = field(init=False)
    studio: Studio = field(init=False)
    fitting: Fitting = field(init=False)
    legend: tuple[list[Entry], Dress] = field(default_factory=lambda: ([], {}))
    """The legend of the picture last made."""
    marks: int = field(init=False)
    """Entries that the longest legend has."""

    def __post_init__(self) -> None:
        self.every = moments(self.account)
        self.last = ending(self.account.trace, self.every[-1])
        self.cast = cast_of(self.account, [*self.every, self.last])
        self.captions = Captions(self.account, self.cast, self.every, self.last)
        self.wardrobe = Wardrobe(self.cast, self.every[0], self.last)
        self.steps, self.turns = step_dresses(self.wardrobe, self.every)
        ends = [self._ends(self.wardrobe, kind) for kind in ("before", "after")]
        dresses = [*self.steps, *ends]
        self.marks = max(len(entries([dress], "")) for dress in dresses)
        novel, columns = novelties(dresses), None
        for zoom in ZOOMS:
            columns = columns or Columns(self.cast, order_of(self.cast), novel)
            sheet = sheet_of(self.page, columns, self.marks, zoom)
            if sheet is not None:
                self.plate = sheet.plate
                columns = None  # its cells are set out
                if zoom == 1 or not self._is_cut():
                    break
        self.fitting = Fitting(self.plate)
        self.studio = Studio(self.plate)

    @property
    def template(self) -> list[Template]:
        """The plate as SVG, once it has been drawn."""
        return self.studio.template

    def _is_cut(self) -> bool:
        """Return whether the canvas has too little room for the words around the map."""
        told = [self.captions.before(), self.captions.after()]
        told += [self.captions.step(n) for n, m in enumerate(self.every) if m.step is not None]
        return any(
            cut_short(self.plate, title_dress(title, words) | side_dress(self.plate, lines))
            for title, words, lines in told
        )

    def pictures(self, what: What = "all", only_changes: bool = False) -> Iterator[Picture]:
        """Yield the pictures asked for: before, after, both side by side, then one a step."""
        if what in ("before", "all"):
            yield self.before()
        if what in ("after", "all"):
            yield self.after()
        if what in ("both", "all"):
            yield self.both()
        if what in ("steps", "all"):
            for n, moment in enumerate(self.every):
                shown = moment.matters or self.captions.is_troubled(moment) or not only_changes
                if moment.step is not None and shown:
                    yield self.step(n)

    def before(self) -> Picture:
        """Return the start; what will be demated is marked."""
        dress = self._ends(self.wardrobe, "before")
        return self._picture("before", "before", self.captions.before(), dress)

    def after(self) -> Picture:
        """Return the end; what was mated in the work is marked."""
        dress = self._ends(self.wardrobe, "after")
        return self._picture("after", "after", self.captions.after(), dress)

    def step(self, number: int) -> Picture:
        """Return the picture of one moment that has a step."""
        step = self.every[number].step
        assert step is not None, "the start has no step"
        name = f"step-{number:03d}-{_slug(step.id)}"
        since = self.steps[number - 1], self.turns[number]
        return self._picture(name, "step", self.captions.step(number), self.steps[number], since)

    def both(self) -> Picture:
        """Return before and after side by side; only what the work changes is on it."""
        cast = cast_of(self.account, [*self.every, self.last], only_work=True)
        wardrobe = Wardrobe(cast, self.every[0], self.last, terse=True)
        ends = [self._ends(wardrobe, kind) for kind in ("before", "after")]
        order = order_of(cast)
        title, words, _ = self.captions.both()
        heads = title_dress(title, words)
        marks = entries(ends, "both")
        for zoom, loose in product(ZOOMS, LOOSE):
            maps = [Columns(cast, order, ends, True, loose) for _ in ends]
            plate = pair_of(self.page, maps, ("before", "after"), len(marks), zoom)
            if plate is not None and (zoom, loose) == (ZOOMS[-1], LOOSE[-1]):
                break
            if plate is not None and plate.scale >= zoom and not cut_short(plate, heads):
                break
        assert plate is not None, "unenlarged there is always a plate"
        dress = named(ends[0], "before") | named(ends[1], "after") | heads
        dress |= legend_dress(marks) | {("divider", 1): Wear(("place",), (" ",))}
        return Picture("before-and-after", title, Studio(plate), fitted(plate, dress))

    def notes(self) -> list[str]:
        """Return what a reader of the pictures should know: labels too small to read."""
        if self.plate.label_pt >= LEAST_PT - 1e-6:
            return []
        return [
            f"labels are {self.plate.label_pt:.1f} pt on {self.page.name}, less than "
            f"{LEAST_PT:g} pt: too much for one page; draw it larger, or phase by phase"
        ]

    def _ends(self, wardrobe: Wardrobe, kind: Kind) -> Dress:
        return wardrobe.dress(self.every[0] if kind == "before" else self.last, kind)

    def _picture(
        self, name: str, kind: Kind, told: Told, dress: Dress, step: Since | None = None
    ) -> Picture:
        title, words, lines = told
        marks = entries_of(self.fitting.turn(dress, step), kind)
        if marks != self.legend[0]:
            self.legend = marks, legend_dress(marks)
        frame = title_dress(title, words) | side_dress(self.plate, lines)
        whole, since = self.fitting.fit(frame, self.legend[1])
        return Picture(name, title, self.studio, whole, since)


def _slug(name: str) -> str:
    return re.sub(r"[^A-Za-z0-9_-]+", "-", name)[:60]
