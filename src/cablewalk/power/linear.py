"""Linear equations of one circuit: dense, or sparse above 200 nodes where scipy is installed.

Measured (``python -m tests.benchmarks.power_speed``): a dense solution of few nodes takes a tenth
of a sparse one's time; of several hundred nodes it takes longer, and the more so the more there
are. Both give the same numbers, to rounding: scipy is asked for speed alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any, Final

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Entry = tuple[int, int, float]
"""Row, column, and what is added there."""

DENSE_UP_TO: Final = 200
"""Nodes; a larger circuit is solved sparse."""


def solved(entries: Sequence[Entry], right: Array, nodes: int) -> Array | None:
    """Return what solves the equations, a column for each of ``right``; None if nothing does.

    Args:
        entries: the matrix; those that meet are added up, those beyond ``right`` left out (the
            ground's row and column).
        right: the right-hand sides, a column each.
        nodes: how many of the rows are nodes; the rest are unknown currents.
    """
    size = len(right)
    inner = [entry for entry in entries if entry[0] < size and entry[1] < size]
    sparse = _scipy() if nodes > DENSE_UP_TO else None
    answer = _sparse(sparse, inner, right) if sparse else _dense(inner, right)
    return answer if answer is not None and np.isfinite(answer).all() else None


def _dense(entries: Sequence[Entry], right: Array) -> Array | None:
    matrix = np.zeros((len(right), len(right)))
    for row, column, value in entries:
        matrix[row, column] += value
    try:
        answer: Array = np.asarray(np.linalg.solve(matrix, right), np.float64)
    except np.linalg.LinAlgError:
        return None
    return answer


def _sparse(sparse: Any, entries: Sequence[Entry], right: Array) -> Array | None:
    rows, columns, values = zip(*entries, strict=True)
    matrix = sparse.csc_array((values, (rows, columns)), shape=(len(right), len(right)))
    try:
        answer: Array = sparse.linalg.splu(matrix).solve(right)
    except RuntimeError:  # what SuperLU raises where a pivot is zero
        return None
    return answer


@cache
def _scipy() -> Any | None:
    """Return scipy's sparse matrices, or None where scipy is not installed."""
    try:
        import scipy.sparse.linalg
    except ImportError:
        return None
    return scipy.sparse
