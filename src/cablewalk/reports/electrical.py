"""The report of ``cablewalk loads``: volts, amperes and margins."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any, Literal

from pydantic import Field

from cablewalk.files.place import Source
from cablewalk.reports.base import Part, Pet, pet_at
from cablewalk.reports.heading import Report, heading
from cablewalk.reports.outage import step_and_phase
from cablewalk.timeline.account import Account, with_findings
from cablewalk.units import minutes

if TYPE_CHECKING:
    from cablewalk.power.limits import Margin
    from cablewalk.timeline.electrical import Loading
    from cablewalk.timeline.overloads import Carried
    from cablewalk.walk.scene import Spot

MOST_USED = 1e6
"""More than this times its limit is no percentage any more: a load that gets no volts at all."""

Kind = Literal["feed", "wire", "contact", "volts", "drop"]


class MarginRow(Part):
    """One quantity of a string against its limit, the worst of its kind."""

    kind: Kind = Field(
        description="feed, wire, contact: amperes, at most; volts: at the load, at least; drop: "
        "volts lost from feed to load, at most."
    )
    on: str = Field(description="The feed, segment, contact pair or load it is of.")
    conductor: str = Field(
        description="Wire: the contacts the conductor joins; empty for the others."
    )
    value: float | None = Field(description="Amperes or volts; null: not known.")
    limit: float | None = Field(description="The limit; null: not given, so not judged.")
    left: float | None = Field(description="What is left up to it; negative: past it.")
    past: bool = Field(description="Whether it is past its limit, by more than rounding.")
    used_percent: float | None = Field(description="Value over limit (for volts the reverse).")
    limit_source: str = Field(description="Who set the limit; may be empty.")
    limit_basis: str = Field(description="What it was worked out for; may be empty.")
    resistances: tuple[str, ...] = Field(
        description="Volts and drop: who gave the resistances they were worked out with."
    )
    missing: str = Field(description="What the documents lack; may be empty.")
    at_min: float = Field(description="When it was so.")
    at_pet: Pet = Field(description="That moment in phase elapsed time.")
    by_step: str | None = Field(description="Id of the step; null: so at the start.")
    by_phase: str | None = Field(description="Id of that step's procedure, or null.")


class StringLoadRow(Part):
    """What one string of a service carries."""

    service: str = Field(description="Id of the service.")
    string: str = Field(description="Id of the string.")
    surviving: bool = Field(
        description="While a sister string was down: this one carries what is left."
    )
    margins: tuple[MarginRow, ...] = Field(description="What it carries against its limits.")


class CurrentRow(Part):
    """The current in a stretch of wire or a mated pair of contacts."""

    name: str = Field(description="harness.segment, or the two contacts.")
    conductor: str = Field(
        description="Wire: the contacts its conductor joins; empty for contacts."
    )
    kind: Literal["wire", "contact"] = Field(description="Which of the two.")
    amps: float = Field(description="The current, whichever way.")
    ohm: float | None = Field(description="Its resistance; null: not given, counted as none.")
    ohm_source: str = Field(description="Who gave that; empty where it is not given.")


class FeedRow(Part):
    """What a feed that is up delivers."""

    feed: str = Field(description="Id of the feed.")
    volts: float = Field(description="Its volts.")
    amps: float | None = Field(description="What it delivers; null: not known.")
    limit_a: float | None = Field(description="What it may; null: not given.")
    limit_source: str = Field(description="Who set that; may be empty.")


class LoadRow(Part):
    """What a load gets."""

    load: str = Field(description="Its unit and draw, with a dot between.")
    volts: float = Field(description="Volts at its terminals.")
    amps: float = Field(description="Amperes it draws.")
    min_volts: float | None = Field(description="What it needs; null: not given.")


class LoadsReport(Report):
    """What strings carry, at worst over a replay or after a step."""

    report: Literal["loads"] = Field(description="Which report this is.")
    after_step: str | None = Field(description="After which step; null: worst over the replay.")
    strings: tuple[StringLoadRow, ...] = Field(description="The power strings that were up.")
    feeds: tuple[FeedRow, ...] = Field(description="Feeds up at the end of what was asked for.")
    loads: tuple[LoadRow, ...] = Field(description="Loads fed then.")
    currents: tuple[CurrentRow, ...] = Field(description="Wires and contacts with current then.")
    not_known: tuple[str, ...] = Field(
        description="What the documents lack, at any moment of what is told: resistances counted "
        "as none."
    )
    resistances: tuple[str, ...] = Field(description="Who gave the others.")


def loads_report(
    account: Account, sources: Sequence[Source], spot: Spot | None = None
) -> LoadsReport:
    """Return the report of a replay with at least one phase; ``sources``: the baseline's first.

    ``spot``: the step after which to look; None: the worst over the replay.
    """
    from cablewalk.timeline.electrical import loading  # numpy: only where loads are asked for

    found = loading(account.ground.baseline, account.trace, spot.position if spot else None)
    told = with_findings(account, found.findings)
    return LoadsReport(
        **heading(told, sources),
        report="loads",
        after_step=spot.step if spot else None,
        strings=_strings(account, found.now if spot else found.worst.values()),
        **_state(account, found),
        not_known=_of_all(found, "missing", spot is None),
        resistances=_of_all(found, "resistances", spot is None),
    )


def _strings(account: Account, rows: Iterable[Carried]) -> tuple[StringLoadRow, ...]:
    wiring = account.trace.wiring
    groups: dict[tuple[int, bool], list[Carried]] = {}
    for row in rows:
        groups.setdefault((row.string, row.surviving), []).append(row)
    return tuple(
        StringLoadRow(
            service=wiring.services[wiring.strings[string].service].id,
            string=wiring.strings[string].id,
            surviving=surviving,
            margins=tuple(_margin(account, row) for row in groups[(string, surviving)]),
        )
        for string, surviving in sorted(groups)
    )


def _margin(account: Account, row: Carried) -> MarginRow:
    margin: Margin = row.margin
    step, phase = step_and_phase(account, row.event)
    return MarginRow(
        kind=margin.kind,  # type: ignore[arg-type]
        on=margin.on,
        conductor=margin.conductor,
        value=_rounded(margin.value),
        limit=_rounded(margin.limit),
        left=_rounded(margin.left),
        past=margin.is_past,
        used_percent=_percent(margin.used),
        limit_source=margin.source if margin.limit is not None else "",
        limit_basis=margin.basis,
        resistances=margin.resistances,
        missing=margin.missing,
        at_min=minutes(row.time_s),
        at_pet=pet_at(account.trace, row.time_s, row.event.task.phase if row.event else None),
        by_step=step,
        by_phase=phase,
    )


def _rounded(value: float | None, digits: int = 4) -> float | None:
    """Return a value as it is printed; never a minus before nothing."""
    return None if value is None else round(value, digits) + 0.0


def _percent(used: float | None) -> float | None:
    return None if used is None or used >= MOST_USED else _rounded(used * 100, 1)


def _state(account: Account, found: Loading) -> dict[str, Any]:
    """Return feeds, loads and currents at the end of what was asked for."""
    wiring = account.trace.wiring
    circuits = found.circuits
    delivered = {f: c.feeds.get(f) for c in circuits for f in c.network.feeds}
    return {
        "feeds": tuple(
            FeedRow(
                feed=wiring.feeds[f].id,
                volts=wiring.feeds[f].volts,
                amps=_rounded(amps),
                limit_a=wiring.feeds[f].limit_a,
                limit_source=wiring.feeds[f].limit_source,
            )
            for f, amps in sorted(delivered.items())
        ),
        "loads": tuple(
            LoadRow(
                load=found.names[n],
                volts=round(reading.volts, 4) + 0.0,
                amps=round(reading.amps, 4) + 0.0,
                min_volts=found.min_volts[n],
            )
            for n, reading in sorted((n, r) for c in circuits for n, r in c.loads.items())
        ),
        "currents": tuple(
            CurrentRow(
                name=piece.name,
                conductor=piece.run,
                kind="wire" if piece.is_wire else "contact",
                amps=round(abs(amps), 4),
                ohm=None if piece.ohm is None else round(piece.ohm, 6),
                ohm_source=piece.source,
            )
            for circuit in circuits
            for piece, amps in sorted(
                circuit.pieces.items(), key=lambda row: (row[0].name, row[0].run)
            )
            if abs(amps) > 1e-9
        ),
    }


def _of_all(
    found: Loading, which: Literal["missing", "resistances"], whole: bool
) -> tuple[str, ...]:
    """Return what is not known, or who gave the rest: of the whole replay, or as it ends."""
    if whole:
        return tuple(sorted(getattr(found, which)))
    return tuple(sorted({text for c in found.circuits for text in getattr(c, which)}))
