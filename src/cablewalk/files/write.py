"""Writing documents: a baseline as text, a new ``now`` in a user's text."""

from __future__ import annotations

from typing import Any

import yaml

from cablewalk.documents.baseline import Baseline
from cablewalk.documents.now import Now
from cablewalk.files.emit import block, flow
from cablewalk.files.nodes import compose, parse
from cablewalk.files.output import CannotWrite
from cablewalk.files.shorten import plain


def baseline_text(baseline: Baseline) -> str:
    """Return the YAML text of a baseline, which loads back to an equal one.

    Short forms are used where they say the same. ``cablewalk: 1`` reads back as the text "1".
    """
    data = plain(baseline)
    lines: list[str] = []
    for name, value in data.items():
        if isinstance(value, dict) and lines:
            lines.append("")
        lines.extend(block({name: value}))
    return "\n".join(lines) + "\n"


def replace_now(text: str, now: Now) -> str:
    """Return a baseline's text with ``now`` put in the place of what stands under that key.

    All else stays to the letter, comments too; comments among the replaced lines go with them.
    Without the key it is added after the last one.

    Raises:
        CannotWrite: the text is no document that can be read, or is laid out so that the
            block cannot be exchanged safely.
    """
    before = parse(text.encode("utf-8", "surrogatepass"), 0)
    if before.data is None:
        raise CannotWrite(f"the baseline cannot be read: {before.findings[0].sentence()}")
    root = compose(text)
    assert isinstance(root, yaml.MappingNode)
    data = plain(now)
    start, end, old = _span(root, text)
    if root.flow_style:
        new = f"now: {flow(data)}"
        if old is None:
            new = f", {new}"
    else:
        newline = "\r\n" if "\r\n" in text else "\n"
        new = newline.join(block({"now": data}, root.start_mark.column)) + newline
        if start and text[start - 1] not in "\n":
            new = newline + new
    result = text[:start] + new + text[end:]
    after = parse(result.encode("utf-8", "surrogatepass"), 0).data
    if after is None or after.pop("now", None) is None or after != _without_now(before.data):
        raise CannotWrite(
            "the lines of 'now' cannot be told apart from the rest of the baseline: "
            "put 'now:' on lines of its own"
        )
    return result


def _without_now(data: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in data.items() if key != "now"}


def with_value(text: str, key: str, written: str) -> str:
    """Return a document's text with another value under one of its outermost keys.

    Whatever way the old one is written: plain, quoted, over several lines. All else stays to the
    letter; without the key the text stays as it is.
    """
    root = compose(text)
    assert isinstance(root, yaml.MappingNode)
    for name, value in root.value:
        if name.value == key:
            start, end = value.start_mark.index, value.end_mark.index
            line_end = "\n" if text[start:end].endswith("\n") else ""
            return text[:start] + written + line_end + text[end:]
    return text


def _span(root: yaml.MappingNode, text: str) -> tuple[int, int, yaml.Node | None]:
    """Return where the old ``now`` begins and ends, and its value; an empty span to add one."""
    for key, value in root.value:
        if key.value.strip() == "now":
            if root.flow_style:
                return key.start_mark.index, _end(key, value), value
            start = text.rfind("\n", 0, key.start_mark.index) + 1
            return start, _line_end(text, _end(key, value)), value
    last = _end(*root.value[-1])
    end = last if root.flow_style else _line_end(text, last)
    return end, end, None


def _end(key: yaml.Node, value: yaml.Node) -> int:
    """Return the index after the last character of a value.

    The mark of a block collection lies after the comments that follow it, so its last entry tells.
    """
    last = key.end_mark.index
    while True:
        if isinstance(value, yaml.CollectionNode) and not value.flow_style and value.value:
            entry = value.value[-1]
            if isinstance(value, yaml.MappingNode):
                last, value = entry[0].end_mark.index, entry[1]
            else:
                value = entry
        else:
            return max(last, int(value.end_mark.index))


def _line_end(text: str, index: int) -> int:
    """Return the index after the line that the character before ``index`` stands in."""
    if index and text[index - 1] == "\n":
        return index
    end = text.find("\n", index)
    return len(text) if end < 0 else end + 1
