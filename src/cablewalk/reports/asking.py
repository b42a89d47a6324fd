"""Building the report of ``cablewalk trace`` from an answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Literal

from cablewalk.continuity.services import State
from cablewalk.files.place import Source
from cablewalk.replay.standing import told
from cablewalk.replay.wiring import NONE, STATEFUL, STRUCTURE
from cablewalk.reports.asked import (
    AskedRow,
    JoinRow,
    LineRow,
    LossRow,
    MatchRow,
    MomentRow,
    OpenRow,
    RiderRow,
    ServiceLossRow,
    SharedRow,
    StopRow,
    StringLossRow,
    TraceReport,
    WayRow,
)
from cablewalk.reports.base import pet_at, procedure_id
from cablewalk.reports.cause import why_held
from cablewalk.reports.heading import heading
from cablewalk.reports.lesser import string_name
from cablewalk.timeline.account import Account, believed, held_at
from cablewalk.timeline.spells import Spell, start_s
from cablewalk.units import minutes
from cablewalk.walk.courses import Course
from cablewalk.walk.questions import Answer, Match, Shared, answer
from cablewalk.walk.riders import Rider
from cablewalk.walk.scene import Scene, Spot, scene_at
from cablewalk.walk.subject import Subject
from cablewalk.walk.ways import Stop, Way, feeds_behind, open_ends
from cablewalk.walk.what_if import Loss, ServiceLoss


def trace_report(
    account: Account, sources: Sequence[Source], subject: Subject, spot: Spot | None
) -> TraceReport:
    """Return the report about a subject when a step is over, or at the start for None."""
    scene = scene_at(account.ground.baseline, account.trace, spot)
    at_s = start_s(account.trace) if spot is None else spot.time_s
    scene.views = believed(account, scene.views, at_s)
    told_of = answer(scene, subject)
    rows = _Rows(account, scene, held_at(account, at_s))
    return TraceReport(
        **heading(account, sources),
        report="trace",
        at_step=None if spot is None else _moment(account, spot),
        under_way=tuple(scene.wiring.items[n].id for n in scene.under_way),
        asked=rows.asked(subject, told_of),
        way=tuple(rows.way(way) for way in told_of.ways),
        riders=tuple(rows.rider(rider) for rider in told_of.riders),
        would_lose=None if told_of.loss is None else rows.loss(told_of.loss),
        can_mate=tuple(rows.match(match) for match in told_of.matches),
        shared=tuple(rows.shared(row) for row in told_of.shared),
    )


def _moment(account: Account, spot: Spot) -> MomentRow:
    return MomentRow(
        phase=procedure_id(account.trace.phases[spot.phase]),
        step=spot.step,
        at_min=minutes(spot.time_s),
        at_pet=pet_at(account.trace, spot.time_s, spot.phase),
    )


class _Rows:
    """Turns numbers into names, for one scene."""

    def __init__(self, account: Account, scene: Scene, held: Mapping[int, Spell]) -> None:
        self.account = account
        self.held = held
        """Services held dark then, whatever the model has."""
        self.scene = scene
        self.config = scene.config
        self.wiring = scene.wiring

    def _id(self, item: int) -> str | None:
        return None if item == NONE else self.wiring.items[item].id

    def _string(self, string: int) -> str:
        return string_name(self.account, string)

    def asked(self, subject: Subject, told_of: Answer) -> AskedRow:
        """Return what was asked about; of a half or contact its leg's whereabouts count."""
        item, why = subject.item, ""
        if item == NONE:
            service = subject.number
            if subject.kind == "string":
                service = self.wiring.strings[service].service
            row = self.wiring.services[service]
            why = why_held(row.id, self.held[service]) if service in self.held else ""
            label, where, place, state = row.label, "", None, self.scene.views[service].words
        else:
            entry = self.wiring.items[item]
            label, where = entry.label, entry.where
            stateful = entry.kind in STATEFUL
            place = self._id(self.config.place_of(item)) if stateful else None
            state = told(self.config, item) if stateful else ""
            if subject.kind == "feed":
                state = "up" if self.scene.continuity.feed_up[subject.number] else "not up"
        return AskedRow(
            of=subject.text,
            kind=subject.kind,
            item=self._id(item) or "",
            label=label,
            where=where,
            place=place,
            state=state,
            why=why,
            obstacles=told_of.obstacles,
        )

    # -- ways -------------------------------------------------------------------------

    def way(self, way: Way) -> WayRow:
        """Return where a contact goes."""
        ends = open_ends(self.config, way)
        live = sorted({f for stop in way.stops[:1] for f in self.scene.live.of(stop.island)})
        return WayRow(
            of=way.name,
            stops=tuple(self._stop(stop) for stop in way.stops),
            open_ends=tuple(
                OpenRow(contact=self.wiring.contact(half, position), state=told(self.config, half))
                for half, position in ends
            ),
            live_from=tuple(self.wiring.feeds[f].id for f in live),
        )

    def _stop(self, stop: Stop) -> StopRow:
        wiring = self.wiring
        through = ""
        if stop.near is not None:
            near = wiring.contact(*stop.near)
            through = f"{near} / {wiring.contact(stop.far, stop.near[1])}"
        sites = () if stop.island == STRUCTURE else wiring.sites[stop.island]
        legs = [wiring.leg_of[half] for half, _ in sites if half in wiring.leg_of]
        return StopRow(
            before=stop.before,
            through=through,
            sure=stop.sure,
            harnesses=tuple(
                dict.fromkeys(wiring.items[wiring.items[leg].owner].id for leg in legs)
            ),
            contacts=tuple(wiring.contact(half, position) for half, position in sites),
            terminals=tuple(wiring.terminals[t].name for t in wiring.island_terminals[stop.island]),
            structure=stop.island == STRUCTURE,
        )

    # -- riders -----------------------------------------------------------------------

    def rider(self, rider: Rider) -> RiderRow:
        """Return a string that rides on what is asked about."""
        wiring = self.wiring
        number = wiring.strings[rider.string].service
        verdict = self.scene.continuity.verdicts[rider.string]
        feeds = feeds_behind(self.scene.continuity, verdict.feed) if verdict.feed != NONE else ()
        switches = (s for f in sorted(feeds) for s in wiring.feeds[f].switches)
        return RiderRow.model_validate(
            {
                "service": wiring.services[number].id,
                "kind": wiring.services[number].kind,
                "state": self.scene.views[number].words,
                "string": self._string(rider.string),
                "standing": str(verdict.standing),
                "unproven": rider.string in self.scene.views[number].unproven,
                "how": rider.how,
                "lines": tuple(self._line(course) for course in rider.courses),
                "feed": wiring.feeds[verdict.feed].id if verdict.feed != NONE else None,
                "switches": tuple(dict.fromkeys(wiring.items[s].id for s in switches)),
                "troubles": tuple(dict.fromkeys(t.text for t in verdict.troubles)),
            }
        )

    def _line(self, course: Course) -> LineRow:
        wiring = self.wiring
        return LineRow(
            line=course.line,
            joins=tuple(
                JoinRow(a=wiring.contact(a, position), b=wiring.contact(b, position))
                for step in course.joins
                for a, b, position in step
            ),
            harnesses=tuple(wiring.items[h].id for h in sorted(course.harnesses)),
            segments=tuple(wiring.items[s].id for s in sorted(course.segments)),
        )

    # -- losses -----------------------------------------------------------------------

    def loss(self, loss: Loss) -> LossRow:
        """Return what a loss would do, the gravest first."""
        known = (self._held(row) for row in loss.services)
        rows = sorted(
            (row for row in known if row.strings or row.before is not row.after),
            key=lambda row: (row.after, row.service),
        )
        return LossRow(
            taken_as=tuple(loss.taken_as), services=tuple(self._service(row) for row in rows)
        )

    def _held(self, row: ServiceLoss) -> ServiceLoss:
        """Return the loss as it is where the service is held dark: it is down before and after."""
        if row.service not in self.held:
            return row
        return replace(row, before=State.DOWN, after=State.DOWN)

    def _service(self, row: ServiceLoss) -> ServiceLossRow:
        service = self.wiring.services[row.service]
        change = {string: after for string, _, after in row.strings}
        verdicts = self.scene.continuity.verdicts
        after = [str(change.get(s, verdicts[s].standing)) for s in service.strings]
        return ServiceLossRow(
            service=service.id,
            kind=service.kind,
            label=service.label,
            verdict=_verdict(row),
            before=str(row.before),
            after=str(row.after),
            strings=tuple(
                StringLossRow(string=self._string(s), before=str(was), after=str(is_))
                for s, was, is_ in row.strings
            ),
            left=after.count("up"),
            need=service.need,
        )

    # -- mates and what is shared -----------------------------------------------------

    def match(self, match: Match) -> MatchRow:
        """Return a half that fits."""
        entry = self.wiring.items[match.half]
        return MatchRow(
            half=entry.id,
            label=entry.label,
            role=entry.role,
            place=self._id(match.place),
            here=match.here,
            state=told(self.config, match.half),
            mated=match.mated,
            obstacles=match.obstacles,
        )

    def shared(self, row: Shared) -> SharedRow:
        """Return redundant strings that would go together."""
        service = self.wiring.services[row.service]
        return SharedRow(
            service=service.id,
            item=row.item,
            strings=tuple(self._string(s) for s in row.strings),
            others=tuple(self._string(s) for s in row.others),
            need=service.need,
            defeats=len(row.others) < service.need,
        )


def _verdict(
    row: ServiceLoss,
) -> Literal["down", "reduced", "loses a string", "comes up", "gains a string"]:
    """Return the one word for what a service comes to."""
    if row.after > row.before:
        return "comes up"
    if row.after < row.before:
        return "down" if row.after is State.DOWN else "reduced"
    return "loses a string" if any(a < b for _, b, a in row.strings) else "gains a string"
