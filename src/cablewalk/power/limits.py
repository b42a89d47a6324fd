"""Limits: what feeds, wires, contacts and loads bear, each with who says so."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from dataclasses import dataclass, replace

from cablewalk.formulas.derating import PROFILES
from cablewalk.power.bundles import Bundles
from cablewalk.power.circuit import Circuit
from cablewalk.power.copper import Copper
from cablewalk.power.pieces import Piece
from cablewalk.replay.configuration import Configuration

VALID_AT_MOST_C = 70.0
"""The profile's own ambient, MIL-STD-975M App. A 3.16: 70 °C. Cooler is on the safe side."""

DIGITS = 9
"""Decimals in which margins are told apart."""

SAME = 1e-9
"""Share of a limit by which a value may be beyond it and still counts as at it: rounding of the
solution, which is met to 1e-10 of the source's volts."""

COUNTED = "counted as no resistance: "
"""What stands in ``missing`` before resistances that are not given: those lack to no limit."""

Key = tuple[Hashable, ...]
"""What a margin is of, wherever and whenever it is met."""


@dataclass(frozen=True, slots=True)
class Margin:
    """One quantity against its limit; of a string, the worst of its kind.

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
    conductor: str = ""
    """Wire: which of the conductors of its segment."""
    resistances: tuple[str, ...] = ()
    """Volts and drop: who gave the resistances they were worked out with."""
    keys: tuple[Key, ...] = ()
    """What it is of; of several wires or contacts, all that are past their limits."""

    @property
    def left(self) -> float | None:
        """What is left up to the limit; negative: past it."""
        if self.value is None or self.limit is None:
            return None
        return self.value - self.limit if self.kind == "volts" else self.limit - self.value

    @property
    def is_past(self) -> bool:
        """Whether it is past its limit, by more than rounding."""
        return self.limit is not None and self.left is not None and self.left < -SAME * self.limit

    @property
    def lacking(self) -> tuple[str, ...]:
        """What is lacking to a limit, one by one."""
        text, _, _ = self.missing.partition(COUNTED)
        return tuple(part for part in text.split("; ") if part)

    @property
    def used(self) -> float | None:
        """Value over limit (for volts the reverse): above 1 is past it; None where not judged."""
        if self.value is None or self.limit is None:
            return None
        if self.kind == "volts":
            return self.limit / self.value if self.value > 0 else float("inf")
        return self.value / self.limit

    @property
    def rank(self) -> tuple[bool, float, float]:
        """Grows with how bad it is: judged before not judged, then the most used, the largest.

        Rounded, so that the last bits of a solution decide nothing.
        """
        used, value = self.used, self.value or 0.0
        value = -value if self.kind == "volts" else value
        return used is not None, round(used or 0.0, DIGITS), round(value, DIGITS)


class Limits:
    """Holds what circuits carry against what the documents allow, in one configuration."""

    def __init__(self, config: Configuration, copper: Copper) -> None:
        self.copper = copper
        self.wiring = config.wiring
        self.bundles = Bundles(config, copper)
        self._wires: dict[str, Margin] = {}
        self._contacts: dict[tuple[str, str], Margin] = {}

    def ties_changed(self) -> None:
        """Count bundles anew."""
        self.bundles.look()
        self._wires.clear()

    def feed(self, circuit: Circuit, feed: int) -> Margin:
        """Judge what a feed gives, or takes, by absolute amperes."""
        line = self.wiring.feeds[feed]
        amps = circuit.feeds.get(feed)
        missing = "" if line.limit_a is not None else f"limit_a of feed {line.id}"
        if amps is None:
            missing = _why_not(circuit) or f"feed {line.id} shares a loop without resistance"
        return Margin(
            "feed",
            line.id,
            None if amps is None else abs(amps),
            line.limit_a,
            line.limit_source or f"limit_a of feed {line.id}",
            missing,
            keys=(("feed", feed),),
        )

    def piece(self, circuit: Circuit, piece: Piece) -> Margin:
        """Judge the current in a wire or a pair of contacts."""
        bare = self._wire(piece) if piece.is_wire else self._contact(piece)
        amps = circuit.pieces.get(piece)
        missing = bare.missing
        if amps is None:
            missing = "how the current divides in a loop without resistance"
        return replace(
            bare,
            on=piece.name,
            value=None if amps is None else abs(amps),
            missing=missing,
            conductor=piece.run,
            keys=((bare.kind, piece.name, piece.a, piece.b),),
        )

    def volts(self, circuit: Circuit, load: int) -> Margin:
        """Judge the volts a load gets."""
        row, reading = self.copper.loads[load], circuit.loads.get(load)
        if reading is None:
            why = _why_not(circuit) or "; ".join(
                f.text for f in circuit.faults if f.load in ("", row.name)
            )
            return Margin("volts", row.name, None, missing=why or "no number")
        missing = "" if row.min_volts is not None else f"min_volts of {row.name}"
        return Margin(
            "volts",
            row.name,
            reading.volts,
            row.min_volts,
            row.source,
            missing,
            keys=(("volts", load),),
        )

    def _wire(self, piece: Piece) -> Margin:
        found = self._wires.get(piece.name)
        if found is None:
            found = self._wires[piece.name] = self._derated(piece)
        return found

    def _derated(self, piece: Piece) -> Margin:
        """Return the limit of a wire by the derating the documents name."""
        rule = self.copper.electrical.derating

        def lacking(what: str) -> Margin:
            return Margin("wire", piece.name, None, missing=what)

        if piece.gauge_awg is None:
            return lacking(f"gauge_awg of {piece.name}")
        if rule is None:
            return lacking("electrical.derating")
        own = rule.allowed_a.get(str(piece.gauge_awg))
        if own is not None:
            return Margin("wire", piece.name, None, own, f"own table ({rule.source})")
        if rule.profile is None or rule.insulation_c is None:
            return lacking(f"allowed_a for gauge {piece.gauge_awg}")
        profile = PROFILES[rule.profile]
        if rule.ambient_c is not None and rule.ambient_c > VALID_AT_MOST_C:
            return lacking(
                f"a rule for {rule.ambient_c:g} °C: {profile.name} holds for {profile.validity}"
            )
        bundle = self.bundles.of(piece)
        try:
            allowed = profile.allowed_a(piece.gauge_awg, bundle.wires, rule.insulation_c)
        except ValueError as lack:
            return lacking(str(lack))
        tied = f": {bundle.tied}" if bundle.tied else ""
        basis = (
            f"{piece.gauge_awg} AWG, {bundle.wires} in the bundle{tied}, "
            f"{rule.insulation_c} °C insulation"
        )
        source = f"{profile.source} ({profile.validity}); chosen by {rule.source}"
        return Margin("wire", piece.name, None, allowed, source, basis=basis)

    def _contact(self, piece: Piece) -> Margin:
        """Return the limit of a contact by the rating the documents give its size."""
        key = (piece.size, piece.missing)
        found = self._contacts.get(key)
        if found is None:
            found = self._contacts[key] = self._rated(piece)
        return found

    def _rated(self, piece: Piece) -> Margin:
        if not piece.size:
            return Margin("contact", "", None, missing=piece.missing)
        data = self.copper.electrical.contacts[piece.size]
        if data.rating_a is None:
            missing = f"rating_a of contacts of size {piece.size}"
            return Margin("contact", "", None, missing=missing)
        return Margin("contact", "", None, data.rating_a, data.source)


def _why_not(circuit: Circuit) -> str:
    """Return why a circuit has no numbers; empty where it has."""
    return "" if circuit.solved else "; ".join(f.text for f in circuit.faults if not f.load)


def counted(margin: Margin, lacking: Iterable[str], given: Iterable[str]) -> Margin:
    """Return a margin that names the resistances counted as nothing too, and who gave the others.

    They bear on volts, and on currents: of several ways the one of unknown resistance seems to
    take all.
    """
    if margin.kind in ("volts", "drop") and margin.value is not None:
        margin = replace(margin, resistances=tuple(sorted(set(given))))
    told = "; ".join(sorted(set(lacking)))
    if not told:
        return margin
    parts = [margin.missing] if margin.missing else []
    return replace(margin, missing="; ".join([*parts, COUNTED + told]))


def worst(kind: str, rows: Iterable[Margin]) -> Margin:
    """Return the margin most used; where nothing could be judged, the one with most current.

    Of several not judged, what is missing is told for each once.
    """
    found = list(rows)
    if not found:
        return Margin(kind, "", None, missing=f"no {kind} on its way carries a known current")
    lacking = "; ".join(dict.fromkeys(row.missing for row in found if row.missing))
    top = max(found, key=lambda row: row.rank)
    past = tuple(key for row in found if row.is_past for key in row.keys)
    keys = past if kind in ("wire", "contact") else top.keys
    return replace(top, missing=lacking, keys=keys)
