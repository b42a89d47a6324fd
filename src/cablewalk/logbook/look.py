"""Looking again: what others recorded since, and whether it bears on what one is to record."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from cablewalk.logbook.chain import Link
from cablewalk.logbook.log import Log, Moved
from cablewalk.logbook.run import Plans, Run, run_of
from cablewalk.logbook.trouble import CannotLog
from cablewalk.walk.asrun_entry import Entry

Draft = Callable[[Run], Sequence[Entry]]


class LookAgain(CannotLog):
    """Others recorded what bears on this; nothing was recorded."""

    def __init__(self, news: Sequence[Entry], seq: int) -> None:
        super().__init__(f"nothing was recorded: {len(news)} newer entries bear on it")
        self.news = tuple(news)
        self.seq = seq


def bears_on(news: Iterable[Entry], drafts: Iterable[Entry]) -> list[Entry]:
    """Return those entries that name a worker, an item or a step that the drafts name too."""
    names = {n for d in drafts for n in (*d.actors, *d.items, *([d.step] if d.step else []))}
    return [
        entry
        for entry in news
        if entry.kind != "note" and names & {*entry.actors, *entry.items, entry.step}
    ]


def record(
    log: Log, plans: Plans, draft: Draft, seen: int | None, by_next: str = ""
) -> tuple[Run, list[Entry]]:
    """Add what ``draft`` makes of the log as it stands; return how it stood, and what was added.

    Args:
        log: open for writing.
        plans: its documents.
        draft: makes entries of a run; called again where others were quicker.
        seen: how many events the writer had seen; None: not said.
        by_next: the writer's name, where the draft is somebody's *next* action: what others
            recorded since the writer's own last entry then counts as not seen.

    Raises:
        LookAgain: others recorded what bears on it.
        CannotLog: it cannot be recorded so.
    """
    while True:
        run = run_of(log, plans)
        drafts = list(draft(run))
        known = seen
        if known is None and by_next:
            known = _own_last(run.reading.links, by_next)
        if known is not None:
            news = [link.entry for link in run.reading.links if link.row.seq > known]
            if bearing := bears_on((e for e in news if e.entered_by != by_next), drafts):
                raise LookAgain(bearing, run.reading.seq)
        try:
            return run, log.append(drafts, run.reading.seq)
        except Moved as moved:
            news = [link.entry for link in moved.news]
            if bearing := bears_on(news, drafts):
                raise LookAgain(bearing, moved.news[-1].row.seq) from None


def _own_last(links: Sequence[Link], name: str) -> int:
    """Return the number of a writer's last event; of the log's first where there is none."""
    own = [link.row.seq for link in links if link.entry.entered_by == name]
    return own[-1] if own else 1
