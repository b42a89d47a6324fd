"""The nodal solution of one circuit: volts at nodes and loads, amps everywhere.

Modified nodal analysis (C.-W. Ho, A. Ruehli, P. Brennan, "The modified nodal approach to network
analysis", IEEE Trans. Circuits and Systems 22, 1975, from memory): one equation a node, one
unknown current for each source and each piece without resistance. Loads are ports: the linear
network is solved once for all of them, and constant power is met by Newton's method on the
ports alone. Series are taken together first; :mod:`cablewalk.power.linear` solves what is left.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from cablewalk.power.chains import chained
from cablewalk.power.linear import Array, Entry, solved

ROUNDS = 60
"""Newton's steps at most; from the open-circuit volts a solvable circuit takes fewer than ten,
close to the largest power it can pass a few dozen."""

CLOSE = 1e-10
"""Largest mismatch of port volts, relative to the source, that counts as met."""


@dataclass(frozen=True, slots=True)
class Branch:
    """A resistance between two nodes, ohm; 0 for a join without resistance."""

    a: int
    b: int
    ohm: float


@dataclass(frozen=True, slots=True)
class Source:
    """An ideal source of volts between two nodes."""

    hi: int
    ret: int
    volts: float


@dataclass(frozen=True, slots=True)
class Port:
    """A load between two nodes: constant power, resistance or current (one of them above zero)."""

    hi: int
    ret: int
    power_w: float = 0.0
    ohm: float = 0.0
    amps: float = 0.0


@dataclass(frozen=True, slots=True)
class Solution:
    """What was found; ``converged`` False: the loads ask for more than the circuit can pass.

    ``branch_a`` is positive from a to b; ``source_a`` positive when the source delivers.
    """

    converged: bool
    volts: dict[int, float]
    port_v: tuple[float, ...]
    port_a: tuple[float, ...]
    branch_a: tuple[float, ...]
    source_a: tuple[float, ...]
    rounds: int


NOTHING = Solution(False, {}, (), (), (), (), ROUNDS)


def solve(
    branches: Sequence[Branch],
    sources: Sequence[Source],
    ports: Sequence[Port],
    grounds: Sequence[int],
) -> Solution:
    """Solve a circuit.

    Every node must be tied to one of the ``grounds`` (0 V) by branches and sources, branches
    without resistance and sources must form no loop, and no two grounds may be tied.

    Returns:
        The solution; not converged where constant power cannot be delivered, or where the
        system is singular in spite of the above.
    """
    keep = {n for s in sources for n in (s.hi, s.ret)} | {n for p in ports for n in (p.hi, p.ret)}
    chains = chained([(b.a, b.b, b.ohm) for b in branches], keep | set(grounds))
    answer = _solve([Branch(*ends) for ends in chains.ends], sources, ports, grounds)
    if not answer.converged:
        return answer
    volts = dict(answer.volts)
    amps = [0.0] * len(branches)
    for (start, _, _), steps, through in zip(
        chains.ends, chains.steps, answer.branch_a, strict=True
    ):
        node = start
        for n, way in steps:
            amps[n] = through * way
            branch = branches[n]
            after = branch.b if way > 0 else branch.a
            volts.setdefault(after, volts[node] - through * branch.ohm)
            node = after
    for _, node, other in reversed(chains.dead):
        if other in volts:
            volts[node] = volts[other]
    return replace(answer, volts=volts, branch_a=tuple(amps))


def _solve(
    branches: Sequence[Branch],
    sources: Sequence[Source],
    ports: Sequence[Port],
    grounds: Sequence[int],
) -> Solution:
    """Solve a circuit that is as small as it gets."""
    nodes = sorted(
        {n for b in branches for n in (b.a, b.b)}
        | {n for s in sources for n in (s.hi, s.ret)}
        | {n for p in ports for n in (p.hi, p.ret)}
    )
    row = {node: n for n, node in enumerate(n for n in nodes if n not in grounds)}
    stiff = [b for b in branches if b.ohm == 0.0]
    size = len(row) + len(stiff) + len(sources)
    at = {node: row.get(node, size) for node in nodes}  # row and column ``size`` are ground's
    entries = list(_conductances(branches, ports, at))
    right = np.zeros((size + 1, 1 + len(ports)))
    volts_at = [(b.a, b.b, 0.0) for b in stiff] + [(s.hi, s.ret, s.volts) for s in sources]
    for n, (a, b, volts) in enumerate(volts_at, start=len(row)):
        for node, sign in ((at[a], 1.0), (at[b], -1.0)):
            entries += [(node, n, sign), (n, node, sign)]
        right[n, 0] = volts
    for n, port in enumerate(ports, start=1):
        right[at[port.hi], n] += 1  # what one ampere through this port takes from the volts
        right[at[port.ret], n] -= 1
    inner = solved(entries, right[:size], len(row))
    if inner is None:
        return NOTHING
    answers = np.vstack([inner, np.zeros(1 + len(ports))])
    highs, returns = [at[p.hi] for p in ports], [at[p.ret] for p in ports]
    across = answers[highs] - answers[returns] if ports else np.zeros((0, 1))
    amps, rounds = _port_amps(ports, across[:, 0], across[:, 1:])
    if amps is None:
        return NOTHING
    state = answers[:, 0] - answers[:, 1:] @ amps
    port_v = state[highs] - state[returns] if ports else np.zeros(0)
    total = [
        float(i) + (float(v) / p.ohm if p.ohm else 0.0)
        for i, v, p in zip(amps, port_v, ports, strict=True)
    ]
    unknown = iter(state[len(row) : size])
    branch_a = [
        float((state[at[b.a]] - state[at[b.b]]) / b.ohm) if b.ohm else float(next(unknown))
        for b in branches
    ]
    source_a = [-float(value) for value in unknown]
    return Solution(
        True,
        {node: float(state[at[node]]) for node in nodes},
        tuple(float(v) for v in port_v),
        tuple(total),
        tuple(branch_a),
        tuple(source_a),
        rounds,
    )


def _conductances(
    branches: Sequence[Branch], ports: Sequence[Port], at: dict[int, int]
) -> Iterator[Entry]:
    """Yield the conductances between rows, siemens."""
    pieces = [(b.a, b.b, b.ohm) for b in branches] + [(p.hi, p.ret, p.ohm) for p in ports]
    for one, other, ohm in pieces:
        if ohm:
            a, b, siemens = at[one], at[other], 1 / ohm
            yield from ((a, a, siemens), (b, b, siemens), (a, b, -siemens), (b, a, -siemens))


def _port_amps(ports: Sequence[Port], open_v: Array, ohms: Array) -> tuple[Array | None, int]:
    """Return the currents of the ports (resistances stand in the network), and Newton's steps.

    Port volts are ``open_v - ohms @ amps``. From the open-circuit volts Newton's method comes
    down to the upper of the two solutions of constant power, which is the one a real circuit takes.
    """
    constant = np.array([p.amps for p in ports])
    power = np.array([p.power_w for p in ports])
    if not power.any():
        return constant, 0
    driven = open_v - ohms @ constant
    scale = float(np.abs(open_v).max(initial=0.0))
    if not np.isfinite(scale) or scale == 0.0 or (driven[power > 0] <= 0).any():
        return None, 0
    volts = np.where(power > 0, driven, 1.0)
    taken = power > 0
    for n in range(1, ROUNDS + 1):
        wrong = np.where(taken, volts - driven + ohms @ (power / volts), 0.0)
        slope = np.eye(len(ports)) - ohms * (power / volts**2)
        slope[~taken] = np.eye(len(ports))[~taken]
        try:
            step = np.linalg.solve(slope, wrong)
        except np.linalg.LinAlgError:
            return None, n
        volts = volts - step
        if not np.isfinite(volts).all() or (volts[taken] <= 0).any():
            return None, n
        if float(np.abs(step).max()) <= CLOSE * scale:
            return constant + power / volts * taken, n
    return None, ROUNDS
