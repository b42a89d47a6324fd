"""Two processes record somebody's *next* action at the same moment: it is recorded once.

Both make their draft of the same log and meet before either adds it, so that the race is run
every time; what one of them knew is looked at again inside the transaction that adds.
"""

from __future__ import annotations

import multiprocessing
from multiprocessing.synchronize import Barrier
from pathlib import Path
from typing import Any

import pytest
from asrun_bench import ZERO_S, begin, entry, new_log

from cablewalk.logbook.amend import note
from cablewalk.logbook.drafts import Said, planned
from cablewalk.logbook.log import Log
from cablewalk.logbook.look import LookAgain, record
from cablewalk.logbook.run import Run, plans_of
from cablewalk.walk.asrun_entry import Entry

WAIT_S = 60


def write(path: Path, who: str, name: str, meet: Barrier, told: Any) -> None:
    """Record the next action of somebody; tell what came of it."""
    with Log(path, write=True) as log:
        started = log.count()

        def draft(run: Run) -> list[Entry]:
            said = Said(ZERO_S + 180, ZERO_S + 9000, name)
            entries = planned(run.tracked, who, "done", said)
            if not drafted:
                meet.wait(WAIT_S)
            drafted.append(f"{entries[0].step}/{(entries[0].task or 0) + 1}")
            return entries

        drafted: list[str] = []
        try:
            _, added = record(log, plans_of(log.documents), draft, None, name, started)
            told.put((name, "recorded", drafted, [entry.key for entry in added]))
        except LookAgain as again:
            told.put((name, "look again", drafted, [entry.key for entry in again.news]))


def both(path: Path, *writers: tuple[str, str]) -> list[tuple[str, str, list[str], list[Any]]]:
    """Let writers (whose next, by whom) record at the same moment; return what they told."""
    context = multiprocessing.get_context("fork")
    meet, told = context.Barrier(len(writers)), context.Queue()
    children = [
        context.Process(target=write, args=(path, who, name, meet, told)) for who, name in writers
    ]
    for child in children:
        child.start()
    found = [told.get(timeout=WAIT_S) for _ in children]
    for child in children:
        child.join(WAIT_S)
        assert child.exitcode == 0
    return sorted(found, key=lambda row: row[1])


@pytest.mark.skipif(
    "fork" not in multiprocessing.get_all_start_methods(), reason="the writers are forked"
)
class TestTwo:
    @pytest.mark.parametrize("names", [("ann", "ben"), ("ops", "ops")])
    def test_the_same_step_is_recorded_once(self, tmp_path: Path, names: tuple[str, str]) -> None:
        for n in range(5):
            path = new_log(tmp_path / f"{n}.log")
            second, first = both(path, ("ev2", names[0]), ("ev2", names[1]))
            assert (first[1], second[1]) == ("recorded", "look again")
            assert first[2] == ["s4/1"] and second[2] == ["s4/1"], "both meant the same"
            assert second[3] == first[3], "and one is told what the other recorded"
            with Log(path) as log:
                assert [(e.step, e.task) for e in log.read().entries[1:]] == [("s4", 0)]

    def test_the_steps_of_two_workers_are_both_recorded(self, tmp_path: Path) -> None:
        path = new_log(tmp_path / "a.log")
        rows = both(path, ("ev2", "ann"), ("gnd", "ben"))
        assert [row[1] for row in rows] == ["recorded", "recorded"]
        # One of them was too late, and looked again by itself: nothing bore on it.
        assert sorted(len(row[2]) for row in rows) == [1, 2]
        with Log(path) as log:
            assert {e.step for e in log.read().entries[1:]} == {"s1", "s4"}


def test_nothing_bears_on_a_note(tmp_path: Path) -> None:
    path = new_log(tmp_path / "a.log")
    with Log(path, write=True) as log:

        def draft(run: Run) -> list[Entry]:
            if log.count() == 1:
                with Log(path, write=True) as other:
                    other.append([entry(2)])
            said = Said(ZERO_S + 180, ZERO_S + 9000, "ann", text="seen", actors=entry(2).actors)
            return [note(run.tracked, said, entry(2).items, False, None)]

        _, added = record(log, plans_of(log.documents), draft, None, "", log.count())
        assert [e.serial for e in added] == [3]


def test_a_phase_that_begins_meanwhile_bears_on_everything(tmp_path: Path) -> None:
    path = new_log(tmp_path / "a.log")
    with Log(path, write=True) as log:

        def draft(run: Run) -> list[Entry]:
            if log.count() == 1:
                with Log(path, write=True) as other:
                    other.append([Entry(1, 0, "begin", ZERO_S + 60, 0, ZERO_S, "ben")])
            return planned(run.tracked, "ev2", "done", Said(ZERO_S + 180, ZERO_S + 9000, "ann"))

        with pytest.raises(LookAgain) as again:
            record(log, plans_of(log.documents), draft, None, "ann", log.count())
        assert [entry.kind for entry in again.value.news] == ["begin"]
        assert log.read().entries[0] == begin() and log.count() == 2
