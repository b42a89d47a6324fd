"""Looking again: what others recorded since, and whether it bears on what one is to record."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from cablewalk.logbook.chain import Link
from cablewalk.logbook.log import Log, Moved
from cablewalk.logbook.run import Plans, Run, run_of
from cablewalk.logbook.trouble import CannotLog
from cablewalk.walk.asrun_entry import Entry

JUST_NOW_S = 120
"""How long an entry counts as just written, to one who has written nothing yet: common practice,
no source."""

Draft = Callable[[Run], Sequence[Entry]]


class LookAgain(CannotLog):
    """Others recorded what bears on this; nothing was recorded."""

    def __init__(self, news: Sequence[Entry], seq: int) -> None:
        super().__init__(f"nothing was recorded: {len(news)} newer entries bear on it")
        self.news = tuple(news)
        self.seq = seq


def bears_on(news: Iterable[Entry], drafts: Iterable[Entry]) -> list[Entry]:
    """Return those entries that name a worker, an item or a step that the drafts name too.

    The beginning of a phase bears on every action: the plan is another from then on. Nothing
    bears on a note: it assumes no state.
    """
    deeds = [draft for draft in drafts if draft.kind != "note"]
    if not deeds:
        return []
    names = {n for d in deeds for n in (*d.actors, *d.items, *([d.step] if d.step else []))}
    return [
        entry
        for entry in news
        if entry.kind == "begin"
        or (entry.kind != "note" and names & {*entry.actors, *entry.items, entry.step})
    ]


def record(
    log: Log,
    plans: Plans,
    draft: Draft,
    seen: int | None,
    by_next: str = "",
    started: int | None = None,
) -> tuple[Run, list[Entry]]:
    """Add what ``draft`` makes of the log as it stands; return how it stood, and what was added.

    Args:
        log: open for writing.
        plans: its documents.
        draft: makes entries of a run; called again where others were quicker.
        seen: how many events the writer had seen; None: not said. Newer ones that bear on the
            draft are told first, whoever wrote them: two people may have one login.
        by_next: the writer's name, where the draft is somebody's *next* action: what others
            recorded since the writer's own last entry then counts as not seen.
        started: how many events there were as the command began; newer ones nobody has seen.

    Raises:
        LookAgain: others recorded what bears on it.
        CannotLog: it cannot be recorded so, or more were seen than there are.
    """
    while True:
        run = run_of(log, plans)
        if seen is not None and seen > run.reading.seq:
            raise CannotLog(
                f"you cannot have seen {seen} events: the log has {run.reading.seq}. Nothing was "
                "recorded: give the number 'cablewalk asrun now' shows, or leave --seen out"
            )
        drafts = list(draft(run))
        unseen = _unseen(
            run.reading.links, seen, by_next, started, drafts[0].entered_s if drafts else 0
        )
        if bearing := bears_on(unseen, drafts):
            raise LookAgain(bearing, run.reading.seq)
        try:
            return run, log.append(drafts, run.reading.seq)
        except Moved as moved:
            news = [link.entry for link in moved.news]
            if bearing := bears_on(news, drafts):
                raise LookAgain(bearing, moved.news[-1].row.seq) from None


def _unseen(
    links: Sequence[Link], seen: int | None, by_next: str, started: int | None, now_s: int
) -> list[Entry]:
    """Return the entries the writer cannot have seen when the command was typed.

    Of somebody's next action: those since the writer's own last entry; those just written, where
    the writer has none yet. ``now_s`` is UTC seconds.
    """
    if seen is not None:
        return [link.entry for link in links if link.row.seq > seen]
    own = [link.row.seq for link in links if link.entry.entered_by == by_next]

    def unseen(link: Link) -> bool:
        if started is not None and link.row.seq > started:
            return True
        if not by_next or link.entry.kind == "begin":
            return False
        return link.row.seq > own[-1] if own else link.entry.entered_s > now_s - JUST_NOW_S

    return [link.entry for link in links if unseen(link)]
