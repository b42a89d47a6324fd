"""The parts of the report of ``cablewalk halt``."""

from __future__ import annotations

from pydantic import Field

from cablewalk.reports.base import Part, Pet
from cablewalk.reports.fault import FindingRow


class DownRow(Part):
    """A service that is down as work stops, and stays so until somebody goes on."""

    service: str = Field(description="Id of the service.")
    kind: str = Field(description="Its kind.")
    label: str = Field(description="Its label; may be empty.")
    at_start: bool = Field(description="It was down already as the replay began.")
    said_dark: bool = Field(
        description="The baseline says that it is dark (dark_min) and nothing in it says why, or "
        "that it was found down (found_down): it is taken to be so until it is verified."
    )
    from_min: float = Field(description="When it went down (dark_min before, if at the start).")
    dark_min: float = Field(description="Minutes it has been dark as work stops.")
    clock_min: float | None = Field(
        description="Minutes allowed by its clock: of those that run, the one that ends first; "
        "null: it has none, and nobody says how long it may be down."
    )
    clock_source: str | None = Field(description="Who allows them; null as above.")
    clock_runs: bool = Field(description="Whether that clock runs as work stops.")
    reconnect_by_min: float | None = Field(
        description="The latest moment for the action that brings it back to be over, what it and "
        "the services it needs take to recover counted, as they are at the stop; null: no clock "
        "runs."
    )
    reconnect_by_pet: Pet | None = Field(
        description="That moment on the clock of the phase under way, rounded down; or null."
    )
    left_min: float | None = Field(
        description="Minutes from the stop to reconnect_by_min; negative: it is too late already; "
        "null: no clock runs."
    )
    estimate_by_min: float | None = Field(
        description="Where it has no clock but heats a zone: the latest moment by that zone's "
        "estimate, not for go/no-go; null: none."
    )
    estimate_by_pet: Pet | None = Field(description="That moment as reconnect_by_pet; or null.")
    estimate_zone: str | None = Field(description="Id of that zone, or null.")
    restored_by_step: str | None = Field(
        description="Id of the step that brings it back as planned; null: none does."
    )
    restored_by_phase: str | None = Field(description="Id of that step's procedure, or null.")
    retired_by_step: str | None = Field(
        description="Id of the step that retires it as planned, so that it need not come back."
    )
    retired_by_phase: str | None = Field(description="Id of that step's procedure, or null.")


class RecoveringRow(Part):
    """A service that is reconnected as work stops, and comes back without anybody."""

    service: str = Field(description="Id of the service.")
    kind: str = Field(description="Its kind.")
    back_min: float = Field(description="When it counts as back.")
    back_pet: Pet = Field(description="That moment, rounded up, as reconnect_by_pet.")
    margin_min: float | None = Field(
        description="Minutes left of its tightest clock then; negative: overrun; null: no clock."
    )


class WeakRow(Part):
    """A service that is up by fewer strings than it has, or not verified since it was disturbed."""

    service: str = Field(description="Id of the service.")
    kind: str = Field(description="Its kind.")
    state: str = Field(description="reduced, reduced unproven, or up unproven.")
    strings: tuple[str, ...] = Field(description="The strings it is up by.")


class LiveHalfRow(Part):
    """A half whose contacts may be live and can be reached."""

    half: str = Field(description="Id of the half.")
    label: str = Field(description="Its label; may be empty.")
    state: str = Field(description="How it stands, as 'bare' or 'part engaged'.")
    being: str = Field(description="The action at work on it, in words; empty: none is.")
    found_so: bool = Field(description="It was so in the baseline, and the work left it so.")
    feeds: tuple[str, ...] = Field(description="Ids of the feeds that may make it live.")


class DeedRow(Part):
    """An action of a step."""

    phase: str = Field(description="Id of the procedure.")
    step: str = Field(description="Id of the step.")
    action_number: int = Field(description="Position of the action in the step, from 1.")
    by: tuple[str, ...] = Field(description="Ids of the people at it.")
    text: str = Field(description="The action in words.")


class BegunRow(Part):
    """A step that is begun and not over."""

    phase: str = Field(description="Id of the procedure.")
    step: str = Field(description="Id of the step.")
    done: int = Field(description="How many of its actions are over.")
    actions: int = Field(description="How many it has.")
    following: DeedRow | None = Field(
        description="The next action to begin; null: the last is under way."
    )


class HeldRow(Part):
    """An inhibit that must hold while work stands still."""

    id: str = Field(description="Its id.")
    requires: str = Field(description="What it requires, as the procedure has it.")
    owner: str = Field(description="Whose it is.")
    holds: bool = Field(description="Whether it holds as work stops.")
    why_not: str = Field(description="Why it does not; empty where it does.")


class PersonRow(Part):
    """Where somebody is as work stops."""

    person: str = Field(description="Id of the person.")
    place: str | None = Field(description="Id of the place; null: nobody says.")
    holds: tuple[str, ...] = Field(description="Ids of what is in hand or carried.")


class PauseRow(Part):
    """What ends a pause after which work goes on as planned."""

    ends: str = Field(description="Id of a service, or consumables, turn-back or 'decision ID'.")
    minutes: float = Field(
        description="Minutes until it is overrun; negative: it is overrun without a pause."
    )


class HaltRow(Part):
    """Work stops: no further action begins, and nobody does anything."""

    phase: str = Field(description="Id of the procedure under way, or about to begin.")
    phase_number: int = Field(description="Position of that phase, from 1.")
    after: tuple[DeedRow, ...] = Field(
        description="The actions that end here; empty: the phase is about to begin."
    )
    after_steps: tuple[str, ...] = Field(description="Ids of the steps that end with them.")
    at_min: float = Field(description="When.")
    at_pet: Pet = Field(description="That moment in phase elapsed time.")
    good: bool = Field(
        description="Whether it can be left so: nothing under way, left open or live by the work; "
        "no clock runs or will be overrun, no service that the work took down lacks a clock, and "
        "every inhibit that must hold does."
    )
    next_good_min: float | None = Field(
        description="Minutes from here to the next good stop as planned, gaps between phases "
        "included; 0: this is one; null: none comes."
    )
    next_good_pet: Pet | None = Field(description="When that is; or null.")
    last_good_min: float | None = Field(
        description="Minutes since the last good stop; 0: this is one; null: there was none."
    )
    last_good_pet: Pet | None = Field(description="When that was; or null.")
    pause_min: float | None = Field(
        description="Minutes work may stand still here, and then go on as planned, before a clock "
        "or a limit of the phase is overrun, by likely minutes, slack not counted; negative: that "
        "is overrun without a pause; null: neither a clock runs nor a limit is to come."
    )
    pauses: tuple[PauseRow, ...] = Field(description="All that ends it, the soonest first.")
    down: tuple[DownRow, ...] = Field(description="Services down, in the baseline's order.")
    recovering: tuple[RecoveringRow, ...] = Field(description="Services that come back anyway.")
    weak: tuple[WeakRow, ...] = Field(description="Services up, but not whole or not proven.")
    live: tuple[LiveHalfRow, ...] = Field(description="Halves within reach and live.")
    left: tuple[FindingRow, ...] = Field(description="What is left unfinished, and the ways out.")
    under_way: tuple[DeedRow, ...] = Field(
        description="Actions at work on hardware: neither done nor undone."
    )
    begun: tuple[BegunRow, ...] = Field(description="Steps begun and not over.")
    held: tuple[HeldRow, ...] = Field(description="Inhibits that must hold.")
    people: tuple[PersonRow, ...] = Field(description="Where everybody is.")
