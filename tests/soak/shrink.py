"""A smaller input that fails in the same place: entries are taken out while the failure stays."""

from __future__ import annotations

from collections.abc import Sequence
from copy import deepcopy
from typing import Any

import yaml

from .emit import document
from .judge import judge

TRIES = 3000


def _tree(raw: bytes) -> Any:
    """Return the data of a document, or its bytes where it has no data that can be cut."""
    try:
        data = yaml.load(raw, Loader=yaml.CBaseLoader)
    except (yaml.YAMLError, ValueError):
        return raw
    return data if isinstance(data, dict | list) else raw


def _bytes(tree: Any) -> bytes:
    return tree if isinstance(tree, bytes) else document(tree)


def _paths(tree: Any) -> list[tuple[Any, ...]]:
    """Return the path of every entry, the outermost first and of these the last first."""
    found: list[tuple[Any, ...]] = []
    rest: list[tuple[Any, tuple[Any, ...]]] = [(tree, ())]
    for group, path in rest:
        if isinstance(group, dict):
            inner = [(value, (*path, key)) for key, value in group.items()]
        elif isinstance(group, list):
            inner = [(value, (*path, n)) for n, value in enumerate(group)]
        else:
            continue
        found.extend(step for _, step in reversed(inner))
        rest.extend(inner)
    return found


def _without(tree: Any, path: tuple[Any, ...]) -> Any | None:
    copy = deepcopy(tree)
    group = copy
    try:
        for step in path[:-1]:
            group = group[step]
        del group[path[-1]]
    except (KeyError, IndexError, TypeError):
        return None
    return copy


def shrunk(raw: Sequence[bytes], number: int, signature: str) -> list[bytes]:
    """Return documents that still fail with ``signature``; the same ones where none is smaller."""
    trees = [_tree(text) for text in raw]

    def fails(candidate: list[Any]) -> bool:
        failure = judge([_bytes(tree) for tree in candidate], number)[1]
        return failure is not None and failure.signature == signature

    if not fails(trees):
        return list(raw)
    tries, smaller = 0, True
    while smaller and tries < TRIES:
        smaller = False
        for at in range(len(trees)):
            for path in _paths(trees[at]):
                cut = _without(trees[at], path)
                if cut is None:
                    continue
                tries += 1
                candidate = [*trees[:at], cut, *trees[at + 1 :]]
                if fails(candidate):
                    trees, smaller = candidate, True
                if tries >= TRIES:
                    break
    return [_bytes(tree) for tree in trees]
