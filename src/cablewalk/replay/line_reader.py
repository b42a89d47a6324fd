"""References of a string, resolved to islands and terminals."""

from __future__ import annotations

from cablewalk.documents.service import Line, Strand
from cablewalk.findings import Path, nearest
from cablewalk.replay.draft import Draft
from cablewalk.replay.joiner import near_terminal
from cablewalk.replay.wiring import NONE, STRUCTURE, Conductor


class LineReader:
    """Resolves the references of one string."""

    def __init__(self, draft: Draft, path: Path) -> None:
        self.draft = draft
        self.path = path
        self.failed = False

    def _fail(self, rule: str, found: str, expected: str, way_out: str) -> None:
        self.failed = True
        self.draft.error(rule, self.path, found, expected=expected, way_out=way_out)

    def end(self, text: str) -> tuple[int, int]:
        """Return (island, terminal) of a line's end; contacts are allowed for bonding points."""
        wiring = self.draft.wiring
        if text == "structure":
            return STRUCTURE, NONE
        if text in wiring.terminal_by_name:
            terminal = wiring.terminal_by_name[text]
            return wiring.terminals[terminal].island, terminal
        owner, _, name = text.partition(".")
        unit = wiring.by_id.get(owner, NONE)
        if unit == NONE:
            self.failed = not self.draft.names.check(owner, ("unit", "cap"), self.path) or True
        else:
            known = [t.name for t in wiring.terminals if t.owner == unit]
            self._fail(
                "unknown-terminal",
                f"{owner} has no terminal {name}",
                f"one of {', '.join(known)}"
                if known
                else "the terminal of a unit or electrical cap",
                near_terminal(name, known) if known else "name a unit or an electrical cap there",
            )
        return STRUCTURE, NONE

    def contact(self, text: str) -> frozenset[int]:
        """Return the islands a ``through`` or ``parallel`` entry stands for."""
        wiring = self.draft.wiring
        owner, dot, name = text.partition(".")
        if text in wiring.terminal_by_name:
            return frozenset({wiring.terminals[wiring.terminal_by_name[text]].island})
        item = wiring.by_id.get(owner, NONE)
        if item == NONE or wiring.items[item].kind != "half":
            self.failed = True
            self.draft.names.check(owner, ("half",), self.path)
            return frozenset()
        joints = wiring.joints[item]
        if not dot:
            return frozenset(joints) - {STRUCTURE}
        names = (*wiring.contact_names[item], "shell")
        if name not in names or not joints:
            self._fail(
                "unknown-contact",
                f"{owner} has no contact {name}",
                "one of its contacts, or shell"
                if joints
                else "a half that joins something: a parking half does not",
                nearest(name, list(names)) if joints else "name another half",
            )
            return frozenset()
        return frozenset({joints[names.index(name)]})

    def through(self, entries: tuple[str, ...]) -> tuple[frozenset[int], ...]:
        """Return the island sets a line must visit, in order."""
        return tuple(self.contact(text) for text in entries)

    def conductors(self, entries: tuple[str, ...]) -> tuple[int, ...]:
        """Return the island of each parallel conductor."""
        return tuple(min(self.contact(text), default=STRUCTURE) for text in entries)

    def line(self, line: Line, strand: Strand) -> Conductor:
        """Return a line compiled."""
        a, a_terminal = self.end(line.a)
        b, b_terminal = self.end(line.b)
        parallel = self.conductors(line.parallel)
        return Conductor(
            name=f"{line.a} to {line.b}",
            a=a,
            b=b,
            a_terminal=a_terminal,
            b_terminal=b_terminal,
            through=self.through(line.through or strand.through),
            parallel=parallel,
            need=line.need or len(parallel),
        )
