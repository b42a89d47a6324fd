"""The nodal solution against a direct solve and against ladders worked out by hand."""

from __future__ import annotations

import sys
from math import sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cablewalk.power import linear
from cablewalk.power.nodal import Branch, Port, Source, solve

HAND = 1e-9
"""Relative: Newton's method stops at 1e-10 of the source's volts."""


def test_one_constant_power_load_by_hand() -> None:
    """28 V over 1 ohm into 100 W: V² - 28 V + 100 = 0, V = 14 + sqrt(96)."""
    found = solve([Branch(1, 2, 1.0)], [Source(1, 0, 28)], [Port(2, 0, power_w=100)], [0])
    assert found.converged
    assert found.port_v[0] == pytest.approx(14 + sqrt(96), rel=HAND)
    assert found.branch_a[0] == pytest.approx(100 / (14 + sqrt(96)), rel=HAND)
    assert found.source_a[0] == pytest.approx(found.port_a[0], rel=HAND)


def test_ladder_with_constant_power_by_hand() -> None:
    """A ladder chosen from its end: 24 V at the far load of 48 W, so 2 A over 1 ohm; 26 V at
    the near load of 52 W, so 2 A more, 4 A over 0.5 ohm: the source is 28 V.
    """
    branches = [Branch(1, 2, 0.5), Branch(2, 3, 1.0)]
    ports = [Port(2, 0, power_w=52), Port(3, 0, power_w=48)]
    found = solve(branches, [Source(1, 0, 28)], ports, [0])
    assert found.port_v == pytest.approx((26, 24), rel=HAND)
    assert found.branch_a == pytest.approx((4, 2), rel=HAND)
    assert found.source_a == pytest.approx((4,), rel=HAND)


def test_ladder_of_mixed_loads_by_hand() -> None:
    """10 V at 5 ohm (2 A) and 1 A constant: 3 A over 1 ohm: 13 V; 39 W there (3 A): 6 A over
    0.5 ohm: 16 V. Joins without resistance between.
    """
    branches = [Branch(1, 2, 0.5), Branch(2, 3, 0.0), Branch(3, 4, 1.0), Branch(4, 5, 0.0)]
    ports = [Port(3, 0, power_w=39), Port(5, 0, ohm=5), Port(4, 0, amps=1)]
    found = solve(branches, [Source(1, 0, 16)], ports, [0])
    assert found.port_v == pytest.approx((13, 10, 10), rel=HAND)
    assert found.branch_a == pytest.approx((6, 6, 3, 2), rel=HAND)


def test_most_power_a_line_passes() -> None:
    """28 V over 1 ohm passes at most V²/4R = 196 W, at 14 V."""
    line, source = [Branch(1, 2, 1.0)], [Source(1, 0, 28)]
    nearly = solve(line, source, [Port(2, 0, power_w=195.99)], [0])
    assert nearly.converged
    assert nearly.port_v[0] == pytest.approx(14 + sqrt(196 - 195.99), rel=1e-6)
    for watts in (196.01, 250.0, 1e6):
        assert not solve(line, source, [Port(2, 0, power_w=watts)], [0]).converged


def test_two_parallel_sources_share_by_their_resistances() -> None:
    """30 V over 1 ohm and 30 V over 2 ohm into 4 A: 8/3 A and 4/3 A."""
    branches = [Branch(1, 3, 1.0), Branch(2, 3, 2.0)]
    found = solve(branches, [Source(1, 0, 30), Source(2, 0, 30)], [Port(3, 0, amps=4)], [0])
    assert found.source_a == pytest.approx((8 / 3, 4 / 3), rel=HAND)


OHMS = st.floats(0.01, 5)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 100), OHMS), min_size=1, max_size=25),
    st.lists(st.tuples(st.integers(0, 100), st.integers(0, 100), OHMS), max_size=10),
    st.lists(st.tuples(st.integers(0, 100), st.floats(5, 500)), min_size=1, max_size=8),
)
def test_resistances_against_a_direct_solve(
    tree: list[tuple[int, float]],
    more: list[tuple[int, int, float]],
    loads: list[tuple[int, float]],
) -> None:
    """Any connected network of resistances: the plain conductance matrix, solved by numpy."""
    branches = [Branch(parent % (n + 1) + 1, n + 2, ohm) for n, (parent, ohm) in enumerate(tree)]
    count = len(tree) + 1
    branches += [Branch(a % count + 1, b % count + 1, r) for a, b, r in more if (a - b) % count]
    ports = [Port(at % len(tree) + 2, 0, ohm=ohm) for at, ohm in loads]
    found = solve(branches, [Source(1, 0, 28)], ports, [0])
    matrix = np.zeros((count + 1, count + 1))
    for a, b, ohm in [(b.a, b.b, b.ohm) for b in branches] + [(p.hi, 0, p.ohm) for p in ports]:
        matrix[a, a] += 1 / ohm
        matrix[b, b] += 1 / ohm
        matrix[a, b] -= 1 / ohm
        matrix[b, a] -= 1 / ohm
    inner = list(range(2, count + 1))
    volts = np.linalg.solve(matrix[np.ix_(inner, inner)], -matrix[inner, 1] * 28)
    assert [found.volts[n] for n in inner] == pytest.approx(list(volts), rel=1e-8, abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 100), st.floats(0.01, 0.5)), min_size=1, max_size=15),
    st.lists(st.tuples(st.integers(0, 100), st.floats(1, 200)), min_size=1, max_size=8),
)
def test_a_solution_balances(tree: list[tuple[int, float]], loads: list[tuple[int, float]]) -> None:
    """Where it converges, Kirchhoff's current law and the loads' power hold; Tellegen's theorem."""
    branches = [Branch(parent % (n + 1) + 1, n + 2, ohm) for n, (parent, ohm) in enumerate(tree)]
    ports = [Port(at % len(tree) + 2, 0, power_w=watts) for at, watts in loads]
    found = solve(branches, [Source(1, 0, 28)], ports, [0])
    if not found.converged:
        assert not found.volts
        return
    into: dict[int, float] = {}
    for branch, amps in zip(branches, found.branch_a, strict=True):
        into[branch.a] = into.get(branch.a, 0.0) - amps
        into[branch.b] = into.get(branch.b, 0.0) + amps
    for port, amps, volts in zip(ports, found.port_a, found.port_v, strict=True):
        into[port.hi] -= amps
        assert amps * volts == pytest.approx(port.power_w, rel=1e-6)
    into[1] += found.source_a[0]
    assert max(abs(rest) for rest in into.values()) < 1e-6
    lost = sum(b.ohm * a * a for b, a in zip(branches, found.branch_a, strict=True))
    assert 28 * found.source_a[0] == pytest.approx(lost + sum(p.power_w for p in ports), rel=1e-6)


def lattice(rungs: int) -> tuple[list[Branch], list[Source], list[Port]]:
    """Return a ladder of two rails with rungs between: no two of its pieces are in series."""
    branches: list[Branch] = []
    for n in range(rungs):
        near, far = 1 + 2 * n, 2 + 2 * n
        branches.append(Branch(near, far, 0.3 + 0.01 * (n % 7)))
        branches += [Branch(near, near + 2, 0.002), Branch(far, far + 2, 0.003)]
    branches.append(Branch(2 * rungs + 1, 2 * rungs + 2, 0.0))
    ports = [Port(2 + 2 * n, 0, power_w=6.0 + n) for n in range(0, rungs, rungs // 16)]
    return branches, [Source(1, 0, 120)], [*ports, Port(3, 0, ohm=40), Port(5, 0, amps=0.5)]


def test_dense_and_sparse_agree_on_four_hundred_nodes(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same circuit by both; what is left after series are taken together is still as large."""
    pytest.importorskip("scipy")
    asked: list[int] = []
    sparse_solve = linear._sparse

    def noted(sparse: object, entries: list[linear.Entry], right: linear.Array) -> object:
        asked.append(len(right))
        return sparse_solve(sparse, entries, right)

    monkeypatch.setattr(linear, "_sparse", noted)
    circuit = lattice(200)
    sparse = solve(*circuit, [0])
    assert asked and asked[0] > 400
    monkeypatch.setattr(linear, "DENSE_UP_TO", 10_000)
    dense = solve(*circuit, [0])
    assert len(asked) == 1
    assert sparse.converged and dense.converged
    assert sparse.port_v == pytest.approx(dense.port_v, rel=1e-9)
    assert sparse.branch_a == pytest.approx(dense.branch_a, rel=1e-7, abs=1e-9)
    assert sparse.source_a == pytest.approx(dense.source_a, rel=1e-9)


def test_a_large_circuit_without_a_solution_has_no_number() -> None:
    """Sparse or dense: two sources of different volts on one pair of nodes."""
    branches, sources, ports = lattice(200)
    assert not solve(branches, [*sources, Source(1, 0, 100)], ports, [0]).converged


def test_without_scipy_large_circuits_are_solved_dense(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "scipy.sparse.linalg", None)
    linear._scipy.cache_clear()
    try:
        assert linear._scipy() is None
        assert solve(*lattice(110), [0]).converged
    finally:
        linear._scipy.cache_clear()
