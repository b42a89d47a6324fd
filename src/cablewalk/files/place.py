"""Where something stands in a file: from an address path to line and column.

The path may hold what the user did not write: union tags of pydantic, and the names that a
short form stands for. Such steps are skipped; the longest part that exists decides.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field

import yaml

from cablewalk.files.nodes import compose
from cablewalk.files.refusals import line_at
from cablewalk.findings import Path

_WRITTEN_AS = {"clocks": "clock"}
"""Model field to the key that may stand for it in the file."""


def node_at(root: yaml.Node, path: Path) -> yaml.Node:
    """Return the node that marks the place of ``path``.

    For an entry of a group that is its key, for an entry of a list the entry itself; ``root``
    where no step of the path exists.
    """
    place = current = root
    for step in path:
        if isinstance(current, yaml.MappingNode):
            pair = _entry(current, step)
            if pair is not None:
                place, current = pair
        elif isinstance(current, yaml.SequenceNode):
            item = _item(current, step)
            if item is not None:
                place = current = item
        else:
            break
    return place


def _entry(node: yaml.MappingNode, step: str | int) -> tuple[yaml.Node, yaml.Node] | None:
    names = (step, _WRITTEN_AS.get(step)) if isinstance(step, str) else ()
    for key, value in node.value:
        if key.value.strip() in names:
            return key, value
    return None


def _item(node: yaml.SequenceNode, step: str | int) -> yaml.Node | None:
    if isinstance(step, int):
        items: list[yaml.Node] = node.value
        return items[step] if 0 <= step < len(items) else None
    # A list of texts may stand for a mapping: 'P1 pwr4 pin' for the leg P1.
    for item in node.value:
        if isinstance(item, yaml.ScalarNode) and item.value.split()[:1] == [step]:
            return item
    return None


@dataclass(slots=True, eq=False)
class Source:
    """A file that was read: its name, the digest of its bytes, and where things stand in it.

    The node tree is made at the first question for a line, and kept.
    """

    name: str
    sha256: str = ""
    text: str = ""
    """The text, without a byte order mark; empty where the file could not be read as text."""
    pinned: dict[Path, int] = field(default_factory=dict)
    """Lines of what was refused while reading."""
    readable: bool = False
    """Whether the text was accepted, so that a node tree can be made of it."""
    _root: yaml.Node | None = None

    def line(self, path: Path) -> int | None:
        """Return the line (from 1) of ``path``, or None where the file has no lines to show."""
        position = self.position(path)
        return position[0] if position else None

    def position(self, path: Path) -> tuple[int, int | None] | None:
        """Return line and column (from 1) of ``path``; the column is None where not known."""
        if path in self.pinned:
            return self.pinned[path], None
        if not self.readable:
            return None
        if self._root is None:
            self._root = compose(self.text)
        index = node_at(self._root, path).start_mark.index
        return line_at(self.text, index), index - self.text.rfind("\n", 0, index)


def digest(raw: bytes) -> str:
    """Return the SHA-256 of the bytes as they stand in the file, in hexadecimal."""
    return hashlib.sha256(raw).hexdigest()
