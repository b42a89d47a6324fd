"""YAML text to plain data: every scalar is text, and what could surprise is refused.

One pass over the events of the C parser builds dicts, lists and strings; nothing recurses, and
nothing is built for text that is refused. A plain empty scalar is None, a quoted one is ``""``.
YAML 1.1's readings (``on`` as true, ``6:30`` as 390) never happen: the models convert.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Any, NamedTuple

import yaml

from cablewalk.files.refusals import (
    MAX_BYTES,
    MAX_DEPTH,
    MAX_ENTRIES,
    MAX_FAULTS,
    Refusals,
    line_at,
)
from cablewalk.findings import Finding, Path

_NO_KEY: Any = object()
_BOM = b"\xef\xbb\xbf"


class Parsed(NamedTuple):
    """Plain data and text of a file, what was refused, and the lines of what was refused.

    ``data`` is None where there are findings. ``text`` is without a byte order mark, and empty
    where the bytes are no text.
    """

    data: dict[str, Any] | None
    text: str
    findings: list[Finding]
    lines: dict[Path, int]
    """Address path of a finding to its line, counted from 1."""


@contextmanager
def gc_paused() -> Iterator[None]:
    """Pause the garbage collector: nothing built meanwhile is garbage, and walks cost most."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


class _Untagged(yaml.CBaseLoader):
    """Composes nodes without tags: nobody asks for them, and they take a third of the time."""

    def resolve(self, _kind: Any, _value: Any, _implicit: Any) -> str:
        return ""


def compose(text: str) -> yaml.Node:
    """Return the node tree, with marks but without tags, of text that :func:`parse` accepted."""
    with gc_paused():
        node = yaml.compose(text, Loader=_Untagged)
    if node is None:
        raise ValueError("the text holds nothing")
    return node


def parse(raw: bytes, document: int) -> Parsed:
    """Return the plain data of one YAML file, or the findings that say why there is none."""
    if raw.startswith(_BOM):
        raw = raw[len(_BOM) :]
    refusals = Refusals(document)
    data = None
    if _decode(raw, refusals):
        with gc_paused():
            try:
                data = _Builder(refusals).build(yaml.CBaseLoader(raw))
            except yaml.MarkedYAMLError as error:
                refusals.syntax(error)
            except yaml.reader.ReaderError as error:
                refusals.unprintable(error)
    if refusals.findings:
        data = None
        _tell_first(refusals)
    return Parsed(data, refusals.text, refusals.findings, refusals.lines)


def _decode(raw: bytes, refusals: Refusals) -> bool:
    """Put the text of the bytes into ``refusals``; return False after a finding."""
    if len(raw) > MAX_BYTES:
        refusals.fault(
            "too-large", (), 0, f"the file has more than {MAX_BYTES:,} bytes",
            f"at most {MAX_BYTES:,} bytes",
            "check that this is the right file; split the hardware over baselines",
            "none of it was read",
        )  # fmt: skip
        return False
    utf_16 = raw.startswith((b"\xff\xfe", b"\xfe\xff"))
    if b"\0" in raw and not utf_16:
        # Latin-1 gives every byte one character: enough to count lines.
        refusals.text = raw.decode("latin-1")
        refusals.fault(
            "unreadable", (), raw.index(b"\0"), "the file holds binary data",
            "a text file (YAML)", "check that this is the right file",
            f"byte {raw.index(0) + 1:,} is 0, which no text has",
        )  # fmt: skip
    else:
        try:
            refusals.text = raw.decode("utf-8")
            return True
        except UnicodeDecodeError as error:
            refusals.text = raw.decode("latin-1")
            refusals.fault(
                "unreadable", (), error.start,
                f"byte 0x{raw[error.start]:02x} is no UTF-8 text", "text encoded in UTF-8",
                "save the file as UTF-8", _encoding(raw, error.start),
            )  # fmt: skip
    refusals.text = ""
    return False


def _encoding(raw: bytes, at: int) -> str:
    """Return what the bytes of a text that is no UTF-8 may be instead, with the one at fault."""
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "the file begins as text in UTF-16 does"
    seen = raw[at : at + 1].decode("cp1252", "replace")
    if not seen.isprintable() or seen == "\ufffd":
        return f"it is byte {at + 1:,} of the file"
    return f"it is byte {at + 1:,} of the file, and would be '{seen}' in Windows-1252"


def _tell_first(refusals: Refusals) -> None:
    """Add to each key that stands twice the line in which it stands first.

    Only where the whole file was read: a file that goes deeper than is read is not composed.
    """
    from cablewalk.files.place import node_at  # it needs ``compose`` from here

    found = refusals.findings
    if len(found) >= MAX_FAULTS or any(f.rule != "duplicate-key" for f in found):
        return
    root = compose(refusals.text)
    for n, finding in enumerate(found):
        first = line_at(refusals.text, node_at(root, finding.address.path).start_mark.index)
        found[n] = replace(finding, difference=f"it stands first in line {first}")


class _Builder:
    """Builds plain data from events, keeping a stack of open collections instead of recursing."""

    def __init__(self, refusals: Refusals) -> None:
        self.refusals = refusals
        self.stack: list[tuple[Any, Any]] = []

    def path(self, last: Any) -> Path:
        """Return the path of ``last`` in the innermost open collection."""
        steps = [key for _, key in self.stack[1:]]
        if self.stack and last is not _NO_KEY:
            steps.append(last)
        return tuple(steps)

    def build(self, loader: Any) -> Any:
        """Return the data of the one document, reading until its end or a fault that stops."""
        scalar, mapping, sequence = (
            yaml.ScalarEvent,
            yaml.MappingStartEvent,
            yaml.SequenceStartEvent,
        )
        root: list[Any] = []
        top: Any = root
        key: Any = _NO_KEY
        in_map = False
        stack, refusals = self.stack, self.refusals
        documents = entries = 0
        next_event = loader.get_event
        while True:
            event = next_event()
            kind = type(event)
            entries += 1
            if entries > MAX_ENTRIES:
                refusals.too_many(event.start_mark.index)
                return None
            if kind is scalar:
                value = event.value
                if event.tag is not None or event.anchor is not None:
                    refusals.marked(event, self.path(key if in_map else len(top)))
                if not value and not event.style:
                    value = None
                if not in_map:
                    top.append(value)
                elif key is not _NO_KEY:
                    top[key] = value
                    key = _NO_KEY
                elif value is None:
                    refusals.bad_key(
                        event, self.path(_NO_KEY), "a ':' stands without a key before it"
                    )
                    return None
                else:
                    # Blanks around a key carry no meaning in the models either.
                    key = value.strip()
                    if key in top:
                        refusals.duplicate(event, self.path(key), key)
            elif kind is mapping or kind is sequence:
                if in_map and key is _NO_KEY:
                    refusals.bad_key(
                        event,
                        self.path(_NO_KEY),
                        "a list or group of keys stands where a key should be",
                    )
                    return None
                if event.tag is not None or event.anchor is not None:
                    refusals.marked(event, self.path(key if in_map else len(top)))
                if len(stack) >= MAX_DEPTH:
                    refusals.too_deep(event.start_mark.index)
                    return None
                child: Any = {} if kind is mapping else []
                if in_map:
                    top[key] = child
                    stack.append((top, key))
                else:
                    stack.append((top, len(top)))
                    top.append(child)
                top, key, in_map = child, _NO_KEY, kind is mapping
            elif kind is yaml.MappingEndEvent or kind is yaml.SequenceEndEvent:
                top = stack.pop()[0]
                key, in_map = _NO_KEY, type(top) is dict
            elif kind is yaml.DocumentStartEvent:
                documents += 1
                if documents > 1:
                    refusals.second_document(event)
                    return None
            elif kind is yaml.AliasEvent:
                refusals.alias(event, self.path(key if in_map else len(top)))
                if in_map and key is _NO_KEY:
                    return None
                if in_map:
                    top[key], key = None, _NO_KEY
                else:
                    top.append(None)
            elif kind is yaml.StreamEndEvent:
                return refusals.whole(root)
            if len(refusals.findings) >= MAX_FAULTS:
                return None
