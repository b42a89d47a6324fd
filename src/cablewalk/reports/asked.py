"""The report of ``cablewalk trace``: what was asked about one item, at one moment."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from cablewalk.reports.base import Part, Pet
from cablewalk.reports.heading import Report


class MomentRow(Part):
    """When it was asked: after a step."""

    phase: str = Field(description="Id of the step's procedure.")
    step: str = Field(description="Id of the step; all its actions are over.")
    at_min: float = Field(description="When the step ends.")
    at_pet: Pet = Field(description="That moment in phase elapsed time.")


class AskedRow(Part):
    """What was asked about."""

    of: str = Field(description="The id, as it was asked.")
    kind: str = Field(
        description="contact, terminal, half, leg, harness, segment, cap, cover, panel, unit, "
        "feed, switch, service or string."
    )
    item: str = Field(
        description="Id of the item: of a contact its half or cap, of a terminal or feed its unit; "
        "empty for a service or string."
    )
    label: str = Field(description="The item's label as marked; may be empty.")
    where: str = Field(description="Where to look for it; may be empty.")
    place: str | None = Field(description="Id of the place where it is; null: at none.")
    state: str = Field(description="How it stands; empty for what has no state.")
    why: str = Field(
        description="Why a service is taken to be down that all it needs is joined for: the "
        "baseline's dark_min; else empty."
    )
    obstacles: tuple[str, ...] = Field(
        description="Of a half, contact or leg: what must be done before it can be mated anew."
    )


class StopRow(Part):
    """Contacts and terminals that are joined for good, met on a way."""

    before: int | None = Field(
        description="Position (from 0) of the stop it is reached from; null for the first."
    )
    through: str = Field(
        description="The contact at the stop before, and its mate: 'P1.3 / J1.3'; empty for the "
        "first."
    )
    sure: bool = Field(
        description="False: only by a join that is part-engaged, not verified, or being worked on."
    )
    harnesses: tuple[str, ...] = Field(description="Ids of the harnesses it runs in.")
    contacts: tuple[str, ...] = Field(description="Its contacts. None are listed of structure.")
    terminals: tuple[str, ...] = Field(description="Its terminals.")
    structure: bool = Field(description="It is structure; a way ends there.")


class OpenRow(Part):
    """A contact on a way from which no electrical join goes on."""

    contact: str = Field(description="The contact.")
    state: str = Field(description="How its half stands: bare, capped, or mated and with what.")


class WayRow(Part):
    """Where one contact or terminal goes, through every joined pair."""

    of: str = Field(description="The contact or terminal.")
    stops: tuple[StopRow, ...] = Field(
        description="What it is joined to, itself first; empty: it joins nothing."
    )
    open_ends: tuple[OpenRow, ...] = Field(description="Its ends that nothing is joined to.")
    live_from: tuple[str, ...] = Field(description="Ids of the feeds that may make it live.")


class JoinRow(Part):
    """A mated pair a line runs over."""

    a: str = Field(description="Contact on the side the line comes from.")
    b: str = Field(description="Contact it is mated with.")


class LineRow(Part):
    """One line of a string, made now."""

    line: str = Field(description="What it joins: 'SRC.hi to HTR.hi'.")
    joins: tuple[JoinRow, ...] = Field(
        description="The pairs it runs over, from end to end; parallel ones all."
    )
    harnesses: tuple[str, ...] = Field(description="Ids of the harnesses it runs in.")
    segments: tuple[str, ...] = Field(description="Ids of the segments it runs in.")


class RiderRow(Part):
    """A string that needs the item now, up or not."""

    service: str = Field(description="Id of the service.")
    kind: str = Field(description="The service's kind.")
    state: str = Field(description="How the service stands.")
    string: str = Field(description="Id of the string; the service's id where it has but one.")
    standing: str = Field(description="up, available (a switch would bring it up) or down.")
    unproven: bool = Field(description="Up, but disturbed and not verified since.")
    how: Literal["runs over it", "is fed by it", "is selected by it", "is its own"] = Field(
        description="Why it needs the item."
    )
    lines: tuple[LineRow, ...] = Field(description="Its lines that do, where they are made.")
    feed: str | None = Field(description="Id of the feed that feeds it; null: none.")
    switches: tuple[str, ...] = Field(
        description="Ids of the switches it needs on: of that feed, and of the feeds behind it."
    )
    troubles: tuple[str, ...] = Field(description="Why it is not up; empty where it is.")


class StringLossRow(Part):
    """A string that would stand otherwise."""

    string: str = Field(description="Id of the string; the service's id where it has but one.")
    before: str = Field(description="up, available or down.")
    after: str = Field(description="The same, were the item lost.")


class ServiceLossRow(Part):
    """A service that would stand otherwise."""

    service: str = Field(description="Id of the service.")
    kind: str = Field(description="Its kind.")
    label: str = Field(description="Its label; may be empty.")
    verdict: Literal["down", "reduced", "loses a string", "comes up", "gains a string"] = Field(
        description="What it comes to; 'comes up' and 'gains a string': the item does harm."
    )
    before: str = Field(description="up, reduced or down.")
    after: str = Field(description="The same, were the item lost.")
    strings: tuple[StringLossRow, ...] = Field(description="Its strings that stand otherwise.")
    left: int = Field(description="Strings that would still be up.")
    need: int = Field(description="How many must be up.")


class LossRow(Part):
    """What would go if the item were demated, switched off or taken away; nothing was altered."""

    taken_as: tuple[str, ...] = Field(description="What the loss was taken to be.")
    services: tuple[ServiceLossRow, ...] = Field(description="The services it would touch.")


class MatchRow(Part):
    """A half that fits the one asked about, free or not."""

    half: str = Field(description="Id of the half.")
    label: str = Field(description="Its label; may be empty.")
    role: str = Field(description="fixed, free or parking.")
    place: str | None = Field(description="Id of the place where it is; null: at none.")
    here: bool = Field(description="At the same place as the half asked about.")
    state: str = Field(description="How it stands.")
    mated: bool = Field(description="With the half asked about, now.")
    obstacles: tuple[str, ...] = Field(description="What must be done on its side first.")


class SharedRow(Part):
    """Redundant strings of one service that would go together."""

    service: str = Field(description="Id of the service.")
    item: str = Field(description="What they share.")
    strings: tuple[str, ...] = Field(description="The strings that share it.")
    others: tuple[str, ...] = Field(description="The service's strings that do not.")
    need: int = Field(description="How many must be up.")
    defeats: bool = Field(description="Fewer strings than needed do not share it.")


class TraceReport(Report):
    """Where a contact goes, what rides on an item, and what losing it would do."""

    report: Literal["trace"] = Field(description="Which report this is.")
    at_step: MomentRow | None = Field(
        description="The step after which it was asked; null: the baseline as it is."
    )
    under_way: tuple[str, ...] = Field(
        description="Ids of items that other workers' actions are at work on at that moment; their "
        "joins are doubtful."
    )
    asked: AskedRow = Field(description="The item or contact asked about.")
    way: tuple[WayRow, ...] = Field(
        description="Where it goes: of a half, leg, cap or feed, each contact or terminal that is "
        "not on the way of one before."
    )
    riders: tuple[RiderRow, ...] = Field(description="The strings that ride on it.")
    would_lose: LossRow | None = Field(
        description="What losing it would do; null for a terminal, service or string."
    )
    can_mate: tuple[MatchRow, ...] = Field(description="Of a half, contact or leg: what fits it.")
    shared: tuple[SharedRow, ...] = Field(description="Redundant strings that share it.")
