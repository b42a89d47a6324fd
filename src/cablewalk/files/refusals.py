"""What is refused while a YAML file is read, each as a finding with its line."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

import yaml

from cablewalk.files.wording import clipped, spoken
from cablewalk.findings import Address, Finding, Path, Severity

MAX_BYTES = 16 * 1024 * 1024
MAX_DEPTH = 40
MAX_ENTRIES = 500_000
"""Scalars, lists and groups in a file; a baseline of 3,200 halves has 145,000."""
MAX_FAULTS = 200
_BEFORE = re.compile(r"(?:\s|#[^\n]*(?:\n|$)|---(?=\s))*")
"""Blanks, remarks and marks before what a file holds; matches the empty text too."""

_PROBLEMS: tuple[tuple[str, str, str], ...] = (
    (
        "mapping values are not allowed",
        "a ':' followed by a blank stands where no key can be",
        "put quotes around text that has ': ' in it, and check the indentation",
    ),
    (
        "found unexpected end of stream",
        "a quote that is opened here is never closed",
        "close the quote",
    ),
    (
        "',' or ']'",
        "a list opened with '[' is not closed, or a comma is missing",
        "close the list with ']' and put commas between its entries",
    ),
    (
        "',' or '}'",
        "a group opened with '{' is not closed, or a comma is missing",
        "close the group with '}' and put commas between its entries",
    ),
    (
        "unknown escape",
        "a backslash in double quotes is followed by a letter that means nothing",
        "use single quotes around text with a backslash",
    ),
    (
        "could not find expected ':'",
        "a line that should be 'key: value' has no ':'",
        "write 'key: value', and indent lines that continue a text",
    ),
    (
        "did not find expected '-' indicator",
        "a list is followed by something that is no list entry at the same indentation",
        "begin the line with '- ', or indent it as the key it belongs to",
    ),
    (
        "did not find expected key",
        "something stands where a key should be",
        "check the indentation, and text after a closing quote",
    ),
    (
        "block sequence entries are not allowed",
        "a list entry '- ' stands where none can be",
        "put the list on its own lines below its key",
    ),
)


_TOLD_WHERE_OPENED = ("end of stream", "',' or", "could not find expected ':'")


def line_at(text: str, index: int) -> int:
    """Return the line (from 1) of the character at ``index``, as editors count lines."""
    newline = "\n" if "\n" in text else "\r"
    return text.count(newline, 0, index) + 1


@dataclass(slots=True)
class Refusals:
    """The findings of one file, gathered while it is read, and their lines.

    ``text`` is the whole text; indices of characters in it become lines.
    """

    document: int
    text: str = ""
    findings: list[Finding] = field(default_factory=list)
    lines: dict[Path, int] = field(default_factory=dict)
    """Address path of a finding to its line, counted from 1."""

    def fault(
        self,
        rule: str,
        path: Path,
        index: int,
        found: str,
        expected: str,
        way_out: str,
        difference: str = "",
    ) -> None:
        """Gather a finding at ``path`` with the line of the character at ``index``, once."""
        where = Address(self.document, path)
        if path in self.lines and any(
            f.rule == rule and f.address == where for f in self.findings[-3:]
        ):
            return
        self.findings.append(
            Finding(
                rule,
                Severity.ERROR,
                where,
                found,
                expected=expected,
                difference=difference,
                way_out=way_out,
            )
        )
        self.lines.setdefault(path, line_at(self.text, index))

    def whole(self, root: list[Any]) -> Any:
        """Return the top of the document after checking that it is a group of keys."""
        top = root[0] if root else None
        if self.findings:
            return None
        if top is None or top == {}:
            only = "only remarks, blanks and marks stand in it" if self.text.strip() else ""
            self.fault(
                "empty-file", (), 0, "the file holds nothing",
                "a baseline or a procedure", "begin with 'cablewalk: 1'", only,
            )  # fmt: skip
        elif not isinstance(top, dict):
            what = "a list" if isinstance(top, list) else f"the text '{clipped(top)}'"
            self.fault(
                "not-a-document", (), len(self.text) - len(_BEFORE.sub("", self.text, count=1)),
                f"the file is {what}",
                "keys with values ('cablewalk: 1', 'baseline: …' or 'procedure: …')",
                "check that this is the right file",
            )  # fmt: skip
        return top

    def marked(self, event: Any, path: Path) -> None:
        """Refuse a tag or an anchor."""
        if event.tag is not None:
            self.fault(
                "tag", path, event.start_mark.index,
                f"the tag '{clipped(event.tag)}' stands before a value",
                "plain values without tags",
                "remove the tag; put quotes around text that begins with '!'",
            )  # fmt: skip
        if event.anchor is not None:
            self.fault(
                "alias", path, event.start_mark.index,
                f"the anchor '&{clipped(event.anchor)}' stands before a value",
                "every value written out where it is meant",
                "remove the anchor; put quotes around text that begins with '&'",
            )  # fmt: skip

    def alias(self, event: Any, path: Path) -> None:
        """Refuse an alias."""
        self.fault(
            "alias", path, event.start_mark.index,
            f"the alias '*{clipped(event.anchor)}' stands for another value",
            "every value written out where it is meant",
            "write the value itself; put quotes around text that begins with '*'",
        )  # fmt: skip

    def bad_key(self, event: Any, path: Path, found: str) -> None:
        """Refuse a key that is no text. Reading stops."""
        self.fault(
            "bad-key", path, event.start_mark.index, found, "text as the key",
            "write 'key: value'; put quotes around text with brackets or braces",
        )  # fmt: skip

    def duplicate(self, event: Any, path: Path, key: str) -> None:
        """Refuse a key that stands twice in one group."""
        self.fault(
            "duplicate-key", path, event.start_mark.index,
            f"the key '{clipped(key)}' stands twice in {spoken(path[:-1])}",
            "every key once", "merge the two entries, or rename one",
        )  # fmt: skip

    def too_deep(self, index: int) -> None:
        """Refuse nesting no document needs. Reading stops."""
        self.fault(
            "too-deep", (), index,
            f"lists and groups are nested more than {MAX_DEPTH} deep",
            f"at most {MAX_DEPTH} levels", "check brackets and indentation",
            "nothing from this line on was read",
        )  # fmt: skip

    def too_many(self, index: int) -> None:
        """Refuse more entries than memory should be spent on. Reading stops."""
        self.fault(
            "too-large", (), index, f"the file has more than {MAX_ENTRIES:,} entries",
            f"at most {MAX_ENTRIES:,} texts, lists and groups of keys",
            "check that this is the right file; split the hardware over baselines",
            "nothing from this line on was read",
        )  # fmt: skip

    def second_document(self, event: Any) -> None:
        """Refuse a second YAML document in the file. Reading stops."""
        self.fault(
            "several-documents", (), event.start_mark.index,
            "a second document begins here ('---')", "one document a file",
            "put it in a file of its own, or remove the '---'",
            "what stands from this line on was not read",
        )  # fmt: skip

    def unprintable(self, error: yaml.reader.ReaderError) -> None:
        """Tell a character that YAML does not allow."""
        code = error.character if isinstance(error.character, int) else ord(error.character[:1])
        index = self.text.find(chr(code))
        self.fault(
            "bad-yaml", (), max(index, 0),
            f"the control character U+{code:04X} stands in the text",
            "text that can be printed", "remove the character",
        )  # fmt: skip

    def syntax(self, error: yaml.MarkedYAMLError) -> None:
        """Tell an error of YAML's grammar in plain words."""
        problem = error.problem or "it cannot be read"
        mark = error.problem_mark or error.context_mark
        index = mark.index if mark is not None else 0
        if "nesting depth" in problem:
            self.too_deep(index)
            return
        found, way_out = f"this is not valid YAML: {clipped(problem, 200)}", "correct this line"
        for part, sentence, remedy in _PROBLEMS:
            if part in problem:
                found, way_out = sentence, remedy
                break
        if "cannot start any token" in problem:
            found, way_out = self.bad_start(index)
        opened = error.context_mark
        if opened is not None and any(part in problem for part in _TOLD_WHERE_OPENED):
            # Where the parser gave up is no help: the place where it began is.
            index = opened.index
        self.fault("bad-yaml", (), index, found, "valid YAML", way_out)

    def bad_start(self, index: int) -> tuple[str, str]:
        """Return finding and way out for a character that no value can begin with."""
        char = self.text[index : index + 1]
        if char == "\t":
            return "a tab stands in the indentation", "indent with blanks"
        return f"a value begins with '{clipped(char)}'", "put quotes around the value"
