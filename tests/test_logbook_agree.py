"""An agreement machine: the log read back is the replay in memory, through corrections.

The model is a list of entries kept in memory; the system is the file. After every rule the file,
opened anew, must hold the same entries, and fold to the same state and findings.
"""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import replace
from pathlib import Path

from asrun_bench import DEEDS, ZERO_S, begin, folded, new_log
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from cablewalk.documents.actions import Action
from cablewalk.logbook.log import Log
from cablewalk.walk.asrun_entry import Entry


class Agreement(RuleBasedStateMachine):
    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp(prefix="cablewalk-"))
        self.path = new_log(self.folder / "a.log")
        self.memory: list[Entry] = [begin()]

    def teardown(self) -> None:
        shutil.rmtree(self.folder)

    def _add(self, *drafts: Entry) -> None:
        with Log(self.path, write=True) as log:
            added = log.append(drafts, seen=len(self.memory))
        for draft in drafts:
            self.memory.append(replace(draft, serial=len(self.memory) + 1))
        assert added == self.memory[-len(drafts) :]

    @rule(deed=st.sampled_from(DEEDS), at=st.integers(-30, 300), took=st.none() | st.integers(0, 9))
    def record(self, deed: tuple, at: int, took: int | None) -> None:  # type: ignore[type-arg]
        actors, action, outcome = deed
        if outcome == "part-engaged":
            action = Action(engage=action.mate)
        end = ZERO_S + at * 60
        began = None if took is None else end - took * 60
        self._add(
            Entry(0, 0, "action", end, at * 60, end, "t", began, actors, action, outcome, "s2", 0)
        )

    @rule(text=st.text(max_size=40).filter(lambda t: t.isprintable()), is_open=st.booleans())
    def note(self, text: str, is_open: bool) -> None:
        self._add(Entry(0, 0, "note", ZERO_S, 0, ZERO_S, text=text, open_item=is_open))

    @precondition(lambda self: len(self.memory) > 1)
    @rule(
        data=st.data(), void=st.booleans(), at=st.integers(-30, 300),
        reads=st.sampled_from(["", "worded anew", "and again"]),
    )  # fmt: skip
    def correct(self, data: st.DataObject, void: bool, at: int, reads: str) -> None:
        old = data.draw(st.sampled_from(self.memory[1:]))
        self._add(
            replace(
                old, utc_s=ZERO_S + at * 60, pet_s=at * 60, began_s=None, corrects=old.key,
                void=void, closes=None, text="why", reads=reads,
            )
        )  # fmt: skip

    @rule(deeds=st.lists(st.sampled_from(DEEDS), min_size=2, max_size=4))
    def record_several(self, deeds: list[tuple]) -> None:  # type: ignore[type-arg]
        self._add(
            *(
                Entry(0, 0, "action", ZERO_S, 0, ZERO_S, "t", None, actors, action, "done")
                for actors, action, _ in deeds
            )
        )

    @invariant()
    def the_file_is_the_memory(self) -> None:
        with Log(self.path) as log:
            reading = log.read()
        assert not any(link.fault for link in reading.links)
        assert reading.entries == self.memory
        read, told = folded(reading.entries), folded(self.memory)
        assert read.fold.config == told.fold.config
        assert read.findings.items == told.findings.items
        assert read.effective == told.effective
        own = {entry.key: entry.text for entry in self.memory if entry.corrects is None}
        worded = {entry.reads for entry in self.memory}
        for entry in read.effective.entries:
            assert entry.text in {own[entry.key], *worded}, "never why it was corrected"
        assert [(e.time_s, e.changes) for e in read.trace.events] == [
            (e.time_s, e.changes) for e in told.trace.events
        ]


Agreement.TestCase.settings = settings(max_examples=12, stateful_step_count=15, deadline=None)
TestAgreement = Agreement.TestCase
