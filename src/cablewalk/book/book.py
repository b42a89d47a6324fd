"""The book: everything it tells, gathered from the reports and the pictures, and set in HTML."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from cablewalk.book.bags import bags_of
from cablewalk.book.briefing import briefs_of
from cablewalk.book.ends import MANY_HALVES, end_tables
from cablewalk.book.film import film_of, pair_still
from cablewalk.book.issue import Issue, issue_of
from cablewalk.book.lanes import chart_of
from cablewalk.book.left import GROUPS, in_brief, left_after
from cablewalk.book.legend import samples
from cablewalk.book.moves import moves_of, things_of
from cablewalk.book.order import beats_of
from cablewalk.book.paper import render
from cablewalk.book.places import whereabouts
from cablewalk.book.scenes import reel_of
from cablewalk.book.turns import KINDS, turns_of
from cablewalk.checks.run import Checked
from cablewalk.drawings.pictures import Album
from cablewalk.drawings.plate import PAGES
from cablewalk.files.nodes import gc_paused
from cablewalk.files.place import Source
from cablewalk.reports.checked import CheckReport, check_report
from cablewalk.reports.outages import OutagesReport, colder, outages_report
from cablewalk.reports.spread_sure import beyond_of, sureness
from cablewalk.reports.steps import step_rows
from cablewalk.reports.table_change import SECTIONS
from cablewalk.reports.tables import By, What, tables_report
from cablewalk.reports.thermal import zones_report
from cablewalk.timeline.account import Account
from cablewalk.timeline.spread import Spread

_EVERY: Final[tuple[What, ...]] = ("before", "after", "difference")
_BY: Final[tuple[By, ...]] = ("half", "end")


@dataclass(frozen=True, slots=True)
class Told:
    """A replay, as the reports tell it, and which issue of a book is made of it."""

    account: Account
    outages: OutagesReport
    check: CheckReport
    issue: Issue


def told_of(
    checked: Checked,
    sources: Sequence[Source],
    options: str = "",
    spread: Spread | None = None,
    not_sampled: str = "",
) -> Told:
    """Return what is told of a replay with at least one phase.

    Args:
        checked: what the rules found in the replay.
        sources: the files, the baseline's first.
        options: what else decided how it was replayed; it goes into the book's mark.
        spread: what sampling found; None where nothing was sampled.
        not_sampled: why it was not.

    Raises:
        BadDate: ``SOURCE_DATE_EPOCH`` is no date.
    """
    account = checked.case.account
    report = outages_report(
        account,
        sources,
        None if spread is None else sureness(spread),
        not_sampled,
        zones_report(account, sources, None if spread is None else beyond_of(spread)),
    )
    runs = None if spread is None else spread.runs
    check = check_report(checked, sources, runs, not_sampled)
    return Told(account, report, check, issue_of(report, options))


def book_html(told: Told, sources: Sequence[Source], paper: str = "a4") -> str:
    """Return the briefing book as one HTML file.

    Raises:
        NoGraphviz, DrawingFailed: the pictures cannot be drawn.
    """
    # Nearly all that is made here stays until the page is set: to look for garbage costs a third.
    with gc_paused():
        return render("book.html", **_contents(told, sources, paper))


def _contents(told: Told, sources: Sequence[Source], paper: str) -> dict[str, Any]:
    account = told.account
    steps = step_rows(account)
    album = Album(account, PAGES[paper])
    places = whereabouts(account)
    reel = reel_of(album, steps, told.outages.outages, told.check.findings, places)
    film = film_of(album, reel.dresses)
    moves = moves_of(account)
    turns = turns_of(account, told.outages)
    phases = told.outages.phases
    is_large = len(account.trace.wiring.ids("half")) > MANY_HALVES
    tables = tables_report(account, sources, what=_EVERY[2:] if is_large else _EVERY, by=_BY)
    assert tables.difference is not None and tables.difference.things is not None
    pair, pair_looks = pair_still(album.both())
    left = [left_after(account, n) for n in range(len(phases))]
    return {
        "told": told,
        "baseline": account.ground.baseline,
        "phases": phases,
        "briefs": briefs_of(account, steps),
        "steps": steps,
        "scenes": reel.scenes,
        "frames": reel.frames,
        "film": film,
        "legend": samples(film.looks),
        "keys": [scene.key for scene in reel.scenes],
        "order": [beats_of(moves, told.outages.outages, turns, phase) for phase in phases],
        "things_moved": things_of(account, moves, album.cast.role, album.cast.carries),
        "turns": turns,
        "turn_kinds": KINDS,
        "about": {s.id: s.label or s.kind.replace("_", " ") for s in account.trace.wiring.services},
        "ways": places.ways,
        "charts": [chart_of(p, steps, told.outages.outages, reel.frames, turns) for p in phases],
        "outages": told.outages.outages,
        "colder": [colder(told.outages, row) for row in told.outages.outages],
        "both": pair,
        "both_legend": samples(pair_looks),
        "ends": end_tables(tables),
        "is_large": is_large,
        "sections": SECTIONS,
        "things": tables.difference.things,
        "left": left,
        "left_short": [in_brief(rows, n + 1 < len(left)) for n, rows in enumerate(left)],
        "groups": GROUPS,
        "bags": bags_of(account),
        "paper": paper,
    }
