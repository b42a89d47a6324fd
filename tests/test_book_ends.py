"""The tables end to end that a book holds."""

from __future__ import annotations

import pytest
import small

from cablewalk.book import ends
from cablewalk.book.ends import end_tables
from cablewalk.files.place import Source
from cablewalk.reports.tables import TablesReport, What, tables_report

SOURCES = (Source("base.yaml", "0" * 64), Source("work.yaml", "1" * 64))
WORK = "[[{demate: P1}], [{mate: {P1: JN}}]]"


def report(steps: str = WORK, only_difference: bool = False) -> TablesReport:
    told = small.run(steps)
    if only_difference:
        what: tuple[What, ...] = ("difference",)
        return tables_report(told, SOURCES, what=what)
    return tables_report(told, SOURCES)


def test_what_is_joined_otherwise_stands_by_section_and_is_printed() -> None:
    whole = report()
    assert whole.difference is not None and whole.difference.ways
    tables = end_tables(whole)
    changed = [t for t in tables if t.is_printed]
    sections = {row.section for row in whole.difference.ways}
    assert sections and {t.title.removeprefix("End to end, ") for t in changed} == sections
    assert sum(len(t.rows) for t in changed) == len(whole.difference.ways)
    assert all(len(row) == len(t.columns) for t in tables for row in t.rows)


def test_before_and_after_have_the_ways_that_something_runs_over() -> None:
    whole = report()
    before, after = end_tables(whole)[-2:]
    assert (before.title, after.title) == ("Before, end to end", "After, end to end")
    assert not before.is_printed and not after.is_printed
    for shown, stand in ((before, whole.before), (after, whole.after)):
        assert stand is not None and stand.ways is not None
        carrying = [row for row in stand.ways.rows if row.strings]
        assert [row[-1] for row in shown.rows] == [", ".join(r.strings) for r in carrying]
    assert len(before.rows) > len(after.rows), "the light has lost its way"


def test_without_before_and_after_only_the_difference_is_told() -> None:
    assert all(t.is_printed for t in end_tables(report(only_difference=True)))


def test_what_is_too_long_is_cut_and_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = [t for t in end_tables(report()) if t.is_printed]
    monkeypatch.setattr(ends, "MOST_WAYS", 1)
    cut = [t for t in end_tables(report()) if t.is_printed]
    assert [len(t.rows) + t.left_off for t in cut] == [len(t.rows) for t in whole]
    assert all(len(t.rows) <= 1 for t in cut) and any(t.left_off for t in cut)
