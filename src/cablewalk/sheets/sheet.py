"""A sheet: rows of text beneath named columns."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import groupby

Cells = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """Rows of text. Cells hold what people wrote, as they wrote it: the writers make it harmless.

    Attributes:
        name: short name, fit for a file.
        title: what the sheet shows, in one line.
        columns: the names of the columns.
        rows: as many cells a row as there are columns, sorted by the leading columns.
        groups: how many leading columns are headings over the rows in text and Markdown. CSV
            repeats them in every row.
        captions: heading of the first level to a sentence that stands beneath it.
        sections: headings of the first level in their order; text and Markdown name also those
            without a row, with the word "none".
        notes: lines beneath the title.
        empty: what is said where there is no row.
    """

    name: str
    title: str
    columns: Cells
    rows: tuple[Cells, ...]
    groups: int = 0
    captions: Mapping[str, str] = field(default_factory=dict)
    sections: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    empty: str = "nothing"

    def __post_init__(self) -> None:
        wrong = [row for row in self.rows if len(row) != len(self.columns)]
        if wrong:
            raise ValueError(f"{self.name}: a row has {len(wrong[0])} cells: {wrong[0]!r}")

    @property
    def heads(self) -> Cells:
        """The columns that are not headings over the rows."""
        return self.columns[self.groups :]

    def empty_before(self, heading: str | None, above: str | None) -> tuple[str, ...]:
        """Return the sections without a row between two headings.

        ``heading``: the lower one, None at the end; ``above``: the upper one, None at the top.
        """
        if heading is not None and heading not in self.sections:
            return ()
        first = (
            self.sections.index(above) + 1 if above is not None and above in self.sections else 0
        )
        last = len(self.sections) if heading is None else self.sections.index(heading)
        return self.sections[first:last]

    def blocks(self, level: int) -> Iterator[tuple[Cells, list[Cells]]]:
        """Yield runs of rows that agree in their first ``level`` cells, with those cells."""
        for key, rows in groupby(self.rows, key=lambda row: row[:level]):
            yield key, list(rows)
