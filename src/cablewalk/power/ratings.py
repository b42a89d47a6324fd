"""Ratings: how what a string carries stands against what its feed, wires and contacts bear."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from cablewalk.continuity.verdict import Verdict
from cablewalk.formulas.derating import PROFILES
from cablewalk.power.circuit import Circuit
from cablewalk.power.copper import Copper, Piece
from cablewalk.replay.wiring import NONE, StringLine

KINDS = ("feed", "wire", "contact", "volts", "drop")


@dataclass(frozen=True, slots=True)
class Margin:
    """One quantity of a string against its limit; the worst of its kind.

    ``kind``: ``feed``, ``wire``, ``contact`` (amperes, at most), ``volts`` (at the load, at
    least), ``drop`` (volts from feed to load, at most). No ``limit``: not judged, and ``missing``
    says what is lacking; no ``value``: not known.
    """

    kind: str
    on: str
    value: float | None
    limit: float | None = None
    source: str = ""
    missing: str = ""
    basis: str = ""
    """What the limit was worked out for: gauge, bundle, insulation."""

    @property
    def left(self) -> float | None:
        """What is left up to the limit; negative: past it."""
        if self.value is None or self.limit is None:
            return None
        return self.value - self.limit if self.kind == "volts" else self.limit - self.value

    @property
    def used(self) -> float:
        """Value over limit (for volts the reverse): above 1 is past it; -1 where not judged."""
        if self.value is None or self.limit is None:
            return -1.0
        if self.kind == "volts":
            return self.limit / self.value if self.value > 0 else float("inf")
        return self.value / self.limit


def margins(copper: Copper, circuit: Circuit, string: StringLine, verdict: Verdict) -> list[Margin]:
    """Return the worst margin of each kind of a string that is up."""
    wiring = copper.wiring
    assert string.load is not None and verdict.feed != NONE
    hi, ret = string.load
    load = next(
        (
            n
            for n in circuit.network.loads
            if (copper.loads[n].hi, copper.loads[n].ret) == (hi.a_terminal, ret.a_terminal)
        ),
        None,
    )
    feed = wiring.feeds[verdict.feed]
    if load is None:
        missing = f"what {hi.name} draws (draws of its unit)"
        return [Margin(kind, hi.name, None, missing=missing) for kind in KINDS]
    reading = circuit.loads.get(load)
    if reading is None:
        why = "; ".join(f.text for f in circuit.faults if f.load in ("", copper.loads[load].name))
        return [Margin(k, copper.loads[load].name, None, missing=why or "no number") for k in KINDS]
    ends = {wiring.terminals[t].island for t in (hi.a_terminal, ret.a_terminal, feed.hi, feed.ret)}
    run = list(_on_the_way(circuit.pieces, verdict, ends))
    return [
        _feed(circuit, verdict.feed, feed.id, feed.limit_a),
        _worst("wire", (_wire(copper, p, circuit.pieces[p]) for p in run if p.is_wire)),
        _worst("contact", (_contact(copper, p, circuit.pieces[p]) for p in run if not p.is_wire)),
        _volts(copper, load, reading.volts, circuit.missing),
        _drop(copper, load, feed.volts, reading.volts, circuit.missing),
    ]


def _on_the_way(pieces: Iterable[Piece], verdict: Verdict, ends: set[int]) -> Iterator[Piece]:
    """Yield the pieces a string's current runs through: those on its path, stubs taken off."""
    inside = {island for path in verdict.paths for island in path}
    kept = {
        p
        for p in pieces
        if (p.island in inside if p.is_wire else frozenset((p.island, p.other)) in verdict.steps)
    }
    while True:
        count: dict[int, int] = {}
        for p in kept:
            for node in (p.a, p.b):
                count[node] = count.get(node, 0) + 1
        stubs = {p for p in kept for n in (p.a, p.b) if count[n] == 1 and n not in ends}
        if not stubs:
            yield from sorted(kept, key=lambda p: p.name)
            return
        kept -= stubs


def _feed(circuit: Circuit, feed: int, name: str, limit: float | None) -> Margin:
    amps = circuit.feeds.get(feed)
    missing = "" if limit is not None else f"limit_a of feed {name}"
    if amps is None:
        missing = f"feed {name} shares a loop without resistance"
    return Margin("feed", name, amps, limit, f"limit_a of feed {name}", missing)


def _worst(kind: str, rows: Iterable[Margin]) -> Margin:
    """Return the margin most used; where nothing could be judged, the one with most current.

    Of several not judged, what is missing is told for each once.
    """
    found = list(rows)
    if not found:
        return Margin(kind, "", None, missing=f"no {kind} on its way carries a known current")
    lacking = "; ".join(sorted({row.missing for row in found if row.missing}))
    top = max(found, key=lambda row: (row.used, row.value or 0.0))
    return Margin(kind, top.on, top.value, top.limit, top.source, lacking, top.basis)


def _wire(copper: Copper, piece: Piece, amps: float) -> Margin:
    """Judge a wire by the derating the documents name."""
    rule = copper.electrical.derating
    value = abs(amps)
    if piece.gauge_awg is None:
        return Margin("wire", piece.name, value, missing=f"gauge_awg of {piece.name}")
    if rule is None:
        return Margin("wire", piece.name, value, missing="electrical.derating")
    own = rule.allowed_a.get(str(piece.gauge_awg))
    if own is not None:
        return Margin("wire", piece.name, value, own, f"own table ({rule.source})")
    if rule.profile is None or rule.insulation_c is None:
        return Margin("wire", piece.name, value, missing=f"allowed_a for gauge {piece.gauge_awg}")
    profile = PROFILES[rule.profile]
    if rule.ambient_c is not None and rule.ambient_c > VALID_AT_MOST_C:
        missing = f"a rule for {rule.ambient_c:g} °C: {profile.name} holds for {profile.validity}"
        return Margin("wire", piece.name, value, missing=missing)
    wires = copper.wires_in(piece)
    try:
        allowed = profile.allowed_a(piece.gauge_awg, wires, rule.insulation_c)
    except ValueError as lack:
        return Margin("wire", piece.name, value, missing=str(lack))
    basis = f"{piece.gauge_awg} AWG, {wires} in the bundle, {rule.insulation_c} °C insulation"
    source = f"{profile.source} ({profile.validity}); chosen by {rule.source}"
    return Margin("wire", piece.name, value, allowed, source, basis=basis)


VALID_AT_MOST_C = 70.0
"""The profile's own ambient, MIL-STD-975M App. A 3.16: 70 °C. Cooler is on the safe side."""


def _contact(copper: Copper, piece: Piece, amps: float) -> Margin:
    """Judge a contact by the rating the documents give its size."""
    if not piece.size:
        return Margin("contact", piece.name, abs(amps), missing=piece.missing)
    data = copper.electrical.contacts[piece.size]
    if data.rating_a is None:
        return Margin(
            "contact", piece.name, abs(amps), missing=f"rating_a of contacts of size {piece.size}"
        )
    return Margin("contact", piece.name, abs(amps), data.rating_a, data.source)


def _volts(copper: Copper, load: int, volts: float, lacking: frozenset[str]) -> Margin:
    row = copper.loads[load]
    missing = _with(lacking, "" if row.min_volts is not None else f"min_volts of {row.name}")
    return Margin("volts", row.name, volts, row.min_volts, row.source, missing)


def _drop(
    copper: Copper, load: int, feed_v: float, volts: float, lacking: frozenset[str]
) -> Margin:
    limits = []
    if copper.electrical.drop_volts is not None:
        limits.append((copper.electrical.drop_volts.value, copper.electrical.drop_volts.source))
    if copper.electrical.drop_percent is not None:
        percent = copper.electrical.drop_percent
        limits.append((percent.value * feed_v / 100, percent.source))
    name = copper.loads[load].name
    if not limits:
        missing = _with(lacking, "electrical.drop_volts or drop_percent")
        return Margin("drop", name, feed_v - volts, missing=missing)
    limit, source = min(limits)
    return Margin("drop", name, feed_v - volts, limit, source, _with(lacking))


def _with(lacking: frozenset[str], *more: str) -> str:
    """Return what is missing: limits, and resistances that were counted as nothing."""
    parts = [text for text in more if text]
    if lacking:
        parts.append("counted as no resistance: " + "; ".join(sorted(lacking)))
    return "; ".join(parts)
